package bell

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// valley is a store with growers in it and a bell to ring them.
type valley struct {
	t     testing.TB
	s     *store.Store
	b     *Bell
	clock *clock.Manual
	seen  map[store.Phone]int64
}

// dawn is six in the morning, local, of the day that tests begin: an hour
// before growers may be rung.
var dawn = time.Date(2026, 11, 25, 6, 0, 0, 0, time.UTC)

func newValley(t testing.TB) *valley {
	t.Helper()
	s, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "rowbell.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	m, err := menu.New(cat, menu.Options{})
	if err != nil {
		t.Fatal(err)
	}
	v := &valley{t: t, s: s, clock: clock.New(dawn), seen: map[store.Phone]int64{}}
	v.b = New(Options{Store: s, QuietHour: 20, Menu: m, Clock: v.clock, Log: zerolog.Nop()})
	v.tx(func(tx *store.Tx) error {
		_, err := tx.PutPlace(store.Place{Name: store.DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7, Normals: engine.Steady(20, 30).Normals})
		return err
	})
	return v
}

func (v *valley) tx(f func(tx *store.Tx) error) {
	v.t.Helper()
	if err := v.s.InTx(context.Background(), f); err != nil {
		v.t.Fatal(err)
	}
}

func phone(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+n)) }

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

// grower registers a plot planted so many days ago.
func (v *valley) grower(n int, planted ...engine.Day) {
	v.t.Helper()
	v.as(n, func(l *store.Ledger) error {
		if err := l.Consent("en", "1", "ussd"); err != nil {
			return err
		}
		for _, ago := range planted {
			p := engine.Plot{Method: engine.Transplanted, Planted: l.Today() - ago, RowSpacingCM: 20, HillSpacingCM: 20}
			if _, err := l.AddPlot(p, engine.Tool{WidthCM: 15}); err != nil {
				return err
			}
		}
		return nil
	})
}

// days lets so many days pass, the bell ringing every hour, and returns what
// a phone got: "day+N kind".
func (v *valley) days(n, days int) []string {
	v.t.Helper()
	start := engine.DayOf(dawn, time.UTC)
	var got []string
	for range days * 24 {
		v.clock.Advance(time.Hour)
		if _, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil {
			v.t.Fatal(err)
		}
		for _, m := range v.inbox(n) {
			got = append(got, fmt.Sprintf("%+d %s", engine.DayOf(time.Unix(m.CreatedAt, 0), time.UTC)-start, m.Kind()))
			if h := time.Unix(m.CreatedAt, 0).UTC().Hour(); h != 7 {
				v.t.Errorf("a text at %d:00, not in the morning", h)
			}
		}
	}
	return got
}

func (v *valley) inbox(n int) []store.Message {
	v.t.Helper()
	var list []store.Message
	if err := v.s.View(context.Background(), func(tx *store.Tx) error {
		var err error
		list, err = tx.Inbox(phone(n), v.seen[phone(n)])
		return err
	}); err != nil {
		v.t.Fatal(err)
	}
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

// TestSilentGrower gets every kind once, in order. At 25 °C a flooded plot's
// window is days 18 to 24 after planting by the engine's weed clock.
func TestSilentGrower(t *testing.T) {
	v := newValley(t)
	v.grower(1, 10)
	equal(t, v.days(1, 60), "+6 prepare", "+8 open", "+11 nudge", "+13 last-days", "+15 missed", "+31 prepare", "+33 open", "+35 nudge", "+37 last-days", "+39 closed")
}

// TestSilentNumber: from the 90th day without a word on, plots are called by
// their numbers, for the number may be another's; after a word by their names.
func TestSilentNumber(t *testing.T) {
	v := newValley(t)
	v.grower(1)
	v.clock.Advance(82 * 24 * time.Hour)
	v.as(1, func(l *store.Ledger) error { // a plot in whose season the 90th day falls
		_, err := l.AddPlot(engine.Plot{Label: "wellside", Method: engine.Transplanted, Planted: l.Today() - 10, RowSpacingCM: 20, HillSpacingCM: 20}, engine.Tool{WidthCM: 15})
		return err
	})
	for _, c := range []struct {
		days         int
		kind         string
		named, heard bool
	}{{7, "prepare", true, false}, {1, "open", false, false}, {3, "nudge", true, true}} {
		if c.heard {
			v.as(1, (*store.Ledger).Confirm)
		}
		v.clock.Advance(time.Duration(c.days) * 24 * time.Hour)
		v.clock.Set(v.clock.Now().Truncate(24 * time.Hour).Add(7 * time.Hour))
		if _, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil {
			t.Fatal(err)
		}
		list := v.inbox(1)
		if len(list) != 1 || list[0].Kind() != c.kind || strings.HasPrefix(list[0].Text, "wellside: ") != c.named || strings.HasPrefix(list[0].Text, "Plot 1: ") == c.named {
			t.Fatalf("want %+v, got %+v", c, list)
		}
	}
}

// TestAnswered: a logged pass ends the window's texts and starts the next.
func TestAnswered(t *testing.T) {
	v := newValley(t)
	v.grower(1, 16)
	equal(t, v.days(1, 3), "+0 prepare", "+2 open")
	v.as(1, func(l *store.Ledger) error {
		return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool, Left: engine.Many})
	})
	got := v.days(1, 12)
	if len(got) < 2 || !strings.HasSuffix(got[0], "prepare") || !strings.HasSuffix(got[1], "open") {
		t.Errorf("after the pass came %v", got)
	}
}

