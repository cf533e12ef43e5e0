package calls

import (
	"bytes"
	"context"
	"database/sql"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/cmd/rowbell-load/stack/stacktest"
	"rowbell/store"
)

// short is a load of two seconds in which a process is killed and suspended.
func short(t *testing.T) Options {
	return Options{For: 2 * time.Second, Rate: 60, Burst: 3, Think: time.Millisecond, Patience: 3 * time.Second,
		GiveUp: time.Minute, Stack: stack.Options{Program: stacktest.Program(t), Folder: t.TempDir()},
		Disturb: Disturb{Kill: 600 * time.Millisecond, Suspend: 700 * time.Millisecond,
			SuspendFor: 100 * time.Millisecond}}
}

func TestNothingIsLostUnderLoad(t *testing.T) {
	t.Parallel()
	o := short(t)
	r, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	if acknowledged, err := os.ReadFile(filepath.Join(o.Stack.Folder, ledgerFile)); err != nil ||
		int64(bytes.Count(acknowledged, []byte("\n"))) < r.Calls {
		t.Errorf("the file of what was acknowledged has less than %d lines (%v)", r.Calls, err)
	}
	var b strings.Builder
	r.Print(&b)
	t.Log(b.String())
	if r.NFaults != 0 || r.Calls == 0 || r.Growers == 0 || len(r.Troubles) == 0 || r.Texts["accepted"] == 0 {
		t.Error("something is wrong, or nothing was looked at")
	}
}

// A service that does not come back ends the run, and is named.
func TestGivesUpOnAServiceThatIsGone(t *testing.T) {
	t.Parallel()
	o := short(t)
	o.GiveUp = 100 * time.Millisecond
	ctx, giveUp := context.WithCancelCause(context.Background())
	l, err := start(ctx, o)
	if err != nil {
		t.Fatal(err)
	}
	defer l.stack.Close()
	l.giveUp = giveUp
	if err := l.stack.Kill(0); err != nil {
		t.Fatal(err)
	}
	l.calm(ctx)
	if err := context.Cause(ctx); err == nil || !strings.Contains(err.Error(), "a call was not acknowledged for") {
		t.Errorf("the run ended with %v", err)
	}
}

