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
	view(t, s, func(tx *Tx) (err error) {
		list, err = tx.DueGrowers(at, 100)
		return err
	})
	return list
}

// The bell gets the same seasons as the ledger.
//
//revive:disable-next-line:function-length the comparison needs the whole set-up
func TestDueAgreesWithTheLedger(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) error {
		p := defaultPlace()
		p.Name, p.Zone, p.MorningHour = "delta", "Asia/Bangkok", 6
		_, err := tx.PutPlace(p)
		return err
	})
	putWeather(t, s, noon, measured(day0-3, 19, 33, nan))
	phones := []Phone{ana, ben, "+447700900003"}
	for i, p := range phones {
		withPlot(t, s, p)
		ledger(t, s, p, noon, func(l *Ledger) error {
			for no := 2; no <= i+1; no++ {
				if err := second(l.AddPlot(aPlot(), engine.Tool{})); err != nil {
					return err
				}
				for d := range engine.Day(no) {
					if err := l.LogPass(no, engine.Pass{On: day0 - d, With: engine.ByTool, Hours: float64(no),
						People: int(d)}); err != nil {
						return err
					}
					if err := l.See(no, engine.Sighting{On: day0 - d, Amount: engine.Some}); err != nil {
						return err
					}
				}
			}
			return l.SetHousehold(engine.Household{People: i})
		})
	}
	write(t, s, func(tx *Tx) error {
		return tx.Announce(2, engine.Window{Number: 1, Edition: 2, Opens: day0, Best: day0 + 1, Closes: day0 + 4})
	})
	execSQL(t, s, "UPDATE grower SET place_id = (SELECT id FROM place WHERE name = 'delta') WHERE phone = $1",
		ben.E164())
	told := []engine.Told{{Kind: engine.KindPrepare, Window: 1, On: day0 - 2},
		{Kind: engine.KindOpen, Window: 1, Edition: 1, On: day0}}
	ledger(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(2)
		for i := range told {
			if err == nil {
				_, err = l.tx.Tell(id, told[len(told)-1-i])
			}
		}
		return err
	})
	got := due(t, s, noon)
	fatalIf(t, len(got) != len(phones), "%d growers due, want %d", len(got), len(phones))
	for i, g := range got {
		errorIf(t, g.Phone != phones[i] || len(g.Plots) != i+1 || g.Language != "en", "grower %d: %+v", i, g)
		wantZone, wantHour := map[bool]string{false: "UTC", true: "Asia/Bangkok"}[i == 1], map[bool]int{false: 7,
			true: 6}[i == 1]
		errorIf(t, g.Zone.String() != wantZone || g.MorningHour != wantHour,
			"grower %d: zone %v, morning %d", i, g.Zone, g.MorningHour)
		for _, p := range g.Plots {
			season := season(t, s, g.Phone, p.No)
			errorIf(t, !equalSeasons(p.Season, season),
				"plot %d of grower %d\n due    %+v\n ledger %+v", p.No, i, p.Season, season)
		}
	}
	if !reflect.DeepEqual(got[1].Plots[1].Told, told) || got[1].Plots[0].Told != nil {
		t.Errorf("told %v and %v", got[1].Plots[0].Told, got[1].Plots[1].Told)
	}
}

func TestDueIsWhatIsDue(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
	withPlot(t, s, ben)
	look := func(p Phone, no int, at int64) {
		setLook(t, s, p, no, at)
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
		equal(t, describe(due(t, s, c.at)), c.want, "due at +%d", c.at-noon)
	}
	look(ana, 1, 0) // never
	equal(t, describe(due(t, s, noon+99)), "2:1 1:2 ", "due after one will never be looked at")
	// SetLook does not wake a plot that was closed since the bell read it.
	ledger(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		if err == nil {
			err = l.ClosePlot(1)
		}
		if err == nil {
			err = l.tx.SetLook(id, noon)
		}
		return err
	})
	equal(t, describe(due(t, s, noon+99)), "1:2 ", "due after a plot was closed")
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
		// a later window of that number
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 2, On: day0 + 1}, true},
		{told, false},
		{engine.Told{Kind: engine.KindNudge, Window: 1, Edition: 2, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 3, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 2, Edition: 2, On: day0}, true},
	} {
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.Tell(1, c.told) }), c.fresh, "%d: fresh", i)
	}
}

// equalSeasons compares seasons. Days of weather must be the same slice, because NaN does not equal
// itself.
func equalSeasons(a, b engine.Season) bool {
	y, z := a.Weather.Daily, b.Weather.Daily
	a.Weather.Daily, b.Weather.Daily = engine.Daily{}, engine.Daily{}
	return reflect.DeepEqual(a, b) && y.From == z.From && len(y.Days) == len(z.Days) &&
		(len(y.Days) == 0 || &y.Days[0] == &z.Days[0])
}

func TestOpenPlots(t *testing.T) {
	s := open(t)
	anotherPlace(t, s, "hills", "UTC")
	phones := []Phone{ana, ben, "+447700900003", "+447700900004", "+447700900005"}
	for _, p := range phones {
		withPlot(t, s, p)
	}
	ledger(t, s, phones[0], noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
	ledger(t, s, phones[0], noon, func(l *Ledger) error {
		return l.LogPass(2, engine.Pass{On: day0, With: engine.ByTool, Hours: 2, People: 1})
	})
	ledger(t, s, phones[1], noon, (*Ledger).Stop) // wants no texts, but may be visited
	ledger(t, s, phones[2], noon, func(l *Ledger) error { return l.ClosePlot(1) })
	execSQL(t, s, "UPDATE grower SET place_id = 2 WHERE phone = $1", phones[3].E164())
	for _, c := range []struct {
		place string
		limit int
		want  []Phone
	}{
		{DefaultPlace, 0, []Phone{phones[0], phones[1], phones[4]}},
		{DefaultPlace, 2, phones[:2]},
		{"hills", 10, phones[3:4]},
	} {
		var got []DueGrower
		view(t, s, func(tx *Tx) (err error) {
			got, err = tx.OpenPlots(c.place, c.limit)
			return err
		})
		fatalIf(t, len(got) != len(c.want), "%s: %d growers, want %d", c.place, len(got), len(c.want))
		for i, g := range got {
			nos := read(t, s, c.want[i], noon, (*Ledger).Plots)
			errorIf(t, g.Phone != c.want[i] || len(g.Plots) != len(nos) || g.Zone == nil,
				"%s: grower %d is %+v", c.place, i, g)
			for j, p := range g.Plots {
				season := season(t, s, g.Phone, nos[j])
				errorIf(t, p.No != nos[j] || !equalSeasons(p.Season, season),
					"%s: plot %d of grower %d\n got    %+v\n ledger %+v", c.place, j, i, p, season)
			}
		}
	}
	err := s.View(context.Background(), func(tx *Tx) error { return second(tx.OpenPlots("nowhere", 1)) })
	errorIf(t, err != ErrNoPlace, "nowhere: %v", err)
}