// TestOutage: three days off bring one text, the one that is true today.
func TestOutage(t *testing.T) {
	v := newValley(t)
	v.grower(1, 10)
	equal(t, v.days(1, 7), "+6 prepare")
	v.clock.Advance(5 * 24 * time.Hour) // past open, into the middle
	equal(t, v.days(1, 1), "+12 open")
	v.clock.Advance(10 * 24 * time.Hour)
	equal(t, v.days(1, 1), "+23 missed")
}

// TestQuietHours: what falls due in the evening waits for the morning.
func TestQuietHours(t *testing.T) {
	v := newValley(t)
	v.clock.Set(dawn.Add(15 * time.Hour)) // 21:00
	v.grower(1, 19)
	if n, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || n != 0 {
		t.Fatalf("%d texts in the evening, %v", n, err)
	}
	equal(t, v.days(1, 1), "+1 open")
}

// TestRegisteredToday: the screen has just said it; the text comes tomorrow.
func TestRegisteredToday(t *testing.T) {
	v := newValley(t)
	v.clock.Set(dawn.Add(6 * time.Hour))
	v.grower(1, 19)
	if n, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || n != 0 {
		t.Fatalf("%d texts on the day of registration, %v", n, err)
	}
	equal(t, v.days(1, 1), "+1 open")
}

// TestTwoPlotsShare: two plots with the same news share one text; a third
// gets its own; the last text asks about what it names.
func TestTwoPlotsShare(t *testing.T) {
	v := newValley(t)
	v.grower(1, 18, 18, 10)
	got := v.days(1, 1)
	equal(t, got, "+0 open")
	v.tx(func(tx *store.Tx) error {
		list, err := tx.Inbox(phone(1), 0)
		if err == nil && !strings.Contains(list[0].Text, "Plot 1 and Plot 2") {
			t.Errorf("the text is %q", list[0].Text)
		}
		p, ok, err := tx.Prompt(phone(1))
		if err != nil || !ok || len(p.Body) == 0 {
			t.Errorf("no prompt: %v", err)
		}
		return err
	})
}

// TestOneQuestionAMorning: two plots with different questions are asked about
// on two mornings, so that a digit is never in doubt.
func TestOneQuestionAMorning(t *testing.T) {
	v := newValley(t)
	v.grower(1, 19, 23)
	equal(t, v.days(1, 2), "+0 last-days", "+1 open")
}

// TestThirdPlotIsAskedTheNextMorning: two share a text, the third waits.
func TestThirdPlotIsAskedTheNextMorning(t *testing.T) {
	v := newValley(t)
	v.grower(1, 18, 18, 18)
	equal(t, v.days(1, 2), "+0 open", "+1 open")
}

// TestStoppedIsNotRung, and is rung again once texts are welcome.
func TestStoppedIsNotRung(t *testing.T) {
	v := newValley(t)
	v.grower(1, 17)
	v.as(1, (*store.Ledger).Stop)
	equal(t, v.days(1, 2))
	v.as(1, (*store.Ledger).Start)
	equal(t, v.days(1, 1), "+2 open")
}

