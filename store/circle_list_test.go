package store

import (
	"fmt"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// everywhere is the scope of somebody who sees all places.
func everywhere(t tester, s *Store) Scope {
	t.Helper()
	return Scope(get(t, s, func(tx *Tx) ([]int64, error) { return column[int64](tx, sqlPlaceIDs, nil) }))
}

// someCircles makes n circles of one grower each.
func someCircles(t tester, s *Store, first, n int) {
	t.Helper()
	for i := first; i < first+n; i++ {
		p := phoneNo(i)
		withPlot(t, s, p)
		ledger(t, s, p, noon, func(l *Ledger) error { return second(l.MakeCircle(fmt.Sprint("K", i), words)) })
	}
}

// keepers lists the keepers of circles, page by page.
func keepers(t tester, s *Store, scope Scope, size int) string {
	t.Helper()
	var names []string
	var after CirclePage
	for {
		list := get(t, s, func(tx *Tx) ([]CircleLine, error) { return tx.Circles(scope, after, size, noon) })
		if len(list) == 0 {
			return strings.Join(names, " ")
		}
		for _, c := range list {
			names = append(names, c.KeeperName)
			after = CirclePage{c.PlaceID, c.ID}
		}
	}
}

// A list has the circles of the places in scope, once each, in pages of any size; those that have ended are left out.
func TestCirclesInPages(t *testing.T) {
	s := open(t)
	someCircles(t, s, 0, 5)
	anotherPlace(t, s, "hills", "UTC")
	for _, i := range []int{1, 3} {
		ledger(t, s, phoneNo(i), noon, func(l *Ledger) error { return l.SetPlace("hills") })
	}
	ledger(t, s, phoneNo(4), noon, (*Ledger).LeaveCircle)
	all := everywhere(t, s)
	for size := 1; size <= 6; size++ {
		equal(t, keepers(t, s, all, size), "K0 K2 K1 K3", "pages of %d", size)
		equal(t, keepers(t, s, Scope{all[1], all[0]}, size), "K1 K3 K0 K2", "pages of %d, other order", size)
		equal(t, keepers(t, s, all[1:], size), "K1 K3", "one place, pages of %d", size)
	}
	equal(t, keepers(t, s, nil, 3), "", "no place")
	equal(t, keepers(t, s, Scope{999}, 3), "", "no such place")
}

func TestCircleLine(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben, cleo)
	addTool(t, s, ana, red(1))
	broken := red(0)
	broken.Broken = true
	addTool(t, s, ana, broken)
	withPlot(t, s, dan)
	ledger(t, s, dan, noon, func(l *Ledger) error { return second(l.JoinCircle(number, "Dan", words)) })
	paid := ask(t, s, ben, circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 7_00})
	answer(t, s, ana, paid.ID, false, 0)
	all := everywhere(t, s)
	id := get(t, s, func(tx *Tx) (int64, error) { return tx.FindCircle(all, number) })
	line, known := lookUp(t, s, func(tx *Tx) (CircleLine, bool, error) { return tx.CircleLine(all, id, noon) })
	want := CircleLine{ID: id, Number: number, PlaceID: 1, PlanAt: noon, Keeper: 1, KeeperName: "Ana", Members: 3,
		Asking: 1, Tools: 2, Broken: 1, Questions: 1, Disputes: 1}
	errorIf(t, !known, "the circle is not found")
	equal(t, line, want, "line")
	for name, scope := range map[string]Scope{"nothing": nil, "another place": {999}} {
		_, known := lookUp(t, s, func(tx *Tx) (CircleLine, bool, error) { return tx.CircleLine(scope, id, noon) })
		found := get(t, s, func(tx *Tx) (int64, error) { return tx.FindCircle(scope, number) })
		errorIf(t, known || found != 0, "a scope of %s sees the circle", name)
	}
	late := noon + 40*day
	line, _ = lookUp(t, s, func(tx *Tx) (CircleLine, bool, error) { return tx.CircleLine(all, id, late) })
	errorIf(t, line.Asking != 0 || line.Questions != 0, "questions that are over count: %+v", line)
}

