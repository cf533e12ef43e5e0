// Package gateway receives the callbacks of the phone networks: it authenticates them, decodes them by the
// network's profile, recognises repeats, takes one step of the dialogue in one transaction, and answers after
// the commit. It also serves /healthz, /readyz and /metrics.
//
//	g, err := gateway.New(gateway.Options{Store: s, Menu: m, Clock: c, Log: log, Networks: networks})
//	server := gateway.NewServer(addr, g)
//
// The package contains no agronomy and no texts for growers; both come from the menu. Each request is logged
// once. The log contains phone numbers only in masked form, and never what a grower typed.
package gateway

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/netip"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/rs/zerolog"
	"golang.org/x/sync/singleflight"

	"rowbell/gateway/clock"
	"rowbell/gateway/limit"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// The store's Ledger must implement the Book that the menu needs.
var _ menu.Book = (*store.Ledger)(nil)

// Menu is the part of *menu.Menu that the gateway calls.
type Menu interface {
	Dial(b menu.Book, ch menu.Channel, state []byte, dialled string) ([]byte, menu.Reply, error)
	Enter(b menu.Book, ch menu.Channel, state []byte, entry string) ([]byte, menu.Reply, error)
	Text(b menu.Book, in menu.Inbound) (menu.Outcome, error)
	Unfinished(b menu.Book, state []byte) bool
	Stops(entry string) bool  // reports whether a text is a STOP word
	Sorry(lang string) string // returns the text that the phone shows in place of a screen when a call fails
}

// Options configure a Gateway. Store, Menu, Clock and at least one network must be set.
type Options struct {
	Store    *store.Store
	Menu     Menu
	Clock    clock.Clock
	Log      zerolog.Logger
	Networks []profile.Profile
	// DialCode is the USSD code of the service, such as *123#. A grower may dial the code and entries together:
	// *123*1*5# is the code *123# with the entries 1 and 5.
	DialCode string

	USSDResume time.Duration            // how long a dropped USSD dialogue can be resumed; 0 = DefaultUSSDResume
	SMSResume  time.Duration            // how long an unfinished SMS dialogue can be resumed; 0 = DefaultSMSResume
	SendsBack  func(number string) bool // reports whether an answer goes by the network of its text; nil: never
	Queued     func()                   // called after texts were written to the outbox; may be nil

	Meter       *meter.Meter   // nil: nothing is counted and there is no /metrics
	Watch       []netip.Prefix // addresses that may read /metrics; this machine always may
	Health      Health
	Loops       Loops          // when a number is left alone; the zero value: never
	Limits      limit.Incoming // limits on callbacks; the limits of one network are in its profile
	Proxy       Proxy          // reverse proxies in front of this server; the zero value: none
	MaxInFlight int            // largest number of callbacks handled at the same time; 0 = DefaultMaxInFlight
	MaxItems    int            // largest number of texts or receipts in one callback; 0 = DefaultMaxItems
}

// A dropped USSD dialogue can be resumed for one day; an SMS dialogue for three, because an SMS may wait for days until
// a phone is switched on. A network waits for a response for some seconds, so an error sent after five seconds still
// reaches the network.
const (
	DefaultUSSDResume = 24 * time.Hour
	DefaultSMSResume  = 72 * time.Hour
	Deadline          = 5 * time.Second // the longest time until a callback is answered
)

// DefaultMaxInFlight is enough for 1,000 callbacks a second if each callback waits half a second for a busy
// disk. A larger number would only make callbacks wait longer.
const DefaultMaxInFlight = 500

// Gateway is the http.Handler for all of rowbell's paths. Routes that are added before the first request get its
// middleware (log, panic recovery, header checks) but must authenticate their callers themselves.
type Gateway struct {
	chi.Router
	o        Options
	networks map[string]*profile.Profile
	began    time.Time
	gate     *limit.Gate
	guesses  *limit.Guesses
	own      ownNumbers

	inFlight     chan struct{} // one element for each callback that is being handled
	transactions chan struct{} // one element for each transaction that is not finished

	readyChecks singleflight.Group
	logged      refusalLog
	ownLogged   refusalLog // texts from our own senders

	unknownTexts  atomic.Uint64 // number of receipts whose id belongs to no text in the outbox
	unknownStates atomic.Uint64 // number of receipts whose state the profile does not describe
	unusableTimes atomic.Uint64 // number of texts whose time could not be used
}

