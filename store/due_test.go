package store

import (
	"errors"
	"fmt"
	"reflect"
	"testing"

	"rowbell/engine"
)

func due(t testing.TB, s *Store, at int64) []DueGrower {
	t.Helper()
	return get(t, s, func(tx *Tx) ([]DueGrower, error) { return tx.DueGrowers(at, 100) })
}

// For each grower, DueGrowers returns the same seasons as the grower's Ledger.
func TestDueAgreesWithTheLedger(t *testing.T) {
	s := open(t)
	putWeather(t, s, noon, measured(day0-3, 19, 33, nan))
	phones := []Phone{ana, ben, cleo}
	for i, p := range phones {
		withPlot(t, s, p)
		ledger(t, s, p, noon, func(l *Ledger) (err error) {
			for no := 2; no <= i+1; no++ {
				err = errors.Join(err, second(l.AddPlot(aPlot(), engine.Tool{})))
				for d := range engine.Day(no) {
					pass := engine.Pass{On: day0 - d, With: engine.ByTool, Hours: float64(no), People: int(d)}
					seen := engine.Sighting{On: day0 - d, Amount: engine.Some}
					err = errors.Join(err, l.LogPass(no, pass), l.See(no, seen))
				}
			}
			return errors.Join(err, l.SetHousehold(engine.Household{People: i}))
		})
	}
	announce(t, s, 2, windowFrom(day0))
	anotherPlace(t, s, "delta", "Asia/Bangkok", ben)
	execSQL(t, s, "UPDATE place SET morning_hour = 6 WHERE name = 'delta'")
	told := []engine.Told{{Kind: engine.KindPrepare, Window: 1, On: day0 - 2},
		{Kind: engine.KindOpen, Window: 1, Edition: 1, On: day0}}
	ledger(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(2)
		return errors.Join(err, second(l.tx.Tell(id, told[1])), second(l.tx.Tell(id, told[0])))
	})
	got := due(t, s, noon)
	fatalIf(t, len(got) != len(phones), "%d growers due, want %d", len(got), len(phones))
	for i, g := range got {
		errorIf(t, g.Phone != phones[i] || len(g.Plots) != i+1 || g.Language != "en", "grower %d: %+v", i, g)
		zone, hour := "UTC", 7
		if g.Phone == ben {
			zone, hour = "Asia/Bangkok", 6
		}
		equal(t, g.Zone.String(), zone, "zone of grower %d", i)
		equal(t, g.MorningHour, hour, "morning of grower %d", i)
		for _, p := range g.Plots {
			season := season(t, s, g.Phone, p.No)
			errorIf(t, !equalSeasons(p.Season, season),
				"plot %d of grower %d\n due    %+v\n ledger %+v", p.No, i, p.Season, season)
		}
	}
	equal(t, got[1].Plots[0].Told, nil, "told of the first plot")
	equal(t, got[1].Plots[1].Told, told, "told of the second plot")
}

func TestDueIsWhatIsDue(t *testing.T) {
	s := openWithTwoPlots(t)
	withPlot(t, s, ben)
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
	setLook(t, s, ana, 1, noon+10)
	setLook(t, s, ana, 2, noon+30)
	setLook(t, s, ben, 1, noon+20)
	for _, c := range []struct {
		at   int64
		want string
	}{{noon + 9, ""}, {noon + 10, "1:1 "}, {noon + 20, "1:1 2:1 "}, {noon + 30, "1:12 2:1 "}} {
		equal(t, describe(due(t, s, c.at)), c.want, "due at +%d", c.at-noon)
	}
	setLook(t, s, ana, 1, 0) // the bell (the reminder job) never looks at this plot
	equal(t, describe(due(t, s, noon+99)), "2:1 1:2 ", "due after one will never be looked at")
	// If a plot was closed after the bell (the reminder job) read it, SetLook must not make the plot due again.
	ledger(t, s, ben, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		return errors.Join(err, l.ClosePlot(1), l.tx.SetLook(id, noon))
	})
	equal(t, describe(due(t, s, noon+99)), "1:2 ", "due after a plot was closed")
}

