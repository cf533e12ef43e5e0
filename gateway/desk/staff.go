package desk

import (
	"errors"
	"regexp"
	"strings"

	"rowbell/store"
)

func (d *Desk) staffRoutes() []route {
	return []route{
		{"GET /desk/staff", run, nil, d.staffPage},
		{"POST /desk/staff", run, nil, d.addStaff},
		{"GET /desk/staff/{staff}", run, staffInPath, d.accountPage},
		{"POST /desk/staff/{staff}", run, staffInPath, d.setStaff},
		{"POST /desk/staff/{staff}/link", run, staffInPath, d.newLink},
		{"POST /desk/staff/{staff}/sessions", run, staffInPath, d.endAccountSessions},
		{"POST /desk/staff/{staff}/end", run, staffInPath, d.endStaff},
	}
}

type staffView struct {
	List         []staffLine
	Role, Places field
}

type staffLine struct {
	store.Staff
	PlaceNames string
	Locked     bool
}

func (r *request) roleField() field {
	return r.form.Choice("role", "Role", "What this person may do.", store.RoleViewer.String(),
		"viewer: sees counts and masked numbers", store.RoleFieldWorker.String(),
		"field worker: looks after the growers of some places", store.RoleOperator.String(),
		"operator: may do everything, at all places")
}

// placesField lets the operator choose any number of places.
func (r *request) placesField() field {
	var pairs []string
	for _, p := range r.places {
		pairs = append(pairs, p.Name, p.Name)
	}
	return r.form.Choice("place", "Places", "Whose growers this person sees. An operator sees all.", pairs...)
}

func (r *request) placeNames(s store.Staff) string {
	if s.Role == store.RoleOperator {
		return "all places"
	}
	var names []string
	for _, p := range r.places {
		if s.Places.Has(p.ID) {
			names = append(names, p.Name)
		}
	}
	return strings.Join(names, ", ")
}

func (d *Desk) staffList(r *request) (v staffView, err error) {
	err = r.view(func(tx *store.Tx) error {
		list, err := tx.StaffList()
		for _, s := range list {
			v.List = append(v.List, staffLine{s, r.placeNames(s), s.LockedUntil > r.now.Unix()})
		}
		return err
	})
	v.Role, v.Places = r.roleField(), r.placesField()
	return v, err
}

func (d *Desk) staffPage(r *request) error {
	r.form = filled("role", store.RoleFieldWorker.String())
	v, err := d.staffList(r)
	if err != nil {
		return err
	}
	return r.page("staff", "Staff", v)
}

// internationalNumber matches a number in the form of E.164.
var internationalNumber = regexp.MustCompile(`^\+[1-9]\d{6,14}$`)

// readStaff reads role, places and phone of an account from the form.
func (r *request) readStaff(s store.Staff) store.Staff {
	role, err := store.ParseRole(r.form.Get("role"))
	if err != nil {
		r.form.wrong("role", "Choose a role.")
	}
	s.Role, s.Places = role, nil
	for _, p := range r.places {
		if r.form.has("place", p.Name) {
			s.Places = append(s.Places, p.ID)
		}
	}
	if role != store.RoleOperator && len(s.Places) == 0 {
		r.form.wrong("place", "Choose at least one place.")
	}
	phone := strings.NewReplacer(" ", "", "-", "").Replace(r.form.text("phone"))
	if phone != "" && !internationalNumber.MatchString(phone) {
		r.form.wrong("phone", "Write the number with + and the code of the country, such as +447700900123.")
	}
	s.Phone = store.Phone(phone)
	return s
}

func (d *Desk) addStaff(r *request) error {
	s := r.readStaff(store.Staff{Name: r.form.text("name")})
	if s.Name == "" || strings.HasPrefix(s.Name, "#") || len(s.Name) > 60 {
		r.form.wrong("name", "Write a name of at most 60 letters that does not begin with #.")
	}
	var token string
	if r.form.ok() {
		err := r.write(func(tx *store.Tx) (err error) {
			if s.ID, err = tx.AddStaff(s, r.now.Unix()); err != nil {
				return err
			}
			if token, err = tx.AddLink(s.ID, r.now.Unix()); err != nil {
				return err
			}
			return tx.Trail(r.entry("added an account", "account "+s.Name, "", r.describe(s)))
		})
		if errors.Is(err, store.ErrStaffName) {
			r.form.wrong("name", "This name is taken.")
		} else if err != nil {
			return err
		}
	}
	if !r.form.ok() {
		v, err := d.staffList(r)
		if err != nil {
			return err
		}
		return r.again("staff", "Staff", v)
	}
	r.account = s
	return r.showLink(token)
}

