package desk

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"rowbell/store"
)

func (d *Desk) loginRoutes() []route {
	return []route{
		{"GET /desk/login", public, nil, d.loginPage},
		{"POST /desk/login", public, nil, d.login},
		{"POST /desk/logout", see, nil, d.logout},
		{"GET /desk/join/{token}", public, nil, d.joinPage},
		{"POST /desk/join/{token}", public, nil, d.join},
	}
}

// overHTTP reports whether the browser is reached by plain HTTP from another machine. Then it drops the cookie, which
// is Secure.
func (r *request) overHTTP() bool {
	host, _, _ := strings.Cut(r.Host, ":")
	local := host == "localhost" || strings.HasPrefix(host, "127.") || strings.HasPrefix(r.Host, "[::1]")
	return r.TLS == nil && r.Header.Get("X-Forwarded-Proto") != "https" && !local
}

type loginView struct {
	To    string
	Plain bool          // see overHTTP
	Staff []store.Staff // who can be entered without a password, see Options.Practice
}

func (r *request) loginView(to string) (loginView, error) {
	list, err := r.practiceStaff()
	return loginView{to, r.overHTTP(), list}, err
}

func (d *Desk) loginPage(r *request) error {
	if r.staff.ID != 0 {
		return r.redirect(inside(r.FormValue("to"), "/desk/"))
	}
	v, err := r.loginView(inside(r.FormValue("to"), ""))
	if err != nil {
		return err
	}
	return r.page("login", "Log in", v)
}

func (d *Desk) login(r *request) error {
	name, to := r.form.text("name"), inside(r.form.Get("to"), "")
	again := func(status int, field, mistake string) error {
		r.form.wrong(field, mistake)
		v, err := r.loginView(to)
		if err != nil {
			return err
		}
		return r.answer(status, "login", "Log in", v)
	}
	s, wait, err := d.checkPassword(r, name, r.form.Get("password"))
	switch {
	case err != nil:
		return err
	case wait > 0:
		r.w.Header().Set("Retry-After", fmt.Sprint(int(wait.Seconds())))
		return again(http.StatusTooManyRequests, "password", "There were too many wrong passwords. Wait "+
			waitWords(wait)+", then try again. If you forgot it, ask an operator for a new link.")
	case s.ID == 0:
		return again(http.StatusUnprocessableEntity, "password",
			"Name and password do not belong together. Check both, also the capital letters.")
	}
	if err := d.logIn(r, s); err != nil {
		return err
	}
	return r.redirect(inside(to, "/desk/"))
}

// waitWords says how long a wait is, rounded up.
func waitWords(wait time.Duration) string {
	if wait <= time.Minute {
		return plural(int((wait+time.Second-1)/time.Second), "second", "seconds")
	}
	return plural(int((wait+time.Minute-1)/time.Minute), "minute", "minutes")
}

// checkPassword returns the account with this name and password; the zero value if there is none. If wait is above
// zero, no password was checked.
func (d *Desk) checkPassword(r *request, name, password string) (s store.Staff, wait time.Duration, err error) {
	s, wait, err = d.countTry(r, name)
	if err != nil || wait > 0 {
		return store.Staff{}, wait, err
	}
	right, err := d.matches(password, s.Password)
	if err != nil || !right {
		return store.Staff{}, 0, err
	}
	return s, 0, r.write(func(tx *store.Tx) error { return tx.WrongPasswords(s.ID, 0, 0) })
}

// countTry counts a password as wrong before it is checked, so that guesses that come at once wait as those in a row
// do. It returns the account with this name; if wait is above zero, nothing was counted and no password may be checked.
// Of a name that no account has, the account has no id and no password.
func (d *Desk) countTry(r *request, name string) (s store.Staff, wait time.Duration, err error) {
	known := false
	err = r.write(func(tx *store.Tx) error {
		if s, known, err = tx.StaffToLogIn(name); err != nil || !known {
			return err
		}
		wrong, until, left := afterTry(s, r.now)
		if wait = left; wait > 0 {
			return nil
		}
		return tx.WrongPasswords(s.ID, wrong, until)
	})
	if err == nil && !known {
		wait = d.unknown.count(name, r.now)
	}
	return s, wait, err
}

