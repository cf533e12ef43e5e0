package season

import (
	"context"
	"database/sql"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/cmd/rowbell-load/stack/stacktest"
	"rowbell/engine"
)

func TestMain(m *testing.M) { stacktest.Run(m) }

// played plays a short form of the season: all that happens in the long one, of few growers, against a real process.
func played(t *testing.T) *world {
	t.Helper()
	w, err := newWorld(Options{Growers: 40, Days: 85, Seed: 7, Program: stacktest.Program(t), Folder: t.TempDir(),
		Now: func() time.Time { return time.Time{} }})
	ok(t, err)
	ok(t, w.play(t.Context()))
	return w
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// A season holds what rowbell promises, and each thing that would break a promise is found: in the records, on the
// phones and in what was acknowledged.
func TestSeason(t *testing.T) {
	w := played(t)
	if n := len(w.samples); n != w.o.Days || w.samples[n-1].Memory == 0 || w.samples[n-1].File == 0 {
		t.Errorf("%d samples, the last %+v", n, w.samples[n-1])
	}
	w.samples = nil // memory is looked at in long seasons: in a short one it says little
	r, err := w.result(t.Context(), 0)
	ok(t, err)
	for _, f := range r.Findings {
		t.Error(f)
	}
	if r.Plots < 40 || r.Reminders < 8*40 || r.Passes < 2*40 || r.Sightings < 2*40 || r.Calls < 200 || r.SMS < 10*40 {
		t.Errorf("too little happened: %+v", r)
	}
	if r.Size.Replies > (r.Calls+r.SMS)/4 {
		t.Errorf("%d replies of %d calls are stored: upkeep did not run", r.Size.Replies, r.Calls+r.SMS)
	}
	if t.Failed() {
		return
	}
	g := w.reminded(t)
	w.growers = []*grower{g} // of whom alone is told from here on
	for _, b := range breaks(w, g) {
		t.Run(b.name, func(t *testing.T) {
			w.found = findings{}
			restore := b.do(t)
			_, err := w.verify(t.Context(), w.records())
			restore()
			ok(t, err)
			if list, n := w.found.all(); n == 0 || !strings.Contains(list[0], g.String()) {
				t.Errorf("found %q", list)
			}
		})
	}
	w.found = findings{}
	if _, err := w.verify(t.Context(), w.records()); err != nil || w.found.count > 0 {
		t.Errorf("after all: %v, %v", err, w.found.list)
	}
}

// reminded returns a grower who logged a pass, told of leaves and got reminders.
func (w *world) reminded(t *testing.T) *grower {
	for _, g := range w.growers {
		if len(g.plots) == 1 && len(g.plots[0].passes) > 1 && len(g.plots[0].looks) > 1 && g.habit.stopsOn == 0 {
			return g
		}
	}
	t.Fatal("no grower logged passes and told of leaves")
	return nil
}

// reminder returns the index of the grower's n-th text that came in a morning.
func (w *world) reminder(t *testing.T, g *grower, n int) int {
	for i, a := range g.got {
		if d := engine.DayOf(time.Unix(a.at, 0), w.zone); a.at != d.At(morningHour, w.zone).Unix() {
			continue
		}
		if n--; n < 0 {
			return i
		}
	}
	t.Fatal("too few reminders came")
	return 0
}

type breakage struct {
	name string
	do   func(*testing.T) (restore func())
}

// breaks are what would break a promise to a grower.
func breaks(w *world, g *grower) []breakage {
	id := `(SELECT p.id FROM plot p JOIN grower g ON g.id = p.grower_id WHERE g.phone = '` + g.phone.E164() + `')`
	got := func(change func(list []arrival, i int) []arrival) func(*testing.T) func() {
		return func(t *testing.T) func() {
			was := g.got
			g.got = change(append([]arrival(nil), was...), w.reminder(t, g, 1))
			return func() { g.got = was }
		}
	}
	changed := func(does string, undo string) func(*testing.T) func() {
		return func(t *testing.T) func() {
			w.exec(t, does)
			return func() { w.exec(t, undo) }
		}
	}
	// moved moves the first day in a table.
	moved := func(table, by string) string {
		return `UPDATE ` + table + ` SET day = day ` + by + ` WHERE plot_id = ` + id +
			` AND day = (SELECT min(day) FROM ` + table + ` WHERE plot_id = ` + id + `)`
	}
	return []breakage{
		{"a text is lost", got(func(list []arrival, i int) []arrival { return append(list[:i], list[i+1:]...) })},
		{"a text comes twice", got(func(list []arrival, i int) []arrival { return append(list, list[i]) })},
		{"a text comes a day late", got(func(list []arrival, i int) []arrival { list[i].at += 86400; return list })},
		{"a text says another day", got(func(list []arrival, i int) []arrival { list[i].text += " "; return list })},
		{"a text comes at night", got(func(list []arrival, i int) []arrival { list[i].at -= 4 * 3600; return list })},
		{"a reminder is recorded a day late", changed(moved("told", "+ 1"), moved("told", "- 1"))},
		{"a pass is recorded a day late", changed(moved("pass", "+ 1"), moved("pass", "- 1"))},
		{"a sighting is recorded a day late", changed(moved("sighting", "+ 1"), moved("sighting", "- 1"))},
		{"what was told is lost", changed(
			`CREATE TABLE kept AS SELECT * FROM told WHERE plot_id = `+id+`; DELETE FROM told WHERE plot_id = `+id,
			`INSERT INTO told SELECT * FROM kept; DROP TABLE kept`)},
		{"a pass is lost", changed(
			`CREATE TABLE kept AS SELECT * FROM pass WHERE plot_id = `+id+` LIMIT 1;
			DELETE FROM pass WHERE (plot_id, day, seq) IN (SELECT plot_id, day, seq FROM kept)`,
			`INSERT INTO pass SELECT * FROM kept; DROP TABLE kept`)},
		{"a pass is there twice", changed(
			`INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left, share)
			SELECT plot_id, day, seq + 100, means, way, hours, people, weeds_left, share FROM pass
			WHERE plot_id = `+id+` LIMIT 1`,
			`DELETE FROM pass WHERE seq > 100`)},
		{"texts were stopped", changed(
			`CREATE TABLE kept AS SELECT max(id) AS id FROM consent;
			INSERT INTO consent (grower_id, at, what, text_version, language, channel)
			SELECT grower_id, at + 1, 'stopped', text_version, language, channel FROM consent
			WHERE grower_id = (SELECT id FROM grower WHERE phone = '`+g.phone.E164()+`') LIMIT 1`,
			`DELETE FROM consent WHERE id > (SELECT id FROM kept); DROP TABLE kept`)},
	}
}

func (w *world) exec(t *testing.T, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+w.records())
	ok(t, err)
	_, err = db.ExecContext(context.WithoutCancel(t.Context()), query)
	ok(t, err)
	ok(t, db.Close())
}

