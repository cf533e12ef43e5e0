package store

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"rowbell/engine"
)

func theTrial(t *testing.T, s *Store, p Phone) (engine.TrialRecord, bool) {
	t.Helper()
	var ok bool
	tr := read(t, s, p, noon, func(l *Ledger) (tr engine.TrialRecord, err error) {
		tr, ok,
			err = l.Trial()
		return tr, err
	})
	return tr, ok
}

func TestTrialFromStartToEnd(t *testing.T) {
	s := open(t)
	if _, ok := theTrial(t, s, ana); ok {
		t.Error("a phone without records has a trial")
	}
	withTwoPlots(t, s, ana)
	withTwoPlots(t, s, ben)
	if _, ok := theTrial(t, s, ana); ok {
		t.Error("there is a trial before one was started")
	}
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.StartTrial(2, 1, 3, 4) })
	ledger(t, s, ana, noon+86400, func(l *Ledger) error {
		return errors.Join(
			l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool, Hours: 4, People: 2, Left: engine.Few}),
			l.LogPass(2, engine.Pass{On: day0, With: engine.ByHand, Hours: 9, People: 1, Left: engine.Some}),
			l.See(2, engine.Sighting{On: day0, Leaves: engine.OneLeaf, Water: engine.StandsMud}),
		)
	})
	seasons := func() (list [3]engine.Season) {
		for no := 1; no <= 2; no++ {
			list[no] = season(t, s, ana, no)
		}
		return list
	}
	of := seasons()
	want := engine.TrialRecord{NoA: 2, NoB: 1, WasA: 2, WasB: 1,
		Trial: engine.Trial{Begun: day0, A: engine.Half{Way: 3, Season: of[2]}, B: engine.Half{Way: 4, Season: of[1]}}}
	if got, ok := theTrial(t, s, ana); !ok || !reflect.DeepEqual(got, want) {
		t.Errorf("trial\n got %+v\nwant %+v", got, want)
	}
	// A plot that is closed meanwhile stays in the trial, also if its number is used again.
	ledger(t, s, ana, noon+3*86400, func(l *Ledger) error {
		return errors.Join(l.ClosePlot(2), second(l.AddPlot(aPlot(), aTool())), l.SetBags(7.5, 8))
	})
	want.NoA, want.A.Bags, want.B.Bags, want.A.Season.ClosedOn = 0, 7.5, 8, day0+3
	if got, ok := theTrial(t, s, ana); !ok || !reflect.DeepEqual(got, want) {
		t.Errorf("trial with one plot closed\n got %+v\nwant %+v", got, want)
	}
	if _, ok := theTrial(t, s, ben); ok {
		t.Error("the other grower has a trial too")
	}
	ledger(t, s, ana, noon+4*86400, (*Ledger).EndTrial)
	if _, ok := theTrial(t, s, ana); ok {
		t.Error("it goes on after its end")
	}
	ledger(t, s, ana, noon+4*86400, func(l *Ledger) error { return l.StartTrial(1, 2, 1, 2) }) // the next season
	if got, ok := theTrial(t, s, ana); !ok || got.A.Bags != 0 || got.Begun != day0+4 {
		t.Errorf("the next trial: %+v", got)
	}
}

func TestTrialsThatAreRefused(t *testing.T) {
	s := open(t)
	withTwoPlots(t, s, ana)
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
		err := try(s, ana, noon, func(l *Ledger) error { return c.do(l) })
		errorIf(t, err == nil || c.want != nil && !errors.Is(err, c.want), "%s: %v, want %v", name, err, c.want)
	}
	_, ok := theTrial(t, s, ana)
	errorIf(t, ok, "one of them was kept")
}
