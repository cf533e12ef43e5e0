package store

import (
	"fmt"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// counting opens a store that counts its statements.
func counting(t *testing.T) (s *Store, count func(fn func()) int) {
	t.Helper()
	n := 0
	s = openNew(t, Options{OnStatement: func(string) { n++ }})
	return s, func(fn func()) int {
		n = 0
		fn()
		return n
	}
}

// A grower without a circle costs no statement more than before there were circles.
func TestGrowersWithoutACircleCostNothing(t *testing.T) {
	s, count := counting(t)
	circleWithPlots(t, s, ana, ben)
	withPlot(t, s, cleo)
	looked := engine.Sighting{On: day0, Leaves: engine.TwoThree}
	questions := func(l *Ledger) error {
		_, _, err := l.Circle()
		if err == nil {
			_, err = l.OpenAsks()
		}
		if err == nil {
			_, err = l.Accounts()
		}
		return err
	}
	nothing := func(*Ledger) error { return nil }
	for name, c := range map[string]struct{ with, without func(*Ledger) error }{
		"questions": {questions, nothing},
		"sighting":  {see(1, looked), func(l *Ledger) error { l.circleID = 0; return see(1, looked)(l) }},
		"pass":      {logPass(1, aPass), func(l *Ledger) error { l.circleID = 0; return logPass(1, aPass)(l) }},
	} {
		run := func(p Phone, fn func(*Ledger) error) int {
			ledger(t, s, p, noon+day, fn) // the first change also makes the bell look at the plot
			return count(func() { ledger(t, s, p, noon+day, fn) })
		}
		equal(t, run(cleo, c.with), run(cleo, c.without), "%s of a grower without a circle", name)
		errorIf(t, run(ben, c.with) <= run(ben, c.without), "%s of a member costs nothing: what is counted?", name)
	}
}

// The number of queries does not depend on the number of circles, members and tools.
func TestDueCirclesReadInFewQueries(t *testing.T) {
	s, count := counting(t)
	var counts []int
	for n := range 3 {
		var phones []Phone
		for i := range 3 + n {
			phones = append(phones, phoneNo(10*n+i))
		}
		withPlot(t, s, phones...)
		manyTools(t, s, phones)
		counts = append(counts, count(func() {
			due := get(t, s, func(tx *Tx) ([]DueCircle, error) { return tx.DueCircles(noon, 10) })
			equal(t, len(due), n+1, "due circles")
			equal(t, len(due[n].Members), 3+n, "members")
			equal(t, len(due[n].Tools), 3+n, "tools")
		}))
	}
	equal(t, fmt.Sprint(counts), fmt.Sprint([]int{counts[0], counts[0], counts[0]}), "statements")
	errorIf(t, counts[0] > 16, "%d statements", counts[0])
}

// manyTools makes a circle of growers who each share a tool.
func manyTools(t *testing.T, s *Store, phones []Phone) {
	t.Helper()
	var number int
	for i, p := range phones {
		ledger(t, s, p, noon, func(l *Ledger) (err error) {
			if i == 0 {
				number, err = l.MakeCircle("A", words)
				return err
			}
			return second(l.JoinCircle(number, fmt.Sprint(i), words))
		})
	}
	ledger(t, s, phones[0], noon, func(l *Ledger) error {
		asks, err := l.OpenAsks()
		for _, a := range asks {
			if err == nil {
				_, err = l.AnswerAsk(a.ID, true, 0)
			}
		}
		return err
	})
	for _, p := range phones {
		ledger(t, s, p, noon, func(l *Ledger) error {
			c, _, err := l.Circle()
			if err == nil {
				_, err = l.AddSharedTool(circle.SharedTool{Owner: c.Self, Tool: aTool()})
			}
			return err
		})
	}
}
