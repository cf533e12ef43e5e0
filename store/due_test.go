package store

import (
	"context"
	"fmt"
	"reflect"
	"testing"

	"rowbell/engine"
)

func due(t testing.TB, s *Store, at int64) []DueGrower {
	t.Helper()
	var list []DueGrower
	err := s.View(context.Background(), func(tx *Tx) (err error) {
		list, err = tx.DueGrowers(at, 100)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// What the bell gets is what the ledger would give, plot by plot.
func TestDueAgreesWithTheLedger(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) error {
		p := defaultPlace()
		p.Name, p.Zone, p.MorningHour = "delta", "Asia/Bangkok", 6
		_, err := tx.PutPlace(p)
		return err
	})
	phones := []Phone{ana, ben, "+447700900003"}
	for i, p := range phones {
		withPlot(t, s, p)
		keep(t, s, p, noon, func(l *Ledger) error {
			for no := 2; no <= i+1; no++ {
				if err := second(l.AddPlot(aPlot(), engine.Tool{})); err != nil {
					return err
				}
				for d := range engine.Day(no) {
					if err := l.LogPass(no, engine.Pass{On: day0 - d, With: engine.ByHand}); err != nil {
						return err
					}
					if err := l.See(no, engine.Sighting{On: day0 - d, Amount: engine.Some}); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
	write(t, s, func(tx *Tx) error {
		_, err := tx.exec("UPDATE grower SET place_id = (SELECT id FROM place WHERE name = 'delta') WHERE phone = $1", ben.E164())
		return err
	})
	told := []engine.Told{{Kind: engine.KindPrepare, Window: 1, On: day0 - 2}, {Kind: engine.KindOpen, Window: 1, Edition: 1, On: day0}}
	keep(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(2)
		for i := range told {
			if err == nil {
				_, err = l.tx.Tell(id, told[len(told)-1-i])
			}
		}
		return err
	})
	got := due(t, s, noon)
	if len(got) != len(phones) {
		t.Fatalf("%d growers due, want %d", len(got), len(phones))
	}
	for i, g := range got {
		if g.Phone != phones[i] || len(g.Plots) != i+1 || g.Language != "en" {
			t.Errorf("grower %d: %+v", i, g)
		}
		if wantZone, wantHour := map[bool]string{false: "UTC", true: "Asia/Bangkok"}[i == 1], map[bool]int{false: 7, true: 6}[i == 1]; g.Zone.String() != wantZone || g.MorningHour != wantHour {
			t.Errorf("grower %d: zone %v, morning %d", i, g.Zone, g.MorningHour)
		}
		for _, p := range g.Plots {
			season := read(t, s, g.Phone, noon, func(l *Ledger) (engine.Season, error) { return l.Season(p.No) })
			if !reflect.DeepEqual(p.Season, season) {
				t.Errorf("plot %d of grower %d\n due    %+v\n ledger %+v", p.No, i, p.Season, season)
			}
		}
	}
	if !reflect.DeepEqual(got[1].Plots[1].Told, told) || got[1].Plots[0].Told != nil {
		t.Errorf("told %v and %v", got[1].Plots[0].Told, got[1].Plots[1].Told)
	}
}

func TestDueIsWhatIsDue(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	keep(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
	withPlot(t, s, ben)
	look := func(p Phone, no int, at int64) {
		keep(t, s, p, noon, func(l *Ledger) error {
			id, err := l.PlotID(no)
			if err != nil {
				return err
			}
			return l.tx.SetLook(id, at)
		})
	}
	describe := func(list []DueGrower) (text string) {
		for _, g := range list {
			text += g.Phone.String()[len(g.Phone.String())-1:] + ":"
			for _, p := range g.Plots {
				text += fmt.Sprint(p.No)
			}
			text += " "
		}
		return text
	}
	look(ana, 1, noon+10)
	look(ana, 2, noon+30)
	look(ben, 1, noon+20)
	for _, c := range []struct {
		at   int64
		want string
	}{{noon + 9, ""}, {noon + 10, "1:1 "}, {noon + 20, "1:1 2:1 "}, {noon + 30, "1:12 2:1 "}} {
		if got := describe(due(t, s, c.at)); got != c.want {
			t.Errorf("due at +%d: %q, want %q", c.at-noon, got, c.want)
		}
	}
	look(ana, 1, 0) // never
	if got := describe(due(t, s, noon+99)); got != "2:1 1:2 " {
		t.Errorf("due after one will never be looked at: %q", got)
	}
	// A plot that is out of sight stays so, whatever a bell that read it before decides.
	keep(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		if err == nil {
			err = l.ClosePlot(1)
		}
		if err == nil {
			err = l.tx.SetLook(id, noon)
		}
		return err
	})
	if got := describe(due(t, s, noon+99)); got != "1:2 " {
		t.Errorf("due after a plot was closed: %q", got)
	}
}

func TestTellOnce(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	told := engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 2, On: day0}
	for i, c := range []struct {
		told  engine.Told
		fresh bool
	}{
		{told, true}, {told, false},
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 2, On: day0 + 1}, true}, // a later window of that number
		{told, false},
		{engine.Told{Kind: engine.KindNudge, Window: 1, Edition: 2, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 3, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 2, Edition: 2, On: day0}, true},
	} {
		write(t, s, func(tx *Tx) error {
			fresh, err := tx.Tell(1, c.told)
			if fresh != c.fresh {
				t.Errorf("%d: fresh %v, want %v", i, fresh, c.fresh)
			}
			return err
		})
	}
}
