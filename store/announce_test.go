package store

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"rowbell/engine"
)

func announced(t *testing.T, s *Store, no int) engine.Window {
	t.Helper()
	return season(t, s, ana, no).Announced
}

func announce(t *testing.T, s *Store, plot int64, w engine.Window) {
	t.Helper()
	write(t, s, func(tx *Tx) error { return tx.Announce(plot, w) })
}

func windowFrom(d engine.Day) engine.Window {
	return engine.Window{Number: 2, Edition: 1, Opens: d, Best: d + 2, Closes: d + 5}
}

var aPass = engine.Pass{On: day0, With: engine.ByTool}

var changes = map[string]struct {
	do    func(*Ledger) error
	holds bool
}{
	"nothing": {func(l *Ledger) error { return nil }, true},
	"a look":  {func(l *Ledger) error { return l.tx.SetLook(1, noon+9) }, true},
	"something": {func(l *Ledger) error {
		return second(l.tx.Tell(1,
			engine.Told{Kind: 1, Window: 1, On: day0}))
	}, true},
	"weather": {func(l *Ledger) error {
		return l.tx.PutWeather(1, []WeatherDay{measured(day0, 20, 30, 1)},
			noon)
	}, true},
	"money":        {func(l *Ledger) error { return l.SetHousehold(engine.Household{People: 4}) }, true},
	"another plot": {func(l *Ledger) error { return l.LogPass(2, aPass) }, true},
	"supersede":    {func(l *Ledger) error { return l.tx.Supersede(1, noon, l.Zone(), noon) }, true},
	// A pass ends its window, and the next window has another number; undoing the pass restores the
	// announcement.
	"a pass":  {func(l *Ledger) error { return l.LogPass(1, aPass) }, true},
	"hours":   {func(l *Ledger) error { return l.AmendPass(1, aPass) }, true},
	"no pass": {func(l *Ledger) error { return errors.Join(l.LogPass(1, aPass), l.UndoPass(1)) }, true},
	"the rows": {func(l *Ledger) error {
		return l.See(1,
			engine.Sighting{On: day0, Rows: engine.RowsOpen})
	}, false},
	"the weeds": {func(l *Ledger) error {
		return l.See(1,
			engine.Sighting{On: day0, Leaves: engine.OneLeaf})
	}, false},
	"the water": {func(l *Ledger) error {
		return l.See(1,
			engine.Sighting{On: day0, Water: engine.StandsMud})
	}, true},
	"planting day": {func(l *Ledger) error { p := aPlot(); p.Planted--; return l.ChangePlot(1, p, aTool()) },
		false},
	"the tool": {func(l *Ledger) error { return l.ChangePlot(1, aPlot(), engine.Tool{WidthCM: 11}) }, false},
	"name, soil, size, inlet": {func(l *Ledger) error {
		s, err := l.Season(1)
		p := s.Plot
		p.Label, p.Soil, p.AreaM2, p.InflowLS = "other", engine.SoilLight, 77, 3
		return errors.Join(err, l.ChangePlot(1, p, s.Tool))
	}, true},
	"herbicide":     {func(l *Ledger) error { return l.TellHerbicide(1, 20) }, true},
	"another place": {func(l *Ledger) error { return l.SetPlace(DefaultPlace) }, true},
	"when stopped": {func(l *Ledger) error {
		return errors.Join(l.Stop(), l.See(1, engine.Sighting{On: day0, Leaves: engine.OneLeaf}), l.Start())
	}, false},
}

// An announced window stays until the grower's own news moves it. The bell and the weather do not
// change it.
func TestAnnouncedUntilTheGrowerChangesSomething(t *testing.T) {
	s := open(t)
	withTwoPlots(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.LogPass(1, aPass) })
	want := windowFrom(day0 + 3)
	for name, c := range changes {
		t.Run(name, func(t *testing.T) {
			announce(t, s, 1, want)
			ledger(t, s, ana, noon, func(l *Ledger) error {
				before, err := l.Season(1)
				errorIf(t, err != nil || before.Announced != want, "announced %+v, %v", before.Announced, err)
				if err := c.do(l); err != nil {
					return err
				}
				after, err := l.Season(1)
				errorIf(t, c.holds != (after.Announced == want) || !c.holds && after.Announced.Exists(),
					"in the same transaction: announced %+v", after.Announced)
				return err
			})
			if w := announced(t, s, 1); c.holds != (w == want) || !c.holds && w.Exists() {
				t.Errorf("announced %+v", w)
			}
			if w := announced(t, s, 2); w.Exists() {
				t.Errorf("announced of the other plot: %+v", w)
			}
		})
	}
}

