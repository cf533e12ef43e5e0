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
	write(t, s, func(tx *Tx) error { return tx.announce(plot, w) })
}

func windowFrom(d engine.Day) engine.Window {
	return engine.Window{Number: 2, Edition: 1, Opens: d, Best: d + 2, Closes: d + 5}
}

var (
	aPass         = engine.Pass{On: day0, With: engine.ByTool}
	aDayOfWeather = []WeatherDay{measured(day0, 20, 30, 1)}
)

// changes are events after a weeding window was announced. The field stays is false if the event must clear the
// announced window of the plot.
var changes = map[string]struct {
	do    func(*Ledger) error
	stays bool
}{
	"nothing":      {func(*Ledger) error { return nil }, true},
	"a look":       {func(l *Ledger) error { return l.tx.SetLook(1, noon+9) }, true},
	"reminder":     {func(l *Ledger) error { return second(l.tx.Tell(1, engine.Told{Kind: 1, On: day0})) }, true},
	"weather":      {func(l *Ledger) error { return l.tx.PutWeather(1, aDayOfWeather, noon) }, true},
	"money":        {func(l *Ledger) error { return l.SetHousehold(engine.Household{People: 4}) }, true},
	"another plot": {logPass(2, aPass), true},
	"supersede":    {func(l *Ledger) error { return l.tx.Supersede(1, noon, l.Zone(), noon) }, true},
	// After a pass (a weeding), the announced window is not used, because the next window has another number. If the
	// pass is undone, the announced window is used again. So a pass need not clear it.
	"a pass":       {logPass(1, aPass), true},
	"hours":        {func(l *Ledger) error { return l.AmendPass(1, aPass) }, true},
	"no pass":      {func(l *Ledger) error { return errors.Join(l.LogPass(1, aPass), l.UndoPass(1)) }, true},
	"the rows":     {see(1, engine.Sighting{On: day0, Rows: engine.RowsOpen}), false},
	"the weeds":    {see(1, engine.Sighting{On: day0, Leaves: engine.OneLeaf}), false},
	"the water":    {see(1, engine.Sighting{On: day0, Water: engine.StandsMud}), true},
	"planting day": {func(l *Ledger) error { p := aPlot(); p.Planted--; return l.ChangePlot(1, p, aTool()) }, false},
	"the tool":     {func(l *Ledger) error { return l.ChangePlot(1, aPlot(), engine.Tool{WidthCM: 11}) }, false},
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

// Only a report of the grower clears an announced window. The bell (the reminder job) and new weather do not.
func TestAnnouncedUntilTheGrowerChangesSomething(t *testing.T) {
	s := openWithTwoPlots(t)
	ledger(t, s, ana, noon, logPass(1, aPass))
	announcedWindow := windowFrom(day0 + 3)
	for name, c := range changes {
		t.Run(name, func(t *testing.T) {
			announce(t, s, 1, announcedWindow)
			want := announcedWindow
			if !c.stays {
				want = engine.Window{}
			}
			ledger(t, s, ana, noon, func(l *Ledger) error {
				before, err := l.Season(1)
				equal(t, before.Announced, announcedWindow, "announced before")
				err = errors.Join(err, c.do(l))
				after, err2 := l.Season(1)
				equal(t, after.Announced, want, "announced in the same transaction")
				return errors.Join(err, err2)
			})
			equal(t, announced(t, s, 1), want, "announced")
			equal(t, announced(t, s, 2), engine.Window{}, "announced of the other plot")
		})
	}
}

// If a text is withdrawn before it was sent, the previously announced window is restored.
func TestAnnouncedByATextThatIsTakenBack(t *testing.T) {
	s := openWithTwoPlots(t)
	first, moved := windowFrom(day0+3), windowFrom(day0+8)
	ring := func(key string, kind engine.Kind, at int64, w engine.Window, plots ...int64) int64 {
		t.Helper()
		write(t, s, func(tx *Tx) (err error) {
			for _, plot := range plots {
				told := engine.Told{Kind: kind, Window: w.Number, Edition: w.Edition, On: day0}
				err = errors.Join(err, second(tx.Tell(plot, told)))
				if (engine.Reminder{Kind: kind, Window: w}).Tells() {
					err = errors.Join(err, tx.announce(plot, w))
				}
			}
			return err
		})
		return enqueue(t, s, reminder(text(key, ana, at), kind, 1, plots...))
	}
	sent := func(id int64, key string) { settle(t, s, noon, Message{ID: id, Key: key}.Took("n")) }
	suppress := func() {
		t.Helper()
		equal(t, suppress(t, s, day0.At(21, time.UTC).Unix(), 10), 1, "texts withdrawn")
	}
	wantWindow := func(no int, want engine.Window, when string) {
		t.Helper()
		equal(t, announced(t, s, no), want, "%s: window of plot %d", when, no)
	}
	ring("a", engine.KindOpen, noon, first, 1, 2)
	suppress()
	for no := 1; no <= 2; no++ {
		wantWindow(no, engine.Window{}, "nothing was announced before a withdrawn text")
	}
	sent(ring("b", engine.KindOpen, noon, first, 1, 2), "b")
	sent(ring("c", engine.KindLastDays, noon, first, 1), "c")
	ring("d", engine.KindMoved, noon, moved, 1)
	wantWindow(1, moved, "a text moved the window")
	suppress()
	for no := 1; no <= 2; no++ {
		wantWindow(no, first, "the text that moved the window was withdrawn")
	}
	sent(ring("f", engine.KindMoved, noon, moved, 2), "f")
	for i, kind := range []engine.Kind{engine.KindMissed, engine.KindClosed} {
		ring(fmt.Sprint("g", i), kind, noon, moved, 2)
		suppress()
		wantWindow(2, moved, "the withdrawn text names no window")
	}
	ring("e", engine.KindNudge, noon, first, 1)
	suppress()
	wantWindow(1, first, "the withdrawn text named the same window")
}

// If a text ended without reaching its grower, its announcement is undone.
func TestAnnouncedByATextThatNeverCame(t *testing.T) {
	for name, end := range map[string]func(*Tx, Message) error{
		"stale":     func(tx *Tx, m Message) error { return second(tx.ExpireStale(m.UsefulUntil+60, 1000)) },
		"refused":   func(tx *Tx, m Message) error { return tx.Settle(noon, m.Refuse("no such number")) },
		"too late":  func(tx *Tx, m Message) error { return tx.Settle(noon, m.Again(m.UsefulUntil+1, "busy")) },
		"barred":    func(tx *Tx, m Message) error { return second(tx.Receipt("local", m.Key, Refused, noon, "")) },
		"delivered": func(tx *Tx, m Message) error { return second(tx.Receipt("local", m.Key, Delivered, noon, "")) },
		"unknown":   func(tx *Tx, m Message) error { return tx.Settle(noon, m.LostTrack("the line broke")) },
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			first, moved := windowFrom(day0+3), windowFrom(day0+9)
			announce(t, s, 1, first)
			told := engine.Told{Kind: engine.KindMoved, Window: 2, Edition: 1, On: day0}
			write(t, s, func(tx *Tx) error { return errors.Join(second(tx.Tell(1, told)), tx.announce(1, moved)) })
			m := reminder(text("k", ana, noon), engine.KindMoved, 1, 1)
			enqueue(t, s, m)
			if name != "stale" {
				m = claim(t, s, noon)[0]
			}
			write(t, s, func(tx *Tx) error { return end(tx, m) })
			want := first
			if name == "delivered" || name == "unknown" {
				want = moved
			}
			equal(t, announced(t, s, 1), want, "announced")
		})
	}
}

