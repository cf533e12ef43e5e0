package service

import (
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/store"
)

// listed returns the plots of the default place that need somebody by the kept list.
func (s *started) listed() (list []store.MorningRow) {
	s.t.Helper()
	s.records(func(tx *store.Tx, _ int64) (err error) {
		list, err = tx.Morning(store.Scope{1}, engine.AllReasons, nil, 50)
		return err
	})
	return list
}

// The list of the morning is there as soon as the day begins, and follows what a grower does within two minutes.
func TestTheListOfTheMorningIsKept(t *testing.T) {
	s := start(t, configtest.Fresh(t, ""), time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC))
	s.register(fictional(1), 2)
	attend := func(want int, when string) {
		t.Helper()
		ok(t, s.Settle(t.Context()))
		if got := len(s.listed()); got != want {
			t.Errorf("%s: %d plots need somebody, want %d", when, got, want)
		}
	}
	attend(0, "long before the window")
	days := s.opens(fictional(1)) - 2
	s.clock.Advance(time.Duration(days)*24*time.Hour - 9*time.Hour)
	attend(1, "an hour after midnight, on the day on which the window opens")
	s.clock.Advance(9 * time.Hour)
	s.records(func(tx *store.Tx, now int64) error {
		l, err := tx.Ledger(fictional(1), now)
		if err != nil {
			return err
		}
		return l.LogPass(1, engine.Pass{On: l.Today(), With: engine.ByTool, Left: engine.Few})
	})
	attend(0, "after the pass")
}
