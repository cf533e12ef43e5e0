package store

import (
	"context"
	"errors"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// The two halves add up to the whole plot.
//
//revive:disable-next-line:function-length one property
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
		err := s.InTx(context.Background(), func(tx *Tx) error {
			l, err := tx.Ledger(ana, noon)
			if err != nil {
				return err
			}
			if err := errors.Join(l.Erase(), consent(l), second(l.AddPlot(p, aTool()))); err != nil {
				return err
			}
			for range others {
				if err := second(l.AddPlot(aPlot(), aTool())); err != nil {
					return err
				}
			}
			for i := range passes {
				if err := errors.Join(l.LogPass(1, passes[i]), l.See(1, seen[i])); err != nil {
					return err
				}
			}
			before, err := l.Season(1)
			if err != nil {
				return err
			}
			no, err := l.SplitPlot(1, "upper", "lower")
			if err != nil {
				return err
			}
			fatalIf(t, no != others+2, "the second half is number %d, want %d", no, others+2)
			want := before
			want.Plot.AreaM2 /= 2
			want.Passes = slices.Clone(before.Passes)
			for i := range want.Passes {
				want.Passes[i].Hours /= 2
			}
			for half, label := range map[int]string{1: "upper", no: "lower"} {
				got, err := l.Season(half)
				if err != nil {
					return err
				}
				want.Plot.Label = label
				got.Home, want.Home = engine.Household{}, engine.Household{} // each has the hours on the other
				fatalIf(t, !reflect.DeepEqual(got, want), "half %d\n got %+v\nwant %+v", half, got, want)
			}
			return nil
		})
		ok(t, err)
	})
}

// What was told of the whole plot counts as told of both halves.
func TestSplitPlotKeepsWhatWasTold(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	told := engine.Told{Kind: engine.KindOpen, Window: 1, Edition: 1, On: day0}
	write(t, s, func(tx *Tx) error { return second(tx.Tell(1, told)) })
	id := enqueue(t, s, Message{Key: "k", To: ana, Note: "reply", Text: "x", CreatedAt: noon, DueAt: noon,
		UsefulUntil: noon + 60, PlotIDs: []int64{1}})
	ledger(t, s, ana, noon+5, func(l *Ledger) error { return second(l.SplitPlot(1, "a", "b")) })
	for _, p := range due(t, s, noon+5)[0].Plots {
		errorIf(t, !slices.Equal(p.Told, []engine.Told{told}) || p.LookAt != noon+5,
			"half %d: told %v, look at noon%+d", p.No, p.Told, p.LookAt-noon)
	}
	wantState(t, s, id, Withdrawn)
}

func TestSplitsThatAreRefused(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		wantErr(t, second(l.SplitPlot(3, "a", "b")), ErrNoPlot, "of no plot")
		for range 8 {
			if err := second(l.AddPlot(aPlot(), aTool())); err != nil {
				return err
			}
		}
		wantErr(t, second(l.SplitPlot(3, "a", "b")), ErrFull, "of nine plots")
		return nil
	})
	wantNumber(t, s, 0, "SELECT count(*) FROM plot WHERE area_m2 <> 1200.25")
}
