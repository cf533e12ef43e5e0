package desk

import (
	"net/http"

	"rowbell/store"
)

// practiceRoutes are the routes that a desk has in practice only, where all people are invented and the clock is moved
// by hand. There nobody needs a password.
func (d *Desk) practiceRoutes() []route {
	if !d.o.Practice {
		return nil
	}
	return []route{
		{"POST /desk/practice/enter", public, nil, d.enter},
		{"GET /desk/practice/events", public, nil, d.practiceEvents},
	}
}

// enter logs in with an account that the form names.
func (d *Desk) enter(r *request) error {
	var s store.Staff
	var known bool
	if err := r.view(func(tx *store.Tx) (err error) {
		s, known, err = tx.StaffByName(r.form.text("name"))
		return err
	}); err != nil {
		return err
	}
	if !known {
		return r.failed(http.StatusNotFound, "Nobody has this name", "Go back to the practice phones, and try again.")
	}
	if err := d.logIn(r, s); err != nil {
		return err
	}
	return r.redirect(inside(r.form.Get("to"), "/desk/"))
}

// practiceEvents are the events of all places, for the page of the practice phones.
func (d *Desk) practiceEvents(r *request) error {
	if err := r.view(func(tx *store.Tx) (err error) {
		if r.scope, err = tx.Scope(store.Staff{Role: store.RoleOperator}); err == nil {
			r.places, err = tx.Places()
		}
		return err
	}); err != nil {
		return err
	}
	r.staff = store.Staff{}
	return d.events(r)
}

// practiceStaff returns the accounts that can be entered without a password: none except in practice.
func (r *request) practiceStaff() (list []store.Staff, err error) {
	if !r.d.o.Practice {
		return nil, nil
	}
	err = r.view(func(tx *store.Tx) (err error) {
		list, err = tx.StaffList()
		return err
	})
	return list, err
}
