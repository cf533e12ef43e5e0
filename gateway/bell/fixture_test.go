package bell

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
	"rowbell/store/testrun"
)

// valley is the fixture of these tests: a store with growers, and the bell that rings them.
type valley struct {
	t     testing.TB
	s     *store.Store
	path  string
	b     *Bell
	clock *clock.Manual
	seen  map[store.Phone]int64
}

// dawn is six o'clock on the first day, an hour before the bell may write texts.
var dawn = time.Date(2026, 11, 25, 6, 0, 0, 0, time.UTC)

func newValley(t testing.TB) *valley { return watchedValley(t, nil) }

// watchedValley returns a valley whose store measures the slices of background work.
func watchedValley(t testing.TB, stopwatch func() time.Duration) *valley {
	t.Helper()
	path := testrun.Records(t, makeRecords)
	_, test := t.(*testing.T) // and no benchmark
	s := must(store.Open(context.Background(), path, store.Options{Stopwatch: stopwatch, RunTwice: test}))
	t.Cleanup(func() { s.Close() })
	m := must(menu.New(must(text.Default()), menu.Options{}))
	v := &valley{t: t, s: s, path: path, clock: clock.New(dawn), seen: map[store.Phone]int64{}}
	v.b = New(Options{Store: s, QuietHour: 20, Menu: m, Clock: v.clock, Log: zerolog.Nop()})
	v.tx(func(tx *store.Tx) error {
		_, err := tx.PutPlace(store.Place{
			Name: store.DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7, Normals: engine.Steady(20, 30).Normals,
		})
		return err
	})
	return v
}

func makeRecords(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

// must returns v. It panics if there is an error, because the set-up of a test must not fail.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// ring runs the bell once and checks the number of texts that it wrote; -1 = any number.
func (v *valley) ring(want int) {
	v.t.Helper()
	if n, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || want >= 0 && n != want {
		v.t.Errorf("%d texts, %v; want %d", n, err, want)
	}
}

func (v *valley) tx(f func(tx *store.Tx) error) {
	v.t.Helper()
	if err := v.s.InTx(context.Background(), f); err != nil {
		v.t.Fatal(err)
	}
}

func phone(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

func (v *valley) as(n int, f func(l *store.Ledger) error) {
	v.t.Helper()
	v.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone(n), v.clock.Now().Unix())
		if err != nil {
			return err
		}
		return f(l)
	})
}

// grower registers a grower with one plot for each of these ages in days since planting.
func (v *valley) grower(n int, planted ...engine.Day) {
	v.t.Helper()
	v.tx(func(tx *store.Tx) error { return v.register(tx, phone(n), 0, planted...) })
}

// register adds a grower with one plot for each of these ages in days since planting. areaM2 is the area of each plot;
// 0 = unknown.
func (v *valley) register(tx *store.Tx, number store.Phone, areaM2 float64, planted ...engine.Day) error {
	l, err := tx.Ledger(number, v.clock.Now().Unix())
	if err != nil {
		return err
	}
	err = l.Consent("en", "1", "ussd")
	for _, ago := range planted {
		if err == nil {
			_, err = l.AddPlot(engine.Plot{
				Method: engine.Transplanted, Planted: l.Today() - ago, AreaM2: areaM2,
				RowSpacingCM: 20, HillSpacingCM: 20,
			}, engine.Tool{WidthCM: 15})
		}
	}
	return err
}

// days runs the bell every hour for this number of days. It returns the texts to a phone as "+day kind".
func (v *valley) days(n, days int) []string {
	v.t.Helper()
	start := engine.DayOf(dawn, time.UTC)
	var got []string
	for range days * 24 {
		v.clock.Advance(time.Hour)
		v.ring(-1)
		for _, m := range v.inbox(n) {
			got = append(got, fmt.Sprintf("%+d %s", engine.DayOf(time.Unix(m.CreatedAt, 0), time.UTC)-start, m.Kind()))
			if h := time.Unix(m.CreatedAt, 0).UTC().Hour(); h != 7 {
				v.t.Errorf("a text at %d:00, not in the morning", h)
			}
		}
	}
	return got
}

// inbox returns the texts to a phone since the last call of inbox.
func (v *valley) inbox(n int) (list []store.Message) {
	v.t.Helper()
	v.tx(func(tx *store.Tx) (err error) {
		list, err = tx.Inbox(phone(n), v.seen[phone(n)])
		return err
	})
	for _, m := range list {
		v.seen[phone(n)] = m.ID
	}
	return list
}

func equal(t *testing.T, got []string, want ...string) {
	t.Helper()
	if strings.Join(got, ", ") != strings.Join(want, ", ") {
		t.Errorf("got  %s\nwant %s", strings.Join(got, ", "), strings.Join(want, ", "))
	}
}

// fill registers growers with one plot each. The windows of all these plots open tomorrow.
func (v *valley) fill(n int) {
	for from := 0; from < n; from += 1000 {
		v.tx(func(tx *store.Tx) error {
			for i := from; i < min(from+1000, n); i++ {
				// Only a thousand numbers are reserved for fiction, fewer than the growers. So these numbers
				// have five digits too many to belong to anybody.
				number := store.Phone(fmt.Sprintf("+44%d%05d", 7700900000+int64(i%1000), i/1000))
				if err := v.register(tx, number, 600, 13); err != nil {
					return err
				}
			}
			return nil
		})
	}
}
