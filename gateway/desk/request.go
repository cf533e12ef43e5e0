package desk

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"time"

	"rowbell/store"
)

var (
	errNotFound  = errors.New("desk: not found")
	errForbidden = errors.New("desk: forbidden")
	errLogIn     = errors.New("desk: not logged in")
)

// request is a request of somebody who uses the desk. The fields from place on are what the path names.
type request struct {
	*http.Request
	w      http.ResponseWriter
	d      *Desk
	now    time.Time
	staff  store.Staff // the zero value before log-in
	scope  store.Scope
	places []store.Place // of the scope, ordered by name
	form   *form         // what was posted; empty for other requests
	done   bool          // the answer has begun

	place   store.Place
	grower  store.GrowerLine
	plot    store.PlotSheet // of grower
	account store.Staff
	upload  upload
	circle  store.CircleSheet
	watched store.Watched
	letter  store.Letter
	text    textOf
}

// maxForm is how long a posted form may be, in octets. Routes that take a file set their own limit in maxBody.
const maxForm = 1 << 16

// maxBody lists the routes with longer bodies.
var maxBody = map[string]int64{
	"POST /desk/place/{place}/weather": maxWeatherFile + maxForm,
	"POST /desk/networks/read":         maxRecorded,
}

// serve returns the handler of a route.
func (d *Desk) serve(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, hr *http.Request) {
		limit := max(maxForm, maxBody[rt.pattern])
		hr.Body = http.MaxBytesReader(w, hr.Body, limit)
		r := &request{Request: hr, w: w, d: d, now: d.now(), form: newForm(nil)}
		err := r.open()
		if err == nil {
			if err = rt.authorize(r); err != nil {
				err = r.deny(err)
			} else {
				err = rt.serve(r)
			}
		}
		r.finish(err)
	})
}

// open finds out who asks, and reads a posted form.
func (r *request) open() error {
	if err := r.authenticate(); err != nil {
		return err
	}
	if r.Method != http.MethodPost {
		return nil
	}
	// A file that comes stays in memory: it holds people's data, which must not stand in a temporary folder.
	err := r.ParseMultipartForm(max(maxForm, maxBody[r.Pattern]))
	if errors.Is(err, http.ErrNotMultipart) {
		err = r.ParseForm()
	}
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		return r.failed(http.StatusRequestEntityTooLarge, "Too long", "What you sent is too long. Nothing was changed.")
	case err != nil:
		return r.notUnderstood()
	}
	r.form = newForm(r.PostForm)
	return nil
}

// notUnderstood answers a form that the desk's own pages do not send, such as one without a field that decides.
func (r *request) notUnderstood() error {
	return r.failed(http.StatusBadRequest, "Not understood", "The form could not be read. Nothing was changed.")
}

// authenticate loads the account of the session with the places that it may see.
func (r *request) authenticate() error {
	id := r.d.sessions.GetInt64(r.Context(), keyStaff)
	if id == 0 {
		return nil
	}
	return r.view(func(tx *store.Tx) error {
		s, known, err := tx.StaffByID(id)
		if err != nil || !known {
			return err
		}
		scope, err := tx.Scope(s)
		if err != nil {
			return err
		}
		all, err := tx.Places()
		r.places = slices.DeleteFunc(all, func(p store.Place) bool { return !scope.Has(p.ID) })
		r.staff, r.scope = s, scope
		return err
	})
}

// finish answers a request whose handler returned an error.
func (r *request) finish(err error) {
	switch {
	case err == nil || r.done:
	case errors.Is(err, errNotFound):
		err = r.failed(http.StatusNotFound, "Nothing here",
			"There is no such page, or what it was about is gone, or it belongs to a place that is not yours.")
	case errors.Is(err, context.Canceled):
	case store.Unavailable(err):
		r.d.o.Log.Error().Err(err).Str("page", r.Pattern).Msg("desk: the records could not be reached")
		err = r.failed(http.StatusServiceUnavailable, "Not now",
			"The records cannot be reached. Nothing was changed. Try again in a minute.")
	default:
		r.d.o.Log.Error().Err(err).Str("page", r.Pattern).Msg("desk: a page failed")
		err = r.failed(http.StatusInternalServerError, "Something is broken here",
			"Nothing was changed. The log of the service says where it broke.")
	}
	if err != nil && !r.done {
		http.Error(r.w, "Something is broken here.", http.StatusInternalServerError)
	}
}

// view reads the records.
func (r *request) view(fn func(*store.Tx) error) error { return r.d.o.Store.View(r.Context(), fn) }

// write changes the records. The change is made even if the browser hangs up meanwhile.
func (r *request) write(fn func(*store.Tx) error) error {
	err := r.d.o.Store.InTx(context.WithoutCancel(r.Context()), fn)
	if err == nil {
		r.d.Changed()
	}
	return err
}

// entry returns an entry of the trail in the name of the caller; the handler adds what it is about.
func (r *request) entry(what, object, was, now string) store.TrailEntry {
	return store.TrailEntry{At: r.now.Unix(), StaffID: r.staff.ID, Who: r.staff.Name, What: what, Object: object,
		Was: was, Now: now}
}

// redirect sends the browser to another page of the desk.
func (r *request) redirect(path string) error {
	r.done = true
	http.Redirect(r.w, r.Request, path, http.StatusSeeOther)
	return nil
}

// to sends the browser to another page, which shows a note.
func (r *request) to(path, note string) error {
	if note != "" {
		r.d.sessions.Put(r.Context(), keyNote, note)
	}
	return r.redirect(path)
}

// back sends the browser to the page that the form names in its field "back", or else to a page; that page shows a
// note.
func (r *request) back(otherwise, note string) error {
	return r.to(inside(r.form.Get("back"), otherwise), note)
}

// inside returns a path if it is one of the desk's, otherwise the other one: a form or link cannot lead to another
// site.
func inside(path, otherwise string) string {
	u, err := url.Parse(path)
	if err != nil || u.Host != "" || u.Scheme != "" || len(path) < 6 || path[:6] != "/desk/" {
		return otherwise
	}
	return path
}

func escapePath(p string) string { return url.QueryEscape(p) }

// zone returns the time zone of a place in scope, and that of the first place for others.
func (r *request) zone(placeID int64) *time.Location {
	for _, p := range r.places {
		if p.ID == placeID {
			return zoneOf(p)
		}
	}
	if len(r.places) > 0 {
		return zoneOf(r.places[0])
	}
	return time.UTC
}

func zoneOf(p store.Place) *time.Location {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil { // the store checks the zone
		return time.UTC
	}
	return zone
}

// placeName returns the name of a place in scope, or "".
func (r *request) placeName(id int64) string {
	for _, p := range r.places {
		if p.ID == id {
			return p.Name
		}
	}
	return ""
}
