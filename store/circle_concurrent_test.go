package store

import (
	"errors"
	"sync"
	"sync/atomic"
	"testing"

	"rowbell/engine/circle"
)

// race lets two growers answer one question each with yes, on two processes at the same time, and returns how many of
// the questions were over.
func race(t *testing.T, s [2]*Store, who [2]Phone, asks [2]circle.Ask) (over int64) {
	t.Helper()
	var n atomic.Int64
	var wg sync.WaitGroup
	for i := range who {
		wg.Go(func() {
			err := try(s[i], who[i], noon, func(l *Ledger) error {
				return second(l.AnswerAsk(asks[i].ID, true, 0))
			})
			switch {
			case errors.Is(err, circle.ErrAskOver):
				n.Add(1)
			case err != nil:
				t.Error(err)
			}
		})
	}
	wg.Wait()
	return n.Load()
}

const races = 10

// The keeper has asked two members to be the keeper. Both say yes at the same time: one is late.
func TestTwoMembersBecomeTheKeeper(t *testing.T) {
	s := twoProcesses(t)
	withPlot(t, s[0], ana, ben, cleo)
	for range races {
		clearCircles(t, s[0])
		number := makeCircle(t, s[0], ana, ben, cleo)
		var asks [2]circle.Ask
		for i := range asks {
			asks[i] = ask(t, s[0], ana, circle.Ask{Kind: circle.AskKeeper, Circle: number, To: int64(2 + i)})
		}
		equal(t, race(t, s, [2]Phone{ben, cleo}, asks), 1, "questions that were over")
		wantRows(t, s[0], map[string]int64{"circle_member WHERE keeper = 1": 1})
	}
}

// A member has asked two others to exchange the same turn. Both say yes at the same time: one is late, and each has one
// turn.
func TestTwoMembersExchangeOneTurn(t *testing.T) {
	s := twoProcesses(t)
	withPlot(t, s[0], ana, ben, cleo)
	for range races {
		clearCircles(t, s[0])
		number := makeCircle(t, s[0], ana, ben, cleo)
		tool := addTool(t, s[0], ana, red(0))
		turns := []CircleTurn{turn(tool, 1, day0+1), turn(tool, 2, day0+2), turn(tool, 3, day0+3)}
		setTurns(t, s[0], turns...)
		tell(t, s[0], turns...)
		var asks [2]circle.Ask
		for i := range asks {
			asks[i] = ask(t, s[0], ana, circle.Ask{Kind: circle.AskSwap, Circle: number, To: int64(2 + i),
				Day: day0 + 1, Other: turns[1+i].Day})
		}
		equal(t, race(t, s, [2]Phone{ben, cleo}, asks), 1, "questions that were over")
		for member := range 3 {
			wantNumber(t, s[0], 1, "SELECT count(*) FROM circle_turn WHERE member_id = $1", member+1)
		}
	}
}

// A member says that a tool is broken while its owner agrees to a hire. A hire has a turn and an entry, or neither.
func TestAHireWhileTheToolBreaks(t *testing.T) {
	s := twoProcesses(t)
	withPlot(t, s[0], ana, ben, cleo)
	for range races {
		clearCircles(t, s[0])
		number := makeCircle(t, s[0], ana, ben)
		tool := addTool(t, s[0], ben, red(2))
		a := ask(t, s[0], cleo, circle.Ask{Kind: circle.AskHire, Circle: number, Tool: tool, Day: day0 + 1, Days: 1})
		var wg sync.WaitGroup
		wg.Go(func() {
			err := try(s[0], ben, noon, func(l *Ledger) error { return second(l.AnswerAsk(a.ID, true, 0)) })
			errorIf(t, err != nil && !errors.Is(err, circle.ErrAskOver), "the answer: %v", err)
		})
		wg.Go(func() {
			err := try(s[1], ana, noon, func(l *Ledger) error {
				c, _, err := l.Circle()
				if err != nil {
					return err
				}
				c.Tools[0].Broken = true
				return l.ChangeSharedTool(c.Tools[0])
			})
			errorIf(t, err != nil, "broken: %v", err)
		})
		wg.Wait()
		wantNumber(t, s[0], 0, "SELECT (SELECT count(*) FROM circle_turn) - (SELECT count(*) FROM circle_entry)")
	}
}

// While a grower changes a plot, or the circle itself is changed, a plan that was made before is not written.
func TestAPlanIsOfOneState(t *testing.T) {
	s := twoProcesses(t)
	withPlot(t, s[0], ana, ben)
	makeCircle(t, s[0], ana, ben)
	due := get(t, s[0], func(tx *Tx) ([]DueCircle, error) { return tx.DueCircles(noon, 10) })
	same := func() bool {
		return get(t, s[1], func(tx *Tx) ([]bool, error) { return tx.CirclesUnchanged(noon, due) })[0]
	}
	errorIf(t, !same(), "the circle counts as changed")
	write(t, s[0], func(tx *Tx) error {
		l, err := tx.Ledger(ben, noon)
		if err != nil {
			return err
		}
		errorIf(t, same(), "a plan is written while a grower of the circle calls")
		return logPass(1, aPass)(l)
	})
	errorIf(t, same(), "a plan is written after a pass of a member")
	due = get(t, s[0], func(tx *Tx) ([]DueCircle, error) { return tx.DueCircles(noon, 10) })
	write(t, s[0], func(tx *Tx) error {
		err := errors.Join(tx.lockCircle(due[0].ID), tx.flush())
		errorIf(t, same(), "a plan is written while the circle is changed")
		return err
	})
	errorIf(t, !same(), "the circle counts as changed although nothing was")
}

// A member answers the keeper, whose phone then gets a text, while the keeper changes a plot. Each of the two writes
// has what the other waits for. The server gives up one of them, which runs again, and both are done.
func TestAnAnswerWhileTheOtherChangesAPlot(t *testing.T) {
	s := twoProcesses(t)
	withPlot(t, s[0], ana, ben)
	number := makeCircle(t, s[0], ana, ben)
	execSQL(t, s[0], "UPDATE circle SET plan_at = NULL")
	a := ask(t, s[0], ana, circle.Ask{Kind: circle.AskKeeper, Circle: number, To: 2})
	hasCircle, hasPhone := make(chan struct{}), make(chan struct{})
	meet := func(own, other chan struct{}) func() {
		return sync.OnceFunc(func() { close(own); <-other })
	}
	circleIsHeld, phoneIsHeld := meet(hasCircle, hasPhone), meet(hasPhone, hasCircle)
	var runs atomic.Int64
	var wg sync.WaitGroup
	wg.Go(func() {
		err := try(s[0], ben, noon, func(l *Ledger) error {
			runs.Add(1)
			if _, err := l.AnswerAsk(a.ID, true, 0); err != nil {
				return err
			}
			if err := l.tx.flush(); err != nil {
				return err
			}
			circleIsHeld()
			_, err := l.tx.Ledger(ana, noon)
			return err
		})
		errorIf(t, err != nil, "the answer: %v", err)
	})
	wg.Go(func() {
		err := try(s[1], ana, noon, func(l *Ledger) error {
			runs.Add(1)
			phoneIsHeld()
			return logPass(1, aPass)(l)
		})
		errorIf(t, err != nil, "the pass: %v", err)
	})
	wg.Wait()
	errorIf(t, runs.Load() < 3, "%d runs: the two did not stand in each other's way", runs.Load())
	wantRows(t, s[0], map[string]int64{"pass": 1, "circle WHERE plan_at IS NOT NULL": 1,
		"circle_member WHERE keeper = 1 AND grower_id = 2": 1})
}
