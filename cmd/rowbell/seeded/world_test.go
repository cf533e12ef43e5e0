package seeded

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/rs/zerolog"
	"pgregory.net/rapid"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
	"rowbell/store/testrun"
)

// world is a service with its growers and networks in one season.
type world struct {
	t        *rapid.T
	folder   string
	clock    *clock.Manual
	service  *service.Service
	visitor  *store.Store // reads beside the service, and never fails
	conf     config.Config
	profiles []profile.Profile
	networks []*network
	growers  []*grower
	calls    []call // that were acknowledged, in order
	fault    *fault
	held     bool                   // the operator holds texts
	asked    int                    // number of calls so far
	went     map[int64][]engine.Day // days on which reminders about a plot went out, by the id of the plot
	seen     counts
}

// grower is somebody with a phone.
type grower struct {
	phone   store.Phone
	network *network // that carries the calls
	session string   // of the call that goes on; "" = none
	step    int      // entries in it
	stopped int64    // when STOP was acknowledged, 0 = texts may come
}

// fault is what the records do next.
type fault struct {
	at    store.Point
	after int  // how many such points are passed first
	crash bool // the process ends there
	fired bool
}

var errDisk = sqlite3.Error{Code: sqlite3.ErrIoErr}

// errEnded is the error of everything that a process would do after its end.
var errEnded = errors.New("the process has ended")

// point is what the records call at each point of a transaction.
func (w *world) point(p store.Point) error {
	f := w.fault
	switch {
	case f == nil:
		return nil
	case f.fired && f.crash:
		return errEnded
	case f.fired || p != f.at:
		return nil
	case f.after > 0:
		f.after--
		return nil
	}
	f.fired = true
	if f.crash {
		return errEnded
	}
	return errDisk
}

const start = 1795590000 // 2026-11-25 07:00 UTC

const token = "river-stone"

// settings are two networks: heron recognises a text that it gets twice, tern does not. Numbers from +447700900100 on
// are served by tern alone, those before by heron, and by tern if heron fails.
const settings = `
[limits]
calls_a_minute = 0
open_sessions = 0
number = { calls_a_minute = 0, open_sessions = 0 }
[gateways.heron]
trust = { by = "bearer", secrets = ["SEEDED_TOKEN"] }
push = { url = "%s", concurrency = 1, segment_price = 0.03 }
[gateways.tern]
trust = { by = "bearer", secrets = ["SEEDED_TOKEN"] }
[gateways.tern.push]
url = "%s"
type = "application/json"
body = '{"ID":"{{.ID}}","To":"{{.To}}","Text":"{{.Text}}"}'
concurrency = 1
segment_price = 0.05
idempotent = false
[[routes]]
prefix = "+44%d"
through = ["heron", "tern"]
[[routes]]
prefix = "+44%d"
through = ["tern"]
`

// newWorld makes records with growers, and starts the service on them.
func newWorld(t *testing.T, rt *rapid.T, networks []*network) *world {
	folder, err := os.MkdirTemp(t.TempDir(), "season-")
	w := &world{t: rt, folder: folder, networks: networks, clock: clock.New(time.Unix(start, 0).UTC()),
		went: map[int64][]engine.Day{},
		seen: counts{}}
	w.must(err)
	testrun.File(t, w.db(), func(address string) error {
		s, err := store.Open(context.Background(), address, store.Options{})
		if err != nil {
			return err
		}
		return s.Close()
	})
	for _, n := range networks {
		n.begin(w)
	}
	w.conf, err = config.Parse(fmt.Appendf(nil, settings, networks[0].url, networks[1].url, 7700900, 77009001))
	w.must(err)
	w.profiles, err = w.conf.Networks(func(name string) string {
		if name == "SEEDED_TOKEN" {
			return token
		}
		return ""
	})
	w.must(err)
	w.conf.DB = w.db()
	w.service = w.start(w.conf, w.point)
	w.visitor, err = store.Open(context.Background(), w.db(), store.Options{Existing: true})
	w.must(err)
	w.register()
	return w
}

func (w *world) db() string { return filepath.Join(w.folder, "rowbell.db") }

// must ends the season if there is an error where none may be.
func (w *world) must(err error) {
	if err != nil {
		w.t.Helper()
		w.t.Fatal(err)
	}
}

// start starts a service. Its background work is in slices of one step each, so that the same commits come in each run.
func (w *world) start(c config.Config, point func(store.Point) error) *service.Service {
	s, err := service.Start(context.Background(), c, service.Options{
		Networks: w.profiles, Clock: w.clock, Log: zerolog.Nop(), Jitter: func() float64 { return 0.5 },
		Records: func(o *store.Options) { o.Stopwatch, o.Fault = nil, point },
	})
	w.must(err)
	return s
}

// restart ends the process, as it was left, and starts another one.
func (w *world) restart() {
	_ = w.service.Close() // after a crash nothing can be written any more
	w.fault = nil
	w.service = w.start(w.conf, w.point)
}

func (w *world) close() {
	_ = w.service.Close()
	_ = w.visitor.Close()
	_ = os.RemoveAll(w.folder)
}

// register adds growers with plots that were planted some days ago.
func (w *world) register() {
	for i := range rapid.IntRange(1, 4).Draw(w.t, "growers") {
		n := w.networks[rapid.IntRange(0, 1).Draw(w.t, "network")]
		g := &grower{phone: store.Phone(fmt.Sprintf("+44%d", 7700900000+100*n.index+i)), network: n}
		w.growers = append(w.growers, g)
		plots := rapid.IntRange(0, 2).Draw(w.t, "plots")
		w.must(w.service.Store().InTx(context.Background(), func(tx *store.Tx) error {
			l, err := tx.Ledger(g.phone, w.now())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			for range plots {
				planted := l.Today() - engine.Day(rapid.IntRange(2, 25).Draw(w.t, "planted days ago"))
				if _, err := l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 20,
					HillSpacingCM: 20}, engine.Tool{WidthCM: 15}); err != nil {
					return err
				}
			}
			return nil
		}))
	}
}

func (w *world) now() int64 { return w.clock.Now().Unix() }

// view reads beside the service.
func (w *world) view(fn func(tx *store.Tx) error) {
	w.t.Helper()
	w.must(w.visitor.View(context.Background(), fn))
}

// someone draws a grower.
func (w *world) someone() *grower {
	return w.growers[rapid.IntRange(0, len(w.growers)-1).Draw(w.t, "grower")]
}
