package store

import (
	"testing"

	"rowbell/engine/circle"
)

// A restore does not bring a grower back who left the circle after the backup, and no question that may have been
// answered. All turns are planned and told anew.
func TestRestoreOfACircle(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	number := circleWithPlots(t, s, ana, ben, cleo)
	tool := addTool(t, s, ana, red(0))
	setTurns(t, s, turn(tool, 2, day0+3), turn(tool, 3, day0+4))
	tell(t, s, turn(tool, 2, day0+3), turn(tool, 3, day0+4))
	ask(t, s, ana, circle.Ask{Kind: circle.AskReceived, Circle: number, To: 2, Amount: 1})
	backup := backupOf(t, s)
	ledger(t, s, ben, noon, (*Ledger).LeaveCircle)
	records := shut(t, s)
	r := restoreTo(t, backup, records)
	equal(t, r.Reconciled.Left, 1, "left")
	s = openAt(t, records)
	errorIf(t, inCircle(t, s, ben), "ben is back in the circle")
	equal(t, showTurns(t, s, cleo), `["3: tool 1, 4-4 from 0 to 0"]`, "turns")
	equal(t, len(read(t, s, ben, noon, (*Ledger).OpenAsks)), 0, "open questions")
	wantRows(t, s, map[string]int64{"circle_told": 0, "circle_ask WHERE state = 0": 0})
	wantNumber(t, s, overwriting("", "").Now, "SELECT plan_at FROM circle")
}