func TestTellOnce(t *testing.T) {
	s := openWithPlot(t, ana)
	told := engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 2, On: day0}
	for i, c := range []struct {
		told  engine.Told
		fresh bool
	}{
		{told, true}, {told, false},
		// The same reminder on a later day must be recorded, and one on an earlier day (the next row) must not.
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 2, On: day0 + 1}, true},
		{told, false},
		{engine.Told{Kind: engine.KindNudge, Window: 1, Edition: 2, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 3, On: day0}, true},
		{engine.Told{Kind: engine.KindOpen, Window: 2, Edition: 2, On: day0}, true},
	} {
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.Tell(1, c.told) }), c.fresh, "%d: fresh", i)
	}
}

// equalSeasons compares two seasons. Both must share the same slice of weather days, because NaN values in equal
// slices would compare as different.
func equalSeasons(a, b engine.Season) bool {
	y, z := a.Weather.Daily, b.Weather.Daily
	a.Weather.Daily, b.Weather.Daily = engine.Daily{}, engine.Daily{}
	return reflect.DeepEqual(a, b) && y.From == z.From && len(y.Days) == len(z.Days) &&
		(len(y.Days) == 0 || &y.Days[0] == &z.Days[0])
}

// OpenPlots also lists growers who stopped texts, because staff may visit them.
func TestOpenPlots(t *testing.T) {
	s := open(t)
	phones := []Phone{ana, ben, cleo, "+447700900004", "+447700900005"}
	withPlot(t, s, phones...)
	hills := anotherPlace(t, s, "hills", "UTC", phones[3])
	ledger(t, s, ana, noon, addPlot)
	ledger(t, s, ana, noon, logPass(2, engine.Pass{On: day0, With: engine.ByTool, Hours: 2, People: 1}))
	ledger(t, s, ben, noon, (*Ledger).Stop)
	ledger(t, s, cleo, noon, closePlot(1))
	for _, c := range []struct {
		place, after int64
		limit        int
		want         []Phone
		last         int64
	}{
		{1, 0, 10, []Phone{ana, ben, phones[4]}, 0},
		{1, 0, 2, phones[:2], 2},
		{1, 2, 1, nil, 3}, // the plot of this grower is closed
		{1, 2, 2, phones[4:], 5},
		{1, 5, 2, nil, 0},
		{hills, 0, 10, phones[3:4], 0},
	} {
		var last int64
		got := get(t, s, func(tx *Tx) (list []DueGrower, err error) {
			list, last, err = tx.OpenPlots(c.place, c.after, c.limit)
			return list, err
		})
		equal(t, last, c.last, "%+v: last", c)
		fatalIf(t, len(got) != len(c.want), "%+v: %d growers, want %d", c, len(got), len(c.want))
		for i, g := range got {
			var nos []int
			for _, p := range g.Plots {
				nos = append(nos, p.No)
				errorIf(t, !equalSeasons(p.Season, season(t, s, g.Phone, p.No)), "%+v: season %+v", c, p)
			}
			equal(t, nos, read(t, s, c.want[i], noon, (*Ledger).Plots), "%+v: plots of %s", c, c.want[i].E164())
			errorIf(t, g.Phone != c.want[i] || g.Zone == nil, "%+v: grower %d is %+v", c, i, g)
		}
	}
	some := get(t, s, func(tx *Tx) ([]DueGrower, error) { return tx.OpenPlotsOf([]int64{5, 3, 1, 99}) })
	errorIf(t, len(some) != 2 || some[0].Phone != ana || len(some[0].Plots) != 2 || some[1].Phone != phones[4],
		"by id: %+v", some)
	equal(t, get(t, s, func(tx *Tx) (int64, error) { return tx.GrowersAt(1) }), 4, "growers at the place")
}
