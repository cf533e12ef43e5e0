package desk

import (
	"errors"
	"net/http"
	"slices"
	"strconv"

	"rowbell/store"
)

// right is what a route lets its caller do.
type right int

const (
	public right = iota // without an account
	see                 // counts, and lists with masked numbers
	call                // full numbers, names, and what growers wrote and were told
	change              // what is stored about growers
	write               // texts to many growers
	run                 // networks, texts, places, accounts, the whole trail
)

var rightNames = [...]string{"public", "see", "call", "change", "write", "run"}

func (r right) String() string { return rightNames[r] }

// rightsOf lists what each role may do.
var rightsOf = map[store.Role][]right{
	store.RoleViewer:      {public, see},
	store.RoleFieldWorker: {public, see, call, change, write},
	store.RoleOperator:    {public, see, call, change, write, run},
}

// route is a page or an action of the desk, with who may use it. Nothing else checks that.
type route struct {
	pattern string // of http.ServeMux
	right   right
	object  object // what the path names; nil: nothing
	serve   func(*request) error
}

// object loads what a path names into a request. It returns errNotFound if there is no such thing, or it belongs to a
// place that is not in the scope of the caller: nobody learns that it exists.
type object func(*request) error

// authorize checks whether the caller may use a route, and loads what its path names. It is the only such check.
func (rt route) authorize(r *request) error {
	if rt.right == public {
		return nil
	}
	if r.staff.ID == 0 {
		return errLogIn
	}
	if !r.may(rt.right) {
		return errForbidden
	}
	if rt.object == nil {
		return nil
	}
	return rt.object(r)
}

// may reports whether the caller has a right.
func (r *request) may(what right) bool {
	return what == public || slices.Contains(rightsOf[r.staff.Role], what)
}

// idInPath returns the id that the path has under a name.
func (r *request) idInPath(name string) (int64, error) {
	id, err := strconv.ParseInt(r.PathValue(name), 10, 64)
	if err != nil || id <= 0 {
		return 0, errNotFound
	}
	return id, nil
}

// placeInPath loads the place whose id is {place}.
func placeInPath(r *request) error {
	id, err := r.idInPath("place")
	if err != nil {
		return err
	}
	i := slices.IndexFunc(r.places, func(p store.Place) bool { return p.ID == id })
	if i < 0 {
		return errNotFound
	}
	r.place = r.places[i]
	return nil
}

// growerInPath loads the grower whose id is {grower}.
func growerInPath(r *request) error {
	id, err := r.idInPath("grower")
	if err != nil {
		return err
	}
	return r.view(func(tx *store.Tx) error { return r.loadGrower(tx, id) })
}

func (r *request) loadGrower(tx *store.Tx, id int64) error {
	list, err := tx.GrowerLines([]int64{id}, r.now.Unix())
	if err != nil {
		return err
	}
	if len(list) == 0 || !r.scope.Has(list[0].PlaceID) {
		return errNotFound
	}
	r.grower = list[0]
	return nil
}

// plotInPath loads the plot whose id is {plot}, and its grower.
func plotInPath(r *request) error {
	id, err := r.idInPath("plot")
	if err != nil {
		return err
	}
	return r.view(func(tx *store.Tx) error {
		grower, place, err := tx.PlaceOfPlot(id)
		switch {
		case errors.Is(err, store.ErrNoPlot):
			return errNotFound
		case err != nil:
			return err
		case !r.scope.Has(place):
			return errNotFound
		}
		if err := r.loadGrower(tx, grower); err != nil {
			return err
		}
		r.plot, err = tx.PlotSheet(id)
		return err
	})
}

// circleInPath loads the circle whose id is {circle}.
func circleInPath(r *request) error {
	id, err := r.idInPath("circle")
	if err != nil {
		return err
	}
	var known bool
	err = r.view(func(tx *store.Tx) (err error) {
		r.circle, known, err = tx.CircleSheet(r.scope, id, r.now.Unix())
		return err
	})
	if err == nil && !known {
		err = errNotFound
	}
	return err
}

// letterInPath loads the letter whose id is {letter}. All of its places must be in the scope of the caller.
func letterInPath(r *request) error {
	id, err := r.idInPath("letter")
	if err != nil {
		return err
	}
	var known bool
	err = r.view(func(tx *store.Tx) (err error) {
		r.letter, known, err = tx.LetterByID(id)
		return err
	})
	out := func(place int64) bool { return !r.scope.Has(place) }
	if err == nil && (!known || slices.ContainsFunc(r.letter.Filter.Places, out)) {
		err = errNotFound
	}
	return err
}

// staffInPath loads the account whose id is {staff}.
func staffInPath(r *request) error {
	id, err := r.idInPath("staff")
	if err != nil {
		return err
	}
	var known bool
	err = r.view(func(tx *store.Tx) (err error) {
		r.account, known, err = tx.StaffByID(id)
		return err
	})
	if err == nil && !known {
		err = errNotFound
	}
	return err
}

// number returns a phone number in full for those who may call, otherwise masked.
func (r *request) number(p store.Phone) string {
	if p == "" {
		return "no number"
	}
	if r.may(call) {
		return p.E164()
	}
	return p.String()
}

// deny answers a request that authorize refused.
func (r *request) deny(err error) error {
	switch {
	case err == errForbidden:
		return r.failed(http.StatusForbidden, "Not with your role",
			"Your role is "+r.staff.Role.String()+", which may not do this. An operator can change your role.")
	case err == errLogIn && (r.Method == http.MethodGet || r.Method == http.MethodHead):
		return r.redirect("/desk/login?to=" + escapePath(r.URL.RequestURI()))
	case err == errLogIn:
		return r.failed(http.StatusUnauthorized, "Log in first",
			"Your session has ended, and nothing was changed. Log in, and do it again.")
	}
	return err
}
