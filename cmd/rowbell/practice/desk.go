package practice

import (
	"context"
	"errors"
	"net/http"

	"rowbell/store"
)

// The staff of the practice valley. They are called by their trades.
const (
	fieldWorker = "potter"
	operator    = "miller"
	viewer      = "weaver"
)

// addStaff adds the accounts of the practice valley that are not there. They have no passwords: everybody may enter.
func (r *room) addStaff(ctx context.Context) error {
	return r.service.Store().InTx(ctx, func(tx *store.Tx) error {
		place, _, err := tx.PlaceByName(store.DefaultPlace)
		if err != nil {
			return err
		}
		for _, s := range []store.Staff{
			{Name: fieldWorker, Role: store.RoleFieldWorker, Places: store.Scope{place.ID}},
			{Name: operator, Role: store.RoleOperator},
			{Name: viewer, Role: store.RoleViewer, Places: store.Scope{place.ID}},
		} {
			if _, err := tx.AddStaff(s, r.clock.Now().Unix()); err != nil && !errors.Is(err, store.ErrStaffName) {
				return err
			}
		}
		return nil
	})
}

// serveDesk passes a request to the desk. It holds no lock meanwhile, because a stream of events lasts until it is
// ended, and BeginAgain ends it.
func (r *room) serveDesk(w http.ResponseWriter, req *http.Request) {
	r.mu.RLock()
	h := r.service.Handler()
	r.mu.RUnlock()
	h.ServeHTTP(w, req)
}

// settle sends the texts that are due, and tells the browsers at the desk.
func (r *room) settle(ctx context.Context) error {
	err := r.service.Settle(ctx)
	r.service.DeskChanged()
	return err
}

// deskSession is a session of somebody at the desk, with the name of the account.
type deskSession struct {
	name string
	store.StaffSession
}

// deskSessions returns the sessions of all accounts.
func (r *room) deskSessions(ctx context.Context) (all []deskSession, err error) {
	now := r.clock.Now().Unix()
	err = r.service.Store().View(ctx, func(tx *store.Tx) error {
		staff, err := tx.StaffList()
		if err != nil {
			return err
		}
		for _, s := range staff {
			list, err := tx.StaffSessions(s.ID, now)
			if err != nil {
				return err
			}
			for _, one := range list {
				whole, found, err := tx.StaffSession(one.Hash, now)
				if err != nil {
					return err
				}
				if found {
					all = append(all, deskSession{s.Name, whole})
				}
			}
		}
		return nil
	})
	return all, err
}

// keepSessions stores the sessions of accounts that are in the new records too, under the same id, which is in the data
// of a session.
func (r *room) keepSessions(ctx context.Context, all []deskSession) error {
	return r.service.Store().InTx(ctx, func(tx *store.Tx) error {
		for _, s := range all {
			account, known, err := tx.StaffByName(s.name)
			if err != nil {
				return err
			}
			if !known || account.ID != s.StaffID {
				continue
			}
			if err := tx.PutStaffSession(s.StaffSession); err != nil {
				return err
			}
		}
		return nil
	})
}