func TestCircleSheet(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben, cleo)
	tool := addTool(t, s, ana, red(1))
	anotherPlace(t, s, "hills", "UTC", ben)
	due := turn(tool, 2, day0+1)
	setTurns(t, s, turn(tool, 1, day0), due, turn(tool, 2, day0+2))
	tell(t, s, due)
	ledger(t, s, ben, noon, func(l *Ledger) error { return l.Wish(1, 1, circle.Wish{ExtraDays: 2}) })
	paid := ask(t, s, ben, circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 7_00})
	answer(t, s, ana, paid.ID, false, 0)
	ask(t, s, cleo, circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 8_00})
	ledger(t, s, cleo, noon, (*Ledger).LeaveCircle)
	sheet, known := sheetOf(t, s, number, noon)
	fatalIf(t, !known, "the circle is not found")
	equal(t, sheet.Today, day0, "today")
	equal(t, len(sheet.People), 3, "people")
	b, c := sheet.Person(2), sheet.Person(3)
	errorIf(t, b.Name != "Ben" || b.PlaceID != 2 || b.Left != 0 || c.Left != day0 || c.Joined, "%+v, %+v", b, c)
	errorIf(t, len(b.Plots) != 1 || b.Plots[0].Wishes[1].ExtraDays != 2 || b.Plots[0].Told == nil ||
		len(c.Plots) != 0, "plots %+v, %+v", b.Plots, c.Plots)
	errorIf(t, sheet.Person(0).ID != 0 || sheet.Person(9).ID != 0, "somebody who is nobody")
	got, no := sheet.Tool(tool)
	errorIf(t, no != 1 || got.Name != "red", "tool %d: %+v", no, got)
	fatalIf(t, len(sheet.Turns) != 2, "turns %+v", sheet.Turns)
	first, next := sheet.Turns[0], sheet.Turns[1]
	errorIf(t, first.Plot != 1 || first.HandTo != 2 || next.FetchFrom != 1 || next.Plot != 2 || next.Told ||
		next.From != day0+1 || next.To != day0+2, "turns %+v", sheet.Turns)
	errorIf(t, len(sheet.Disputed) != 1 || sheet.Disputed[0].On != day0 || sheet.Disputed[0].From != 2 ||
		len(sheet.Open) != 1 || sheet.Open[0].From != 3, "questions %+v, %+v", sheet.Open, sheet.Disputed)
	sheet, _ = sheetOf(t, s, number, noon+8*day)
	equal(t, len(sheet.Turns), 1, "turns a week later")
	sheet, _ = sheetOf(t, s, number, noon+10*day)
	equal(t, len(sheet.Turns), 0, "turns later")
}

func sheetOf(t tester, s *Store, number int, now int64) (CircleSheet, bool) {
	t.Helper()
	all := everywhere(t, s)
	return lookUp(t, s, func(tx *Tx) (CircleSheet, bool, error) {
		id, err := tx.FindCircle(all, number)
		if err != nil {
			return CircleSheet{}, false, err
		}
		return tx.CircleSheet(all, id, now)
	})
}

func TestCircleEntries(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(1))
	var days []CircleTurn
	for i := range 5 {
		days = append(days, turn(tool, 2, day0+engine.Day(i)))
	}
	setTurns(t, s, days...)
	sheet, _ := sheetOf(t, s, number, noon)
	write(t, s, func(tx *Tx) error { return second(tx.ChargeDays(sheet.ID, day0+5)) })
	ledger(t, s, ana, noon+6*day, func(l *Ledger) error { return l.TakeBack(2) })
	entries := func(before int64, limit int) (list []string) {
		for _, e := range get(t, s, func(tx *Tx) ([]StaffEntry, error) {
			return tx.CircleEntries(sheet.ID, before, limit)
		}) {
			list = append(list, fmt.Sprint(e.ID, " ", e.Amount, " ", e.Corrects, " ", e.TakenBack))
		}
		return list
	}
	equal(t, entries(0, 3), []string{"6 200 2 false", "5 200 0 false", "4 200 0 false"}, "first page")
	equal(t, entries(4, 3), []string{"3 200 0 false", "2 200 0 true", "1 200 0 false"}, "next page")
	equal(t, len(entries(1, 3)), 0, "after the last")
	e, known := lookUp(t, s, func(tx *Tx) (StaffEntry, bool, error) { return tx.CircleEntry(sheet.ID, 2) })
	errorIf(t, !known || !e.TakenBack || e.Debtor != 2 || e.Creditor != 1, "entry %+v", e)
	_, known = lookUp(t, s, func(tx *Tx) (StaffEntry, bool, error) { return tx.CircleEntry(sheet.ID+1, 2) })
	errorIf(t, known, "an entry of another circle")
}
