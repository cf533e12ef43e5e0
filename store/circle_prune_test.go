package store

import (
	"testing"

	"rowbell/engine/circle"
)

// A question that nobody answers is over after its last day. Who had asked to join is then in no circle, and may ask
// again.
func TestQuestionsEnd(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana)
	withPlot(t, s, ben)
	join := func(at int64) error {
		return try(s, ben, at, func(l *Ledger) error { return second(l.JoinCircle(number, "Ben", words)) })
	}
	ok(t, join(noon))
	prune(t, s, noon+14*day)
	errorIf(t, !inCircle(t, s, ben), "the question is over on its last day")
	prune(t, s, noon+16*day)
	errorIf(t, inCircle(t, s, ben), "the question is not over after its last day")
	wantRows(t, s, map[string]int64{"circle_ask WHERE state = 3": 1})
	ok(t, join(noon+16*day))
	equal(t, prune(t, s, noon+(14+askRetention)*day).Circles, 0, "pruned too early")
	equal(t, prune(t, s, noon+(15+askRetention)*day).Circles, 1, "pruned")
}

// Denied payments, and entries of a circle that lives, stay. Turns go after their retention.
func TestPruneCircle(t *testing.T) {
	k := DefaultRetention()
	k.Growers, k.Seasons = 0, 0
	s := openNew(t, Options{Retention: &k})
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(1))
	setTurns(t, s, turn(tool, 2, day0))
	write(t, s, func(tx *Tx) error { return second(tx.ChargeDays(1, day0+1)) })
	paid := circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 2_00}
	answer(t, s, ana, ask(t, s, ben, paid).ID, false, 0)
	answer(t, s, ana, ask(t, s, ben, paid).ID, true, 0)
	prune(t, s, noon+1000*day)
	wantRows(t, s, map[string]int64{"circle_turn": 0, "circle_entry": 2, "circle_ask": 1, "circle_member": 2})

	ledger(t, s, ben, noon+1000*day, (*Ledger).LeaveCircle)
	ledger(t, s, ana, noon+1000*day, (*Ledger).LeaveCircle)
	prune(t, s, noon+(1000+circleRetention)*day)
	wantRows(t, s, map[string]int64{"circle": 1})
	prune(t, s, noon+(1001+circleRetention)*day)
	wantRows(t, s, map[string]int64{"circle": 0, "circle_member": 0, "circle_entry": 0, "circle_tool": 0,
		"circle_ask": 0})
}

// An ended circle in which somebody owes something stays.
func TestOpenBalanceStays(t *testing.T) {
	k := DefaultRetention()
	k.Growers, k.Seasons = 0, 0
	s := openNew(t, Options{Retention: &k})
	circleWithPlots(t, s, ana)
	tool := addTool(t, s, ana, red(0))
	setTurns(t, s, turn(tool, 1, day0))
	ledger(t, s, ana, noon+day, (*Ledger).LeaveCircle)
	prune(t, s, noon+10_000*day)
	wantRows(t, s, map[string]int64{"circle WHERE ended_at IS NOT NULL": 1, "circle_entry": 1})
	ledger(t, s, ana, noon+10_001*day, (*Ledger).Erase)
	wantRows(t, s, map[string]int64{"circle": 0, "circle_entry": 0})
}

// A service of an earlier version knows no circles. What it leaves of an erased person goes with the next upkeep.
func TestErasedByAnOlderService(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	execSQL(t, s, "DELETE FROM grower WHERE phone = $1", ana.E164())
	prune(t, s, noon+day)
	members := circleOf(t, s, ben).Members
	errorIf(t, len(members) != 1 || !members[0].Keeper, "members %+v", members)
	wantRows(t, s, map[string]int64{"circle_member WHERE name = 'Ana'": 0})
}

func TestCirclesAreCounted(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	ask(t, s, ana, circle.Ask{Kind: circle.AskReceived, Circle: number, To: 2, Amount: 1})
	withPlot(t, s, cleo)
	ledger(t, s, cleo, noon, func(l *Ledger) error { return second(l.MakeCircle("Cleo", words)) })
	ledger(t, s, cleo, noon, (*Ledger).LeaveCircle)
	c := NewTotalsCount(noon)
	counted(t, s, &c.Count, 2)
	errorIf(t, c.Circles != 1 || c.Members != 2 || c.Questions != 1, "totals %+v", c.Totals)
}