// A grower counts as asked for a look from the text that asks, unless this text never came.
func TestAskedForALook(t *testing.T) {
	for name, c := range map[string]struct {
		end  func(*Tx, Message) error
		want engine.Day
	}{
		"delivered": {func(tx *Tx, m Message) error {
			return second(tx.Receipt("local", m.Key, Delivered, noon, ""))
		}, day0},
		"unknown": {func(tx *Tx, m Message) error { return tx.Settle(noon, m.LostTrack("the line broke")) }, day0},
		"refused": {func(tx *Tx, m Message) error { return tx.Settle(noon, m.Refuse("no such number")) }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithTwoPlots(t)
			for i, told := range []engine.Told{{Kind: engine.KindOpen, Window: 1, On: day0 - 9},
				{Kind: engine.KindPrepare, Window: 1, On: day0}} {
				write(t, s, func(tx *Tx) error { return second(tx.Tell(1, told)) })
				equal(t, season(t, s, ana, 1).AskedOn, engine.Day(i)*day0, "asked for a look")
			}
			enqueue(t, s, reminder(text("k", ana, noon), engine.KindPrepare, 1, 1))
			m := claim(t, s, noon)[0]
			write(t, s, func(tx *Tx) error { return c.end(tx, m) })
			equal(t, season(t, s, ana, 1).AskedOn, c.want, "asked for a look")
			equal(t, season(t, s, ana, 2).AskedOn, 0, "asked for a look at the other plot")
			ledger(t, s, ana, noon, func(l *Ledger) error {
				before, err := l.Season(1)
				before.Plot.Planted++
				err = errors.Join(err, l.ChangePlot(1, before.Plot, before.Tool))
				after, err2 := l.Season(1)
				equal(t, after.AskedOn, 0, "asked before the planting day was corrected")
				return errors.Join(err, err2)
			})
		})
	}
}

// A text that was refused takes back only itself: an earlier text that asked for a look was read.
func TestARefusedTextLeavesTheEarlierOnes(t *testing.T) {
	s := openWithPlot(t, ana)
	for window, on := range []engine.Day{day0 - 20, day0} {
		told := engine.Told{Kind: engine.KindPrepare, Window: window + 1, On: on}
		write(t, s, func(tx *Tx) error { return second(tx.Tell(1, told)) })
	}
	enqueue(t, s, reminder(text("k", ana, noon), engine.KindPrepare, 1, 1))
	m := claim(t, s, noon)[0]
	write(t, s, func(tx *Tx) error { return tx.Settle(noon, m.Refuse("no such number")) })
	equal(t, season(t, s, ana, 1).AskedOn, day0-20, "asked for a look")
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
}