// A text that a grower misses is waited for, if it is still on its way in the records.
func TestWaitsForATextThatIsLate(t *testing.T) {
	t.Parallel()
	l, err := start(t.Context(), short(t))
	if err != nil {
		t.Fatal(err)
	}
	defer l.stack.Close()
	l.calm(t.Context())
	s, err := store.Open(t.Context(), l.stack.DB(), store.Options{Existing: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	phone, now := stack.Phone(0), time.Now().Unix()
	err = s.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{Key: "late", To: phone, Note: "reply", Text: "late", CreatedAt: now,
			DueAt: now + 2, UsefulUntil: now + 600})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	g := l.growers[phone]
	g.missing = append(g.missing, "late")
	if err := l.waitForLate(t.Context()); err != nil || !l.net.Took("late") {
		t.Errorf("%v; the text came: %v", err, l.net.Took("late"))
	}
}

// What is taken out of the records, or put into them, is found.
func TestLookFindsFaults(t *testing.T) {
	t.Parallel()
	o := short(t)
	o.Disturb = Disturb{}
	l, err := start(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	l.calm(context.Background())
	l.loaded(context.Background())
	if err := l.stack.Close(); err != nil || l.nFaults > 0 {
		t.Fatal(err, l.faults)
	}
	db, err := sql.Open("sqlite3", "file:"+l.stack.DB())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()

	for _, tt := range []struct{ harm, says string }{
		{"DELETE FROM pass WHERE plot_id = (SELECT max(plot_id) FROM pass)", "instead of"},
		{"UPDATE plot SET area_m2 = 601 WHERE id = (SELECT max(id) FROM plot)", "instead of"},
		{"UPDATE message SET body = 'Weed!' WHERE id = (SELECT max(id) FROM message)", "instead of"},
		{"UPDATE message SET key = 'k' WHERE id = (SELECT max(id) FROM message)", "the network got it: false"},
		{"DELETE FROM message WHERE id = (SELECT max(id) FROM message)", "instead of"},
	} {
		l.nFaults, l.faults = 0, nil
		if _, err := db.Exec(tt.harm); err != nil {
			t.Fatalf("%s: %v", tt.harm, err)
		}
		if err := l.look(context.Background()); err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(l.faults, func(f string) bool { return strings.Contains(f, tt.says) }) {
			t.Errorf("%s: %q", tt.harm, l.faults)
		}
	}
}

// A wrong screen, a wrong text and one too many are found.
func TestGrowersFindFaults(t *testing.T) {
	t.Parallel()
	o := short(t)
	o.Patience = time.Minute
	l, err := start(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	defer l.stack.Close()
	for _, tt := range []struct {
		wrong func(*act)
		says  string
	}{
		{func(a *act) { a.shows += "!" }, "shown"},
		{func(a *act) { a.ends = true }, "shown"},
		{func(a *act) {
			if len(a.texts) > 0 {
				a.texts = []string{"Welcome!"}
			}
		}, "got the text"},
	} {
		l.nFaults, l.faults = 0, nil
		s := l.scripts[0]
		s.acts = slices.Clone(s.acts[:2])
		for i := range s.acts {
			tt.wrong(&s.acts[i])
		}
		ended := make(chan struct{})
		l.come(context.Background(), &s, time.Now(), func() { close(ended) })
		<-ended
		if len(l.faults) != 1 || !strings.Contains(l.faults[0], tt.says) {
			t.Errorf("%q, want one that says %q", l.faults, tt.says)
		}
	}
	// A text that never comes is no fault until the records have been looked at.
	s := l.scripts[0]
	s.acts = slices.Clone(s.acts[:1])
	s.acts[0].texts = []string{"A text that nobody sends"}
	l.nFaults, l.faults, l.o.Patience = 0, nil, time.Second
	ended := make(chan struct{})
	l.come(context.Background(), &s, time.Now(), func() { close(ended) })
	<-ended
	g := l.growers[stack.Phone(len(l.growers)-1)]
	if l.lookAt(g, "", "", nil); len(l.faults) != 1 || !strings.Contains(l.faults[0], "never got") {
		t.Errorf("%q, want one that says that a text never came", l.faults)
	}
}

// The number of arrivals is that of the rate and the burst, and most of them come when the burst is.
func TestArrivals(t *testing.T) {
	for _, burst := range []float64{1, 5} {
		a := arrivals{rate: 50, burst: burst, length: 1000 * time.Second, rnd: rand.New(rand.NewPCG(7, 7))}
		n, before := 0, time.Duration(0)
		for at, more := a.next(); more; at, more = a.next() {
			if n++; at < before || at > a.length {
				t.Fatalf("an arrival at %v after one at %v", at, before)
			}
			before = at
		}
		// The integral of the rate; the standard deviation of a Poisson number is its root.
		want := 50 * 1000 * (1 + (burst-1)*burstFor*(1-math.Exp(-(1-burstAt)/burstFor)))
		if math.Abs(float64(n)-want) > 4*math.Sqrt(want) {
			t.Errorf("burst %g: %d arrivals, want about %.0f", burst, n, want)
		}
	}
}

func TestMorningZone(t *testing.T) {
	for hour := range 24 {
		now := time.Date(2026, 11, 25, hour, 59, 59, 0, time.UTC)
		name, offset := morningZone(now)
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		local := now.In(zone)
		if _, east := local.Zone(); local.Hour() != 9 || time.Duration(east)*time.Second != offset {
			t.Errorf("%v: %v in %s, offset %v", now, local, name, offset)
		}
	}
}

// A run ends if a process does not start again, and says so.
func TestRunThatCannotGoOn(t *testing.T) {
	t.Parallel()
	o := short(t)
	o.For = time.Hour
	o.Disturb = Disturb{Kill: 500 * time.Millisecond, Run: 200 * time.Millisecond,
		Command: "rm -f " + filepath.Join(o.Stack.Folder, "rowbell-1.toml")}
	_, err := Run(context.Background(), o)
	if err == nil || !strings.Contains(err.Error(), "a process is killed, and then: load-1 did not start") {
		t.Errorf("%v", err)
	}
}