// logIn begins a new session, so that a token from before the log-in is worth nothing.
func (d *Desk) logIn(r *request, s store.Staff) error {
	if err := d.sessions.RenewToken(r.Context()); err != nil {
		return err
	}
	d.sessions.Put(r.Context(), keyStaff, s.ID)
	return nil
}

func (d *Desk) logout(r *request) error {
	if err := d.sessions.Destroy(r.Context()); err != nil {
		return err
	}
	return r.redirect("/desk/login")
}

// joinView is a page on which somebody sets a password.
type joinView struct {
	Name  string // of the account; "" if the first operator chooses it
	Plain bool
}

// invited returns the account whose password the link in the path sets, and the zero value for the first operator.
func (d *Desk) invited(r *request) (s store.Staff, ok bool, err error) {
	err = r.view(func(tx *store.Tx) error {
		id, valid, err := tx.Link(r.PathValue("token"), r.now.Unix())
		ok = valid
		if err != nil || !valid || id == 0 {
			return err
		}
		s, ok, err = tx.StaffByID(id)
		return err
	})
	return s, ok, err
}

func (r *request) linkOver() error {
	return r.failed(http.StatusNotFound, "This link is over",
		"It was used, or it is older than two days, or a newer one was made. Ask an operator for a new one.")
}

func (d *Desk) joinPage(r *request) error {
	s, ok, err := d.invited(r)
	if err != nil {
		return err
	}
	if !ok {
		return r.linkOver()
	}
	return r.page("join", "Choose a password", joinView{s.Name, r.overHTTP()})
}

// errTwice means that a link was used a second time meanwhile.
var errTwice = errors.New("desk: the link was used")

func (d *Desk) join(r *request) error {
	s, ok, err := d.invited(r)
	if err != nil {
		return err
	}
	if !ok {
		return r.linkOver()
	}
	first := s.ID == 0
	if first {
		s = store.Staff{Name: r.form.text("name"), Role: store.RoleOperator}
		if s.Name == "" {
			r.form.wrong("name", "Write the name with which you will log in.")
		}
	}
	checkNewPassword(r.form, s.Name)
	if !r.form.ok() {
		return r.again("join", "Choose a password", joinView{name(s, first), r.overHTTP()})
	}
	hash, err := d.hash(r.form.Get("password"))
	if err != nil {
		return err
	}
	err = r.write(func(tx *store.Tx) error {
		fresh, err := tx.UseLink(r.PathValue("token"))
		if err == nil && !fresh {
			err = errTwice
		}
		if err == nil && first {
			s.ID, err = tx.AddStaff(s, r.now.Unix())
		}
		if err == nil {
			err = tx.SetPassword(s.ID, hash)
		}
		if err != nil {
			return err
		}
		return tx.Trail(store.TrailEntry{At: r.now.Unix(), StaffID: s.ID, Who: s.Name, What: "set a password",
			Object: "account " + s.Name})
	})
	switch {
	case errors.Is(err, errTwice):
		return r.linkOver()
	case errors.Is(err, store.ErrStaffName):
		r.form.wrong("name", "This name is taken.")
		return r.again("join", "Choose a password", joinView{name(s, first), r.overHTTP()})
	case err != nil:
		return err
	}
	if err := d.logIn(r, s); err != nil {
		return err
	}
	return r.to("/desk/", "Welcome, "+s.Name+".")
}

func name(s store.Staff, first bool) string {
	if first {
		return ""
	}
	return s.Name
}

// checkNewPassword checks the fields password and again.
func checkNewPassword(f *form, name string) {
	if mistake := passwordMistake(f.Get("password"), name); mistake != "" {
		f.wrong("password", mistake)
	} else if f.Get("password") != f.Get("again") {
		f.wrong("again", "This is not the same as above.")
	}
}
