package desk

import (
	"net/http"

	"rowbell/store"
)

func (d *Desk) selfRoutes() []route {
	return []route{
		{"GET /desk/me", see, nil, d.selfPage},
		{"POST /desk/me/password", see, nil, d.changePassword},
		{"POST /desk/me/sessions", see, nil, d.endOthers},
		{"POST /desk/me/session/{hash}", see, nil, d.endSession},
	}
}

type selfView struct {
	Sessions []sessionLine
	Places   []string
}

type sessionLine struct {
	store.StaffSession
	Here bool // this session
}

func (d *Desk) self(r *request) (v selfView, err error) {
	here := d.here(r)
	for _, p := range r.places {
		v.Places = append(v.Places, p.Name)
	}
	return v, r.view(func(tx *store.Tx) error {
		list, err := tx.StaffSessions(r.staff.ID, r.now.Unix())
		for _, s := range list {
			v.Sessions = append(v.Sessions, sessionLine{s, s.Hash == here})
		}
		return err
	})
}

// here returns the hash of the session of a request.
func (d *Desk) here(r *request) string { return hashOf(d.sessions.Token(r.Context())) }

func (d *Desk) selfPage(r *request) error {
	v, err := d.self(r)
	if err != nil {
		return err
	}
	return r.page("self", "You", v)
}

func (d *Desk) changePassword(r *request) error {
	right, err := d.matches(r.form.Get("old"), r.staff.Password)
	if err != nil {
		return err
	}
	if !right {
		r.form.wrong("old", "This is not your present password.")
	}
	checkNewPassword(r.form, r.staff.Name)
	if !r.form.ok() {
		v, err := d.self(r)
		if err != nil {
			return err
		}
		return r.answer(http.StatusUnprocessableEntity, "self", "You", v)
	}
	hash, err := d.hash(r.form.Get("password"))
	if err != nil {
		return err
	}
	if err := r.write(func(tx *store.Tx) error {
		if err := tx.SetPassword(r.staff.ID, hash); err != nil { // ends all sessions, also this one
			return err
		}
		return tx.Trail(r.entry("changed the password", "account "+r.staff.Name, "", ""))
	}); err != nil {
		return err
	}
	if err := d.logIn(r, r.staff); err != nil {
		return err
	}
	return r.to("/desk/me", "Your password was changed. All other sessions were ended.")
}

func (d *Desk) endOthers(r *request) error {
	if err := r.write(func(tx *store.Tx) error { return tx.EndSessions(r.staff.ID, d.here(r)) }); err != nil {
		return err
	}
	return r.to("/desk/me", "All other sessions were ended.")
}

// endSession ends one of the caller's sessions.
func (d *Desk) endSession(r *request) error {
	hash, own := r.PathValue("hash"), false
	err := r.write(func(tx *store.Tx) error {
		own = false
		list, err := tx.StaffSessions(r.staff.ID, r.now.Unix())
		for _, s := range list {
			own = own || s.Hash == hash
		}
		if err != nil || !own {
			return err
		}
		return tx.EndStaffSession(hash)
	})
	switch {
	case err != nil:
		return err
	case !own:
		return errNotFound
	case hash == d.here(r):
		return d.logout(r)
	}
	return r.to("/desk/me", "The session was ended.")
}