// A text that is withdrawn before it was sent announced nothing: the window announced before counts
// again.
//
//revive:disable-next-line:function-length one history of a window
func TestAnnouncedByATextThatIsTakenBack(t *testing.T) {
	s := open(t)
	withTwoPlots(t, s, ana)
	first, moved := windowFrom(day0+3), windowFrom(day0+8)
	ring := func(key string, kind engine.Kind, at int64, w engine.Window, plots ...int64) int64 {
		t.Helper()
		write(t, s, func(tx *Tx) error {
			for _, plot := range plots {
				if err := second(tx.Tell(plot, engine.Told{Kind: kind, Window: w.Number, Edition: w.Edition,
					On: day0})); err != nil {
					return err
				}
				if !(engine.Reminder{Kind: kind, Window: w}).Tells() {
					continue
				}
				if err := tx.Announce(plot, w); err != nil {
					return err
				}
			}
			return nil
		})
		m := text(key, ana, at)
		m.Reminder, m.Note, m.PlotIDs, m.GrowerID = kind, "", plots, 1
		return enqueue(t, s, m)
	}
	sent := func(id int64) {
		t.Helper()
		write(t, s, func(tx *Tx) error {
			m := Message{ID: id}
			if _, err := tx.one("SELECT key FROM message WHERE id = $1", args(id), &m.Key); err != nil {
				return err
			}
			return tx.Settle(noon, m.Took("n"))
		})
	}
	suppress := func() {
		t.Helper()
		night := day0.At(21, time.UTC).Unix()
		equal(t, get(t, s, func(tx *Tx) (int, error) { return tx.SuppressAtNight(night, 20, 10) }), 1,
			"texts were taken back")
	}
	// Nothing was announced before.
	ring("a", engine.KindPrepare, noon, first, 1, 2)
	suppress()
	for no := 1; no <= 2; no++ {
		if w := announced(t, s, no); w.Exists() {
			t.Errorf("plot %d: announced %+v by a text that nobody got", no, w)
		}
	}
	// The first text and a reminder of the same window were sent; the text that moves the window was
	// not.
	sent(ring("b", engine.KindPrepare, noon, first, 1, 2))
	sent(ring("c", engine.KindOpen, noon, first, 1))
	ring("d", engine.KindMoved, noon, moved, 1)
	equal(t, announced(t, s, 1), moved, "announced")
	suppress()
	for no := 1; no <= 2; no++ {
		equal(t, announced(t, s, no), first, "plot %d: announced", no)
	}
	// A text that names no window changes no announcement.
	sent(ring("f", engine.KindMoved, noon, moved, 2))
	for i, kind := range []engine.Kind{engine.KindMissed, engine.KindClosed} {
		ring(fmt.Sprint("g", i), kind, noon, moved, 2)
		suppress()
		equal(t, announced(t, s, 2), moved, "%v: announced", kind)
	}
	// A withdrawn reminder of the same window changes no announcement.
	ring("e", engine.KindNudge, noon, first, 1)
	suppress()
	equal(t, announced(t, s, 1), first, "announced")
}

// A text that ended without reaching its grower announced nothing.
func TestAnnouncedByATextThatNeverCame(t *testing.T) {
	for name, end := range map[string]func(*Tx, Message) error{
		"stale":    func(tx *Tx, m Message) error { return second(tx.ExpireStale(m.UsefulUntil + 1)) },
		"refused":  func(tx *Tx, m Message) error { return tx.Settle(noon, m.Refuse("no such number")) },
		"too late": func(tx *Tx, m Message) error { return tx.Settle(noon, m.Again(m.UsefulUntil+1, "busy")) },
		"receipt": func(tx *Tx, m Message) error {
			return second(tx.Receipt("local", m.Key, Refused, noon,
				"barred"))
		},
		"delivered": func(tx *Tx, m Message) error { return second(tx.Receipt("local", m.Key, Delivered, noon, "")) },
		"unknown":   func(tx *Tx, m Message) error { return tx.Settle(noon, m.LostTrack("the line broke")) },
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			withPlot(t, s, ana)
			first, then := windowFrom(day0+3), windowFrom(day0+9)
			announce(t, s, 1, first)
			write(t, s, func(tx *Tx) error {
				if err := errors.Join(second(tx.Tell(1, engine.Told{Kind: engine.KindMoved, Window: 2, Edition: 1,
					On: day0})), tx.Announce(1, then)); err != nil {
					return err
				}
				_, err := tx.Enqueue(Message{Key: "k", GrowerID: 1, PlotIDs: []int64{1}, To: ana,
					Reminder: engine.KindMoved, Text: "x",
					CreatedAt: noon, DueAt: noon, UsefulUntil: noon + 60})
				return err
			})
			var m Message
			if name != "stale" {
				write(t, s, func(tx *Tx) error {
					claims, err := tx.Claim(noon, local(1))
					if err == nil {
						m = claims.Texts[0]
					}
					return err
				})
			} else {
				m.UsefulUntil = noon + 60
			}
			write(t, s, func(tx *Tx) error { return end(tx, m) })
			want := first
			if name == "delivered" || name == "unknown" {
				want = then
			}
			equal(t, announced(t, s, 1), want, "announced")
		})
	}
}
