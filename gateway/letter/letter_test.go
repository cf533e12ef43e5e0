package letter

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/store"
	"rowbell/store/testrun"
)

var noon = time.Date(2026, 6, 2, 12, 0, 0, 0, time.UTC)

// office is the fixture of these tests: records with growers at one place, and a writer.
type office struct {
	t      *testing.T
	s      *store.Store
	path   string
	w      *Writer
	clock  *clock.Manual
	place  int64
	queued int // how often the outbox was told
}

func newOffice(t *testing.T, growers int) *office {
	t.Helper()
	path := testrun.Records(t, func(address string) error {
		s, err := store.Open(context.Background(), address, store.Options{})
		if err != nil {
			return err
		}
		return s.Close()
	})
	o := &office{t: t, path: path, clock: clock.New(noon)}
	o.open()
	o.tx(func(tx *store.Tx) (err error) {
		o.place, err = tx.PutPlace(store.Place{Name: store.DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7,
			Normals: engine.Steady(20, 30).Normals})
		for i := range growers {
			var l *store.Ledger
			if err == nil {
				l, err = tx.Ledger(phone(i), noon.Unix())
			}
			if err == nil {
				err = l.Consent([]string{"en", "hi"}[i%2], "1", "ussd")
			}
		}
		return err
	})
	return o
}

func phone(i int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(i))) }

// open opens the records with a new writer, as a program does that was started again.
func (o *office) open() {
	o.t.Helper()
	s, err := store.Open(context.Background(), o.path, store.Options{RunTwice: true})
	if err != nil {
		o.t.Fatal(err)
	}
	o.t.Cleanup(func() { s.Close() })
	o.s, o.w = s, New(Options{Store: s, Clock: o.clock, Log: zerolog.Nop(), Queued: func() { o.queued++ }})
}

func (o *office) tx(f func(tx *store.Tx) error) {
	o.t.Helper()
	if err := o.s.InTx(context.Background(), f); err != nil {
		o.t.Fatal(err)
	}
}

func (o *office) letter() (id int64) {
	o.t.Helper()
	today := engine.DayOf(noon, time.UTC)
	o.tx(func(tx *store.Tx) (err error) {
		id, err = tx.AddLetter(store.Letter{Who: "mira", Filter: store.LetterFilter{Places: store.Scope{o.place}},
			Words:  map[string]string{"en": "A training on Friday.", "hi": "शुक्रवार को प्रशिक्षण।"},
			Begins: today, BeginsHour: 8, Until: today, QuietHour: 20, Confirmed: 1000}, noon.Unix())
		return err
	})
	return id
}

func (o *office) write(ctx context.Context) (int64, error) { return o.w.Write(ctx, o.clock.Now()) }

// inbox returns how many texts each of the first n growers has, and checks their language.
func (o *office) inbox(n int) (counts []int) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		counts = make([]int, n)
		for i := range n {
			texts, err := tx.Inbox(phone(i), 0)
			if err != nil {
				return err
			}
			counts[i] = len(texts)
			for _, m := range texts {
				if english := m.Text[0] == 'A'; english != (i%2 == 0) {
					o.t.Errorf("grower %d got %q", i, m.Text)
				}
			}
		}
		return nil
	})
	return counts
}

// A letter to 40 growers goes out once to each, in the own language, although the work is broken off after each slice
// and the program is started again.
func TestLetterGoesOutOnce(t *testing.T) {
	const growers = 40
	o := newOffice(t, growers)
	o.letter()
	var texts int64
	for range growers + 2 {
		ctx, broken := context.WithCancel(context.Background())
		err := o.s.Background(ctx, func(tx *store.Tx) (bool, error) {
			parts, err := tx.DueLetters(noon.Unix(), 1)
			if err != nil || len(parts) == 0 {
				return true, err
			}
			if _, _, err := tx.WriteLetter(parts[0], noon.Unix(), 3); err != nil {
				return true, err
			}
			tx.Kept(broken) // the first slice is stored, then the work ends
			return false, nil
		})
		broken()
		if err != nil && !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		if err := o.s.Close(); err != nil {
			t.Fatal(err)
		}
		o.open()
	}
	n, err := o.write(context.Background())
	if texts += n; err != nil {
		t.Fatal(err)
	}
	for i, n := range o.inbox(growers) {
		if n != 1 {
			t.Errorf("grower %d has %d texts", i, n)
		}
	}
}

// Write tells the outbox of new texts, and says how many it wrote.
func TestWrite(t *testing.T) {
	o := newOffice(t, 40)
	if n, err := o.write(context.Background()); n != 0 || err != nil || o.queued != 0 {
		t.Fatalf("without a letter: %d texts, %v, told %d times", n, err, o.queued)
	}
	o.letter()
	if n, err := o.write(context.Background()); n != 40 || err != nil || o.queued != 1 {
		t.Errorf("%d texts, %v, told %d times", n, err, o.queued)
	}
	if n, err := o.write(context.Background()); n != 0 || err != nil {
		t.Errorf("again: %d texts, %v", n, err)
	}
	ended, stop := context.WithCancel(context.Background())
	stop()
	o.letter()
	if n, _ := o.write(ended); n != 0 {
		t.Errorf("after the end: %d texts", n)
	}
}

// steps is a clock whose ticks a test sends: when the next tick is taken, the work of the one before is done.
type steps struct {
	clock.Clock
	ticks chan time.Time
}

func (s steps) Every(time.Duration) (<-chan time.Time, func()) { return s.ticks, func() {} }

// Run writes when the time has come, without being asked.
func TestRun(t *testing.T) {
	o := newOffice(t, 4)
	o.letter()
	ticks := make(chan time.Time)
	o.w.o.Clock = steps{o.clock, ticks}
	o.clock.Set(noon.Add(-5 * time.Hour))
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { o.w.Run(ctx); close(ended) }()
	for _, c := range []struct {
		hour   int // hours after seven o'clock
		queued int
	}{{0, 0}, {4, 0}, {5, 1}, {6, 1}} {
		o.clock.Set(noon.Add(time.Duration(c.hour-5) * time.Hour))
		ticks <- time.Time{}
		ticks <- time.Time{}
		if o.queued != c.queued {
			t.Errorf("%d hours after seven it was written %d times, not %d", c.hour, o.queued, c.queued)
		}
	}
	stop()
	<-ended
}
