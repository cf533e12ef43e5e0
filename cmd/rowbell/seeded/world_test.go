package seeded

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"pgregory.net/rapid"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
	"rowbell/store/testrun"
)

// world is a service with its growers and networks in one season.
type world struct {
	t *rapid.T
	kit
	folder  string
	service *service.Service
	reader  *reader
	rang    bool // the bell worked since the turns were checked
	looking bool // the test itself reads the records, and never fails
	growers []*grower
	calls   []call // that were acknowledged, in order
	fault   *fault
	passed  []store.Point          // points that the records passed; only a copy notes them
	wrong   time.Duration          // by how much the clock is ahead
	held    bool                   // the operator holds texts
	read    int                    // number of random numbers since the last call began
	asked   int                    // number of calls so far
	went    map[int64][]engine.Day // days on which reminders about a plot went out, by the id of the plot
	unsure  map[int64]bool         // of the texts in the records, by id: a network may have it; see countErased
	erased  int
	seen    counts
}

// grower is somebody with a phone.
type grower struct {
	phone   store.Phone
	network *network // that carries the calls
	session string   // of the call that goes on; "" = none
	step    int      // entries in it
	stopped int64    // when STOP was acknowledged, 0 = texts may come
}

const start = 1795590000 // 2026-11-25 07:00 UTC

const token = "river-stone"

// settings are two networks: heron recognises a text that it gets twice, tern does not. Numbers from +447700900100 on
// are served by tern alone, those before by heron, and by tern if heron fails.
const settings = `
[desk]
off = true
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

// kit is what the seasons of a test use one after another: it does not change in a season, or forgets the last one.
type kit struct {
	clock    *clock.Manual
	copied   *copied
	test     *testing.T
	folders  string // where seasons have their files
	networks []*network
	conf     config.Config
	profiles []profile.Profile
	menu     *menu.Menu
}

func newKit(t *testing.T) (k kit) {
	k.test, k.networks, k.copied = t, newNetworks(t), &copied{}
	k.clock, k.folders = clock.New(time.Unix(start, 0)), t.TempDir()
	var err error
	must := func() {
		if err != nil {
			t.Helper()
			t.Fatal(err)
		}
	}
	k.conf, err = config.Parse(fmt.Appendf(nil, settings, k.networks[0].url, k.networks[1].url, 7700900, 77009001))
	must()
	k.profiles, err = k.conf.Networks(func(name string) string {
		if name == "SEEDED_TOKEN" {
			return token
		}
		return ""
	})
	must()
	texts, err := k.conf.Texts.Catalogue()
	must()
	k.menu, err = menu.New(texts, k.conf.Menu())
	must()
	return k
}

// newWorld makes records with growers, and starts the service on them.
func newWorld(t *rapid.T, k kit) *world {
	folder, err := os.MkdirTemp(k.folders, "season-")
	w := &world{t: t, kit: k, folder: folder,
		went: map[int64][]engine.Day{}, seen: counts{}}
	w.must(err)
	w.clock.Set(time.Unix(start, 0))
	for _, n := range k.networks {
		n.begin(w)
	}
	w.open(w.point)
	w.register()
	w.makeCircle()
	return w
}

// open makes records, and starts the service on them.
func (w *world) open(point func(store.Point) error) {
	if w.conf.DB = w.path(); testrun.OnServer() {
		w.conf.DB = testrun.Database(w.test, migrateServer)
	} else {
		testrun.File(w.test, w.path(), migrate)
	}
	w.service = w.start(w.conf, point)
	w.reader = newReader(w.conf.DB)
}

func (w *world) path() string { return filepath.Join(w.folder, "rowbell.db") }

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
		Networks: w.profiles, Menu: w.menu, Clock: w.clock, Log: zerolog.Nop(), Jitter: func() float64 { return 0.5 },
		Records: func(o *store.Options) { o.Stopwatch, o.Fault, o.Random = nil, point, w },
	})
	w.must(err)
	return s
}

// Read gives the records their random numbers, such as codes: the same in a call and in its repetition, so that answers
// and rows can be compared.
func (w *world) Read(b []byte) (int, error) {
	sum := sha256.Sum256(fmt.Append(nil, w.now(), w.read))
	w.read++
	return copy(b, sum[:]), nil
}

// restart ends the process, as it was left, and starts another one.
func (w *world) restart() {
	_ = w.service.Close() // after a crash nothing can be written any more
	w.fault = nil
	w.service = w.start(w.conf, w.point)
}

func (w *world) close() {
	_ = w.service.Close()
	_ = w.reader.close()
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

// view reads the records, which do not fail then.
func (w *world) view(fn func(tx *store.Tx) error) {
	w.t.Helper()
	w.must(w.look(fn))
}

func (w *world) look(fn func(tx *store.Tx) error) error {
	w.looking = true
	defer func() { w.looking = false }()
	return w.service.Store().View(context.Background(), fn)
}

// someone draws a grower.
func (w *world) someone() *grower {
	return w.growers[rapid.IntRange(0, len(w.growers)-1).Draw(w.t, "grower")]
}