// New returns a gateway with its routes. It refuses an empty list of networks, two networks of one name, and an invalid
// profile.
func New(o Options) (*Gateway, error) {
	if o.Store == nil || o.Menu == nil || o.Clock == nil || o.Health.QuietHour == 0 {
		panic("gateway: New needs a Store, a Menu, a Clock and a Health.QuietHour")
	}
	o.USSDResume = cmp.Or(o.USSDResume, DefaultUSSDResume)
	o.SMSResume = cmp.Or(o.SMSResume, DefaultSMSResume)
	if o.SendsBack == nil {
		o.SendsBack = func(string) bool { return false }
	}
	if o.Queued == nil {
		o.Queued = func() {}
	}
	o.MaxInFlight = cmp.Or(o.MaxInFlight, DefaultMaxInFlight)
	o.MaxItems = cmp.Or(o.MaxItems, DefaultMaxItems)
	g := &Gateway{
		o: o, networks: map[string]*profile.Profile{}, began: o.Clock.Now(),
		inFlight: make(chan struct{}, o.MaxInFlight), transactions: make(chan struct{}, o.MaxInFlight),
	}
	g.o.Limits.Gateways = map[string]limit.Set{}
	for _, p := range o.Networks {
		if err := p.Validate(); err != nil {
			return nil, fmt.Errorf("gateway: %w", err)
		}
		if _, twice := g.networks[p.Name]; twice {
			return nil, fmt.Errorf("gateway: two networks are called %s", p.Name)
		}
		g.o.Limits.Gateways[p.Name] = p.Limits
		g.networks[p.Name] = &p
	}
	if len(g.networks) == 0 {
		return nil, errors.New("gateway: no network to listen to")
	}
	g.gate, g.guesses = limit.NewGate(g.o.Limits), limit.NewGuesses()
	g.own = newOwnNumbers(o.Networks, o.DialCode)
	g.Router = g.routes()
	return g, nil
}

// Continue makes g the successor of old, which has other settings. g takes over what old has counted for its limits,
// the wrong secrets, and the number of calls in flight with its MaxInFlight; a call that old still answers counts for
// both. Continue must be called before the first call of g.
func (g *Gateway) Continue(old *Gateway) {
	g.began, g.inFlight, g.transactions = old.began, old.inFlight, old.transactions
	g.gate, g.guesses = old.gate, old.guesses
	g.gate.SetLimits(g.o.Limits)
}

func (g *Gateway) routes() chi.Router {
	r := chi.NewRouter()
	r.Use(g.logRequest, g.recoverPanic, setSecurityHeaders, g.o.Proxy.clientIP, checkHeaders)
	r.NotFound(notFound)
	r.MethodNotAllowed(methodNotAllowed)

	for kind, h := range map[string]func(context.Context, *call) (answer, error){
		kindUSSD: g.ussd, kindSMS: g.sms, kindReceipt: g.receipt,
	} {
		for _, method := range g.methods(kind) {
			r.MethodFunc(method, "/in/{gateway}/"+kind, g.callback(kind, h))
		}
	}

	r.Get("/healthz", g.healthy)
	r.Get("/readyz", g.ready)
	if g.o.Meter != nil {
		r.Method(http.MethodGet, "/metrics", allowWatchers(g.o.Watch, g.o.Proxy.Header, g.o.Meter.Handler()))
	}
	return r
}

// write runs fn in a transaction and waits until it ends or ctx is done. If ctx is done first, write returns an error
// and the transaction continues, so that a repeat of the call finds the stored reply. The caller may read what fn set
// only if write returns nil.
func (g *Gateway) write(ctx context.Context, fn func(*store.Tx) error) error {
	// A transaction counts towards MaxInFlight until it ends, even if its caller no longer waits. So the number of
	// transactions stays bounded on a slow disk.
	select {
	case g.transactions <- struct{}{}:
	default:
		return errTooManyInFlight
	}
	done := make(chan error, 1)
	go func() {
		err := g.o.Store.InTx(ctx, fn)
		<-g.transactions
		done <- err
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// NewServer returns an http.Server for h with timeouts that disconnect slow callers. If the port in addr is 0,
// the system chooses a free port.
func NewServer(addr string, h http.Handler) *http.Server {
	return &http.Server{
		Addr: addr, Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 15 * time.Second, IdleTimeout: 60 * time.Second, MaxHeaderBytes: 16 << 10,
	}
}
