package store

import (
	"errors"
	"math"
	"testing"

	"rowbell/engine"
)

// wantTrial compares the running trial of a phone with want; nil means that no trial must be running.
func wantTrial(t *testing.T, s *Store, p Phone, want *engine.TrialRecord, when string) {
	t.Helper()
	got, there := lookUp(t, s, func(tx *Tx) (tr engine.TrialRecord, there bool, err error) {
		l, err := tx.Ledger(p, noon)
		if err == nil {
			tr, there, err = l.Trial()
		}
		return tr, there, err
	})
	equal(t, there, want != nil, "%s: a trial is running", when)
	if want != nil {
		equal(t, got, *want, "%s", when)
	}
}

func TestTrialFromStartToEnd(t *testing.T) {
	s := open(t)
	wantTrial(t, s, ana, nil, "no records")
	withTwoPlots(t, s, ana)
	withTwoPlots(t, s, ben)
	wantTrial(t, s, ana, nil, "before the start")
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.StartTrial(2, 1, 3, 4) })
	ledger(t, s, ana, noon+day, func(l *Ledger) error {
		return errors.Join(
			l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool, Hours: 4, People: 2, Left: engine.Few}),
			l.LogPass(2, engine.Pass{On: day0, With: engine.ByHand, Hours: 9, People: 1, Left: engine.Some}),
			l.See(2, engine.Sighting{On: day0, Leaves: engine.OneLeaf, Water: engine.StandsMud}),
		)
	})
	want := engine.TrialRecord{NoA: 2, NoB: 1, WasA: 2, WasB: 1, Trial: engine.Trial{Begun: day0,
		A: engine.Half{Way: 3, Season: season(t, s, ana, 2)}, B: engine.Half{Way: 4, Season: season(t, s, ana, 1)}}}
	wantTrial(t, s, ana, &want, "running")
	// A plot that is closed during a trial stays in the trial, even if another plot gets its number.
	ledger(t, s, ana, noon+3*day, func(l *Ledger) error {
		return errors.Join(l.ClosePlot(2), addPlot(l), l.SetBags(7.5, 8))
	})
	want.NoA, want.A.Bags, want.B.Bags, want.A.Season.ClosedOn = 0, 7.5, 8, day0+3
	wantTrial(t, s, ana, &want, "with one plot closed")
	wantTrial(t, s, ben, nil, "the other grower")
	ledger(t, s, ana, noon+4*day, (*Ledger).EndTrial)
	wantTrial(t, s, ana, nil, "ended")
	ledger(t, s, ana, noon+4*day, func(l *Ledger) error { return l.StartTrial(1, 2, 1, 2) })
	want = engine.TrialRecord{NoA: 1, NoB: 2, WasA: 1, WasB: 2, Trial: engine.Trial{Begun: day0 + 4,
		A: engine.Half{Way: 1, Season: season(t, s, ana, 1)}, B: engine.Half{Way: 2, Season: season(t, s, ana, 2)}}}
	wantTrial(t, s, ana, &want, "the next season")
}

func TestTrialsThatAreRefused(t *testing.T) {
	s := openWithTwoPlots(t)
	start := func(l *Ledger) error { return l.StartTrial(1, 2, 1, 2) }
	for name, c := range map[string]struct {
		do   func(*Ledger) error
		want error
	}{
		"no first plot":      {func(l *Ledger) error { return l.StartTrial(5, 1, 1, 2) }, ErrNoPlot},
		"no second plot":     {func(l *Ledger) error { return l.StartTrial(1, 5, 1, 2) }, ErrNoPlot},
		"one plot":           {func(l *Ledger) error { return l.StartTrial(1, 1, 1, 2) }, nil},
		"one more":           {func(l *Ledger) error { return errors.Join(start(l), start(l)) }, ErrTrial},
		"bags of no trial":   {func(l *Ledger) error { return l.SetBags(1, 1) }, ErrNoTrial},
		"end of no trial":    {(*Ledger).EndTrial, ErrNoTrial},
		"bags owed":          {func(l *Ledger) error { return errors.Join(start(l), l.SetBags(-1, 1)) }, nil},
		"bags of no number":  {func(l *Ledger) error { return errors.Join(start(l), l.SetBags(1, math.NaN())) }, nil},
		"more than was sown": {func(l *Ledger) error { return errors.Join(start(l), l.SetBags(1, MaxBags+1)) }, nil},
	} {
		err := try(s, ana, noon, c.do)
		errorIf(t, err == nil || c.want != nil && !errors.Is(err, c.want), "%s: %v, want %v", name, err, c.want)
	}
	wantTrial(t, s, ana, nil, "after refusals")
}