// TestNewerTextReplacesOneThatWaits: with the network down, the outbox never
// holds two texts about one plot.
func TestNewerTextReplacesOneThatWaits(t *testing.T) {
	v := newValley(t)
	v.grower(1, 14)
	v.days(1, 12)
	v.tx(func(tx *store.Tx) error {
		list, err := tx.Inbox(phone(1), 0)
		waiting := 0
		for _, m := range list {
			if m.State == store.Queued {
				waiting++
			}
		}
		if waiting != 1 {
			t.Errorf("%d texts wait", waiting)
		}
		return err
	})
}

// TestRingIsIdempotent: ringing twice at one instant rings once.
func TestRingIsIdempotent(t *testing.T) {
	v := newValley(t)
	v.grower(1, 18)
	v.clock.Set(dawn.Add(time.Hour))
	first, err := v.b.Ring(context.Background(), v.clock.Now())
	if err != nil {
		t.Fatal(err)
	}
	second, err := v.b.Ring(context.Background(), v.clock.Now())
	if err != nil {
		t.Fatal(err)
	}
	if first != 1 || second != 0 {
		t.Errorf("rang %d, then %d times", first, second)
	}
}

// TestJointTextTakenBack: of two plots that share a text which was not sent
// yet one is weeded; the other is rung again the same morning.
func TestJointTextTakenBack(t *testing.T) {
	v := newValley(t)
	v.grower(1, 18, 18)
	v.clock.Set(dawn.Add(time.Hour))
	ring := func(want int) {
		t.Helper()
		if n, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || n != want {
			t.Errorf("%d texts, %v; want %d", n, err, want)
		}
	}
	ring(1)
	v.clock.Advance(30 * time.Minute)
	v.as(1, func(l *store.Ledger) error {
		return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool})
	})
	ring(1)
	list := v.inbox(1)
	if len(list) != 2 || list[0].State != store.Withdrawn || list[1].State != store.Queued || !strings.Contains(list[1].Text, "Plot 2") || strings.Contains(list[1].Text, "Plot 1") {
		t.Errorf("the outbox holds %+v", list)
	}
	ring(0)
}

// TestJointTextSuperseded: a shared text still waits when one of its plots has
// news; the other is rung again on that very morning, by itself.
func TestJointTextSuperseded(t *testing.T) {
	v := newValley(t)
	v.grower(1, 21, 18)
	v.clock.Set(dawn.Add(90 * time.Minute))
	for day, want := range []int{1, 0, 2} {
		if n, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || n != want {
			t.Errorf("day %d: %d texts, %v; want %d", day, n, err, want)
		}
		v.clock.Advance(24 * time.Hour)
	}
	var got []string
	for _, m := range v.inbox(1) {
		got = append(got, m.Kind()+" "+m.State.String())
	}
	equal(t, got, "open withdrawn", "last-days queued", "open queued")
}

// BenchmarkRing is a bell pass over 100,000 due plots: plans made, texts
// rendered, outbox and next look written.
func BenchmarkRing(b *testing.B) {
	const growers = 100_000
	for b.Loop() {
		b.StopTimer()
		v := newValley(b)
		v.fill(growers)
		v.clock.Set(dawn.Add(25 * time.Hour))
		b.StartTimer()
		n, err := v.b.Ring(context.Background(), v.clock.Now())
		if err != nil {
			b.Fatal(err)
		}
		if n != growers {
			b.Fatalf("%d texts for %d plots", n, growers)
		}
	}
	b.ReportMetric(growers*float64(b.N)/b.Elapsed().Seconds(), "plots/s")
}

// fill makes growers with one plot each, all in their window tomorrow.
func (v *valley) fill(n int) {
	for from := 0; from < n; from += 1000 {
		v.tx(func(tx *store.Tx) error {
			for i := from; i < min(from+1000, n); i++ {
				// Numbers past the thousand that are safe to show never leave
				// this benchmark's temporary file.
				l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d%05d", 7700900000+i%1000, i/1000)), v.clock.Now().Unix())
				if err != nil {
					return err
				}
				if err := l.Consent("en", "1", "ussd"); err != nil {
					return err
				}
				p := engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 18, RowSpacingCM: 20, HillSpacingCM: 20, AreaM2: 600}
				if _, err := l.AddPlot(p, engine.Tool{WidthCM: 15}); err != nil {
					return err
				}
			}
			return nil
		})
	}
}