// describe says in words what an account may do.
func (r *request) describe(s store.Staff) string {
	words := s.Role.String() + ", " + r.placeNames(s)
	if s.Phone != "" {
		words += ", with a phone"
	}
	return words
}

// linkView shows a link once: only its hash is stored.
type linkView struct {
	Account store.Staff
	Link    string
}

func (r *request) showLink(token string) error {
	return r.page("link", "A link for "+r.account.Name, linkView{r.account, r.address() + "/desk/join/" + token})
}

// address returns the address under which staff reach the service: that of the configuration, otherwise the one that
// this request was sent to.
func (r *request) address() string {
	switch {
	case r.d.o.Address != "":
		return r.d.o.Address
	case r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https":
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

type accountView struct {
	Account      store.Staff
	Role, Places field
	Sessions     []store.StaffSession
	Locked       bool
	Own          bool
}

func (d *Desk) accountData(r *request) (v accountView, err error) {
	v = accountView{Account: r.account, Locked: r.account.LockedUntil > r.now.Unix(), Own: r.account.ID == r.staff.ID}
	err = r.view(func(tx *store.Tx) (err error) {
		v.Sessions, err = tx.StaffSessions(r.account.ID, r.now.Unix())
		return err
	})
	v.Role, v.Places = r.roleField(), r.placesField()
	return v, err
}

func (d *Desk) accountPage(r *request) error {
	r.form = filled("role", r.account.Role.String(), "phone", r.account.Phone.E164())
	for _, p := range r.places {
		if r.account.Places.Has(p.ID) {
			r.form.Add("place", p.Name)
		}
	}
	v, err := d.accountData(r)
	if err != nil {
		return err
	}
	return r.page("account", r.account.Name, v)
}

func (d *Desk) setStaff(r *request) error {
	s := r.readStaff(r.account)
	return d.changeAccount(r, "role", s.Name+" was changed.", func(tx *store.Tx) error {
		if err := tx.SetStaff(s); err != nil {
			return err
		}
		return tx.Trail(r.entry("changed an account", "account "+s.Name, r.describe(r.account), r.describe(s)))
	})
}

// changeAccount makes a change, unless the form has mistakes, and shows a note; otherwise it shows the form again. The
// field is where it says that the last operator stays one.
func (d *Desk) changeAccount(r *request, field, note string, change func(*store.Tx) error) error {
	if r.form.ok() {
		err := r.write(change)
		switch {
		case err == nil:
			return r.to("/desk/staff", note)
		case !errors.Is(err, store.ErrLastOperator):
			return err
		}
		r.form.wrong(field, "This is the last operator. Make somebody else an operator first.")
	}
	v, err := d.accountData(r)
	if err != nil {
		return err
	}
	return r.again("account", r.account.Name, v)
}

func (d *Desk) newLink(r *request) error {
	var token string
	if err := r.write(func(tx *store.Tx) (err error) {
		if token, err = tx.AddLink(r.account.ID, r.now.Unix()); err != nil {
			return err
		}
		return tx.Trail(r.entry("made a link for a new password", "account "+r.account.Name, "", ""))
	}); err != nil {
		return err
	}
	return r.showLink(token)
}

func (d *Desk) endAccountSessions(r *request) error {
	if err := r.write(func(tx *store.Tx) error {
		if err := tx.EndSessions(r.account.ID, d.here(r)); err != nil {
			return err
		}
		return tx.Trail(r.entry("ended the sessions", "account "+r.account.Name, "", ""))
	}); err != nil {
		return err
	}
	return r.to("/desk/staff", "The sessions of "+r.account.Name+" were ended.")
}

func (d *Desk) endStaff(r *request) error {
	if r.form.text("name") != r.account.Name {
		r.form.wrong("name", "Type the name of the account, so that no other one is ended by mistake.")
	}
	return d.changeAccount(r, "name", "The account "+r.account.Name+" was ended.", func(tx *store.Tx) error {
		if err := tx.EndStaff(r.account.ID, r.now.Unix()); err != nil {
			return err
		}
		return tx.Trail(r.entry("ended an account", "account "+r.account.Name, r.describe(r.account), ""))
	})
}
