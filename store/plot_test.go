package store

import (
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// The areas and hours of the two halves add up to those of the whole plot.
func TestSplitPlotConserves(t *testing.T) {
	s := open(t)
	rapid.Check(t, func(t *rapid.T) {
		others := rapid.IntRange(0, 7).Draw(t, "other plots")
		p := aPlot()
		p.AreaM2 = rapid.Float64Range(0, 1e6).Draw(t, "area")
		p.InflowLS, p.Soil = 3, engine.SoilLight
		var passes []engine.Pass
		var seen []engine.Sighting
		for range rapid.IntRange(0, 4).Draw(t, "history") {
			on := p.Planted + engine.Day(rapid.IntRange(0, 9).Draw(t, "day"))
			passes = append(passes, engine.Pass{On: on, With: engine.ByTool,
				Hours: rapid.Float64Range(0, 100).Draw(t, "hours"), People: 2, Left: engine.Some})
			seen = append(seen, engine.Sighting{On: on, Leaves: engine.OneLeaf, Water: engine.StandsHand})
		}
		ledger(t, s, ana, noon, func(l *Ledger) error {
			err := errors.Join(l.Erase(), consent(l), second(l.AddPlot(p, aTool())))
			for range others {
				err = errors.Join(err, addPlot(l))
			}
			for i := range passes {
				err = errors.Join(err, l.LogPass(1, passes[i]), l.See(1, seen[i]))
			}
			want, err2 := l.Season(1)
			no, err3 := l.SplitPlot(1, "upper", "lower")
			equal(t, no, others+2, "number of the second half")
			want.Plot.AreaM2 /= 2
			for i := range want.Passes {
				want.Passes[i].Hours /= 2
			}
			for half, label := range map[int]string{1: "upper", no: "lower"} {
				got, err4 := l.Season(half)
				want.Plot.Label = label
				// Home is not compared: after the split, it also contains the hours of the other half.
				got.Home, want.Home = engine.Household{}, engine.Household{}
				equal(t, got, want, "half %d", half)
				err = errors.Join(err, err4)
			}
			return errors.Join(err, err2, err3)
		})
	})
}

// A reminder that was recorded for the whole plot is recorded for both halves after the split.
func TestSplitPlotKeepsWhatWasTold(t *testing.T) {
	s := openWithPlot(t, ana)
	told := engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 1, On: day0}
	write(t, s, func(tx *Tx) error { return second(tx.Tell(1, told)) })
	id := enqueue(t, s, Message{Key: "k", To: ana, Note: "reply", Text: "x", CreatedAt: noon, DueAt: noon,
		UsefulUntil: noon + 60, PlotIDs: []int64{1}})
	ledger(t, s, ana, noon+5, func(l *Ledger) error { return second(l.SplitPlot(1, "a", "b")) })
	for _, p := range due(t, s, noon+5)[0].Plots {
		errorIf(t, !slices.Equal(p.Told, []engine.Told{told}) || p.LookAt > noon+5,
			"half %d: told %v, look at noon%+d", p.No, p.Told, p.LookAt-noon)
	}
	wantState(t, s, id, Withdrawn)
}

// A changed plot is due at once. What the bell makes of it depends on whether it was changed before or after the
// morning, so only a plot that is due already and on the same side of the morning stays as it is.
func TestLookAtAChangedPlot(t *testing.T) {
	s := openWithPlot(t, ana)
	morning := read(t, s, ana, noon, func(l *Ledger) (int64, error) {
		return l.Today().At(l.MorningHour(), l.Zone()).Unix(), nil
	})
	for _, c := range []struct {
		what         string
		was, at, now int64
	}{
		{"due later", noon + day, noon, noon},
		{"due since yesterday, changed before the morning", noon - day, morning - 60, noon - day},
		{"due since yesterday, changed after the morning", noon - day, noon, noon},
		{"changed after the morning before", morning + 60, noon, morning + 60},
		{"due at the morning, changed after it", morning, noon, noon},
		{"due at the morning, changed at the morning", morning, morning, morning},
	} {
		setLook(t, s, ana, 1, c.was)
		ledger(t, s, ana, c.at, see(1, engine.Sighting{On: day0 - 1, Amount: engine.Some}))
		got := number(t, s, "SELECT look_at FROM plot")
		errorIf(t, got != c.now, "%s: looked at at noon%+d, want noon%+d", c.what, got-noon, c.now-noon)
	}
}

func TestSplitsThatAreRefused(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		wantErr(t, second(l.SplitPlot(3, "a", "b")), ErrNoPlot, "of no plot")
		for range 8 {
			errorIf(t, addPlot(l) != nil, "a plot cannot be added")
		}
		wantErr(t, second(l.SplitPlot(3, "a", "b")), ErrFull, "of nine plots")
		return nil
	})
	wantNumber(t, s, 0, "SELECT count(*) FROM plot WHERE area_m2 <> 1200.25")
}
