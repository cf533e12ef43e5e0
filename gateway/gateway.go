// Package gateway is the house's door to the phone networks: callbacks come in,
// are told apart from repeats, become one step of a dialogue in one
// transaction, and are answered when that is on disk.
//
//	g, err := gateway.New(gateway.Options{Store: s, Menu: m, Clock: c, Log: log, Networks: networks})
//	server := gateway.NewServer(addr, g)
//
// It knows no agronomy and no words: the menu has those. It logs once, at the
// edge, and never a phone number or what a grower typed.
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

	"rowbell/gateway/clock"
	"rowbell/gateway/limit"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// The records that a dialogue is handed are the store's.
var _ menu.Book = (*store.Ledger)(nil)

// Menu is what the gateway needs of the dialogue; *menu.Menu is one.
type Menu interface {
	Dial(b menu.Book, ch menu.Channel, state []byte, dialled string) ([]byte, menu.Reply, error)
	Enter(b menu.Book, ch menu.Channel, state []byte, entry string) ([]byte, menu.Reply, error)
	Text(b menu.Book, in menu.Inbound) (menu.Outcome, error)
	Unfinished(b menu.Book, state []byte) bool
	Stops(entry string) bool  // whether a text is the word to stop
	Sorry(lang string) string // what a phone shows when nothing else can be said
}

// Options are what a Gateway needs. Store, Menu, Clock and at least one
// network must be set.
type Options struct {
	Store    *store.Store
	Menu     Menu
	Clock    clock.Clock
	Log      zerolog.Logger
	Networks []profile.Profile
	DialCode string // what growers dial: the whole of a session so far becomes a path below it

	USSDResume time.Duration // how long a dropped dialogue may be taken up again; 0 = 24 h
	SMSResume  time.Duration // the same by text; 0 = 72 h
	Deadline   time.Duration // for one callback; 0 = 5 s
	Queued     func()        // called after texts went into the outbox; may be nil

	Meter  *meter.Meter   // counts; nil: nothing is counted, and there is no /metrics
	Watch  []netip.Prefix // who may read /metrics beside this machine
	Health Health
	Limits limit.Incoming // of what comes in; those of a network stand in its profile
	Proxy  Proxy          // before this server; the zero Proxy: none
	Most   int            // callbacks that are worked on at once; 0 = DefaultMost
}

// A dropped USSD dialogue is taken up the same day or not at all; an SMS waits
// in a phone that is off for days. A network gives a phone's answer some
// seconds: five leave it time to say so.
const (
	DefaultUSSDResume = 24 * time.Hour
	DefaultSMSResume  = 72 * time.Hour
	DefaultDeadline   = 5 * time.Second
)

// DefaultMost callbacks at once are 1,000 a second that wait half a second each
// for a busy disk; more would only wait longer.
const DefaultMost = 500

// Gateway is the http.Handler for all of rowbell's paths. Further routes may be
// added to it before it serves: they stand behind the log and the recovery of
// panics, and guard themselves.
type Gateway struct {
	chi.Router
	o        Options
	networks map[string]*profile.Profile
	strays   atomic.Uint64 // receipts for texts that are not ours
	began    time.Time
	looking  looks
	gate     *limit.Gate
	places   chan struct{} // one for each callback that is worked on
	writing  chan struct{} // one for each transaction that is not over
	refused  refusals      // of this minute
	unread   atomic.Uint64 // receipts that say what nobody described
}

// New builds the router. It fails for options that cannot work.
func New(o Options) (*Gateway, error) {
	if o.Store == nil || o.Menu == nil || o.Clock == nil {
		panic("gateway: New needs a Store, a Menu and a Clock")
	}
	o.USSDResume = cmp.Or(o.USSDResume, DefaultUSSDResume)
	o.SMSResume = cmp.Or(o.SMSResume, DefaultSMSResume)
	o.Deadline = cmp.Or(o.Deadline, DefaultDeadline)
	if o.Queued == nil {
		o.Queued = func() {}
	}
	o.Most = cmp.Or(o.Most, DefaultMost)
	g := &Gateway{
		o: o, networks: map[string]*profile.Profile{}, began: o.Clock.Now(),
		places: make(chan struct{}, o.Most), writing: make(chan struct{}, o.Most),
	}
	o.Limits.Gateways = map[string]limit.Set{}
	for _, p := range o.Networks {
		if err := p.Validate(); err != nil {
			return nil, fmt.Errorf("gateway: %w", err)
		}
		if _, twice := g.networks[p.Name]; twice {
			return nil, fmt.Errorf("gateway: two networks are called %s", p.Name)
		}
		o.Limits.Gateways[p.Name] = p.Limits
		g.networks[p.Name] = &p
	}
	if len(g.networks) == 0 {
		return nil, errors.New("gateway: no network to listen to")
	}
	g.gate = limit.NewGate(o.Limits)
	g.Router = g.routes()
	return g, nil
}

func (g *Gateway) routes() chi.Router {
	r := chi.NewRouter()
	r.Use(g.observe, g.recover, harden, g.o.Proxy.clientIP(), bound)
	r.NotFound(nothing)
	r.MethodNotAllowed(wrongMethod)

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
		r.Method(http.MethodGet, "/metrics", watched(g.o.Watch, g.o.Proxy.Header, g.o.Meter.Handler()))
	}
	return r
}

// write runs fn in a transaction and waits for it as long as ctx lasts. The
// work goes on when nobody waits for it any more; what fn found may be read
// only where write returns nil.
func (g *Gateway) write(ctx context.Context, fn func(*store.Tx) error) error {
	// Those that nobody waits for are counted too, so that a slow disk does not
	// pile them up.
	select {
	case g.writing <- struct{}{}:
	default:
		return errCrowd
	}
	done := make(chan error, 1)
	go func() {
		err := g.o.Store.InTx(ctx, fn)
		<-g.writing
		done <- err
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// NewServer is an http.Server for h with bounds on how long a caller may take.
// An address with port 0 takes any free port.
func NewServer(addr string, h http.Handler) *http.Server {
	return &http.Server{
		Addr:              addr,
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      15 * time.Second,
		IdleTimeout:       60 * time.Second,
		MaxHeaderBytes:    16 << 10,
	}
}
