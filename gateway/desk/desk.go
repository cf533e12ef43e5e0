// Package desk has the pages for staff: the field worker who looks after growers, and the operator of the service.
//
//	d, err := desk.New(desk.Options{Store: s, Menu: m, Clock: c, Log: log, QuietHour: 20})
//	router.Mount("/desk", d)
//
// A file has the routes and handlers of one page; its template is the file of the same name in pages. All pages work
// without JavaScript. Who may see and do what is said by the table of routes and checked in one place, rights.go.
//
// The package calculates no agronomy, and decides nothing about growers: it shows what engine and store say, and stores
// what staff say. It has no words for growers: package menu composes their texts.
package desk

import (
	"errors"
	"html/template"
	"net/http"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2"
	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
	"rowbell/store/growercsv"
)

// Options configure a Desk. Store, Menu, Clock and QuietHour must be set.
type Options struct {
	Store     *store.Store
	Menu      *menu.Menu // composes texts, and reads what staff type as it reads what growers type
	Clock     clock.Clock
	Log       zerolog.Logger
	Address   string // under which staff reach the service, for links; "" = where the request was sent
	QuietHour int    // local hour from which texts to growers wait until morning
	Queued    func() // called after texts were written to the outbox; may be nil

	Manual []HelpPage      // the pages of the manual in reading order
	Files  growercsv.Rules // how files of growers are read

	Networks Networks // nil: the page of the networks has only what is in the records

	// Practice lets everybody in without a password, and sessions do not end. It is for invented growers on one's own
	// machine only.
	Practice bool

	Currency string // of what texts cost, such as TAL; "" = none is set

	Encoder       text.Encoder // codes texts as the outbox does
	SegmentPrices []int64      // of a part with each network, in millionths of the currency; 0 = not known
	Texts         Texts        // changes texts; nil: they are only shown

	// HashCost replaces the cost of a password's hash in tests; nil: PasswordCost.
	HashCost *argon2id.Params
}

// PasswordCost is the cost of argon2id: 19 MiB, two iterations, one thread, which is the minimum of the OWASP Password
// Storage Cheat Sheet.
var PasswordCost = argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// Desk is the http.Handler of all paths under /desk.
type Desk struct {
	o        Options
	handler  http.Handler
	routes   []route
	sessions *scs.SessionManager
	pages    map[string]*template.Template
	hashing  chan struct{} // one element for each password that is hashed now, because each takes 19 MiB
	solving  chan struct{} // one element while a roster is explained
	nobody   string        // a hash that no password has, so that an unknown name takes as long as a known one
	unknown  *wrongNames
	manual   manual
	news     news
	uploads  *uploads
}

// New returns a desk with its routes.
func New(o Options) (*Desk, error) {
	if o.Store == nil || o.Menu == nil || o.Clock == nil || o.QuietHour == 0 {
		return nil, errors.New("desk: New needs a Store, a Menu, a Clock and a QuietHour")
	}
	if o.HashCost == nil {
		o.HashCost = &PasswordCost
	}
	d := &Desk{o: o, hashing: make(chan struct{}, 2), solving: make(chan struct{}, 1), unknown: newWrongNames(),
		manual: newManual(o.Manual), uploads: &uploads{}, pages: pageTemplates(), nobody: hashOfNobody(o.HashCost)}
	d.sessions = d.newSessions()
	d.routes = d.allRoutes()
	mux := http.NewServeMux()
	for _, rt := range d.routes {
		mux.Handle(rt.pattern, d.serve(rt))
	}
	mux.Handle("/desk/", d.serve(route{"/desk/", public, nil, func(*request) error { return errNotFound }}))
	origins := http.NewCrossOriginProtection()
	origins.SetDenyHandler(d.serve(route{"", public, nil, foreign}))
	all := http.NewServeMux()
	all.Handle("GET /desk/assets/", assets()) // no session is read for these
	all.Handle("/", withAgent(d.sessions.LoadAndSave(origins.Handler(mux))))
	d.handler = secure(all)
	return d, nil
}

// Continue makes d the successor of old, which has other settings: wrong passwords stay counted, and files that were
// checked can still be taken. It must be called before the first request of d.
func (d *Desk) Continue(old *Desk) {
	d.unknown, d.uploads, d.hashing, d.solving = old.unknown, old.uploads, old.hashing, old.solving
}

// ServeHTTP implements http.Handler.
func (d *Desk) ServeHTTP(w http.ResponseWriter, r *http.Request) { d.handler.ServeHTTP(w, r) }

func (d *Desk) now() time.Time { return d.o.Clock.Now() }

// policy lets the browser load only files of this site, and forbids inline scripts and styles.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"

// secure sets the headers of OWASP ASVS 5.0, chapter 3.4 (from memory), that all pages have.
func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

func foreign(r *request) error {
	return r.failed(http.StatusForbidden, "This came from another site",
		"A page of another site sent this, so nothing was done. Open the desk itself and do it there.")
}