// Memory that grows by a fifth from one third of the days to the next is not flat; memory that is only high is.
func TestMemoryIsFlat(t *testing.T) {
	days := func(of func(day int) int64) (list []Sample) {
		for i := range 120 {
			list = append(list, Sample{Memory: of(i)})
		}
		return list
	}
	for name, tt := range map[string]struct {
		of   func(int) int64
		flat bool
	}{
		"rises while growers register": {func(i int) int64 { return 1000 * int64(min(i, 40)) }, true},
		"swings":                       {func(i int) int64 { return 1000 + 100*int64(i%3) }, true},
		"leaks":                        {func(i int) int64 { return 1000 + 10*int64(i) }, false},
	} {
		if second, last, flat := memoryOf(days(tt.of)); flat != tt.flat {
			t.Errorf("%s: %g, then %g, flat %v", name, second, last, flat)
		}
	}
}

// An error in the log, a line that is no line of the log, and a grower's number are found.
func TestLogIsClean(t *testing.T) {
	for line, clean := range map[string]bool{
		`{"level":"info","message":"rowbell is listening"}`:            true,
		`{"level":"error","message":"bell: works no more"}`:            false,
		`panic: runtime error`:                                         false,
		`{"level":"info","phone":"` + stack.Phone(3).E164()[1:] + `"}`: false,
	} {
		w := new(world)
		ok(t, w.readLog(strings.NewReader(line+"\n")))
		if (w.found.count == 0) != clean {
			t.Errorf("%s: %q", line, w.found.list)
		}
	}
}

// A file that is a quarter larger than its rows is not as computed.
func TestSizeFits(t *testing.T) {
	s := Size{Computed: 1_000_000}
	for file, fits := range map[int64]bool{790_000: false, 810_000: true, 1_190_000: true, 1_210_000: false} {
		if s.File = file + 50_000; func() bool { s.Free = 50_000; return s.Fits() }() != fits {
			t.Errorf("%d octets fit: %v", file, !fits)
		}
	}
}
