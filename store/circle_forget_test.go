package store

import (
	"errors"
	"fmt"
	"testing"

	"rowbell/engine"
)

// An erased member leaves neither name nor number. The sums stay, and somebody else is the keeper.
func TestErasedMember(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben, cleo)
	tool := addTool(t, s, ben, red(2))
	setTurns(t, s, turn(tool, 1, day0), turn(tool, 1, day0+1))
	ledger(t, s, ana, noon+day, (*Ledger).Erase)
	members := circleOf(t, s, ben).Members
	errorIf(t, len(members) != 2 || !members[0].Keeper || members[0].ID != 2, "members %+v", members)
	equal(t, balances(t, s, ben, number), "[{1 -200} {2 200}]", "balances")
	wantRows(t, s, map[string]int64{"circle_member WHERE name = '' AND grower_id IS NULL": 1, "circle_turn": 0})
	ledger(t, s, ben, noon+day, (*Ledger).Erase)
	ledger(t, s, cleo, noon+day, (*Ledger).Erase)
	wantRows(t, s, map[string]int64{"circle": 0, "circle_member": 0, "circle_entry": 0})
}

// The texts to others do not name an erased member any more. One that still waits is not sent, and its plot is looked
// at again. Texts to others than the persons of the circle stay as they are.
func TestErasedMemberInTextsOfOthers(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana, ben, cleo)
	makeCircle(t, s, ana, ben)
	ofOthers := text("sent", ben, noon)
	ofOthers.GrowerID, ofOthers.Note, ofOthers.Text = 2, "circle", "Ana "+ana.E164()+" fetches it"
	waits := ofOthers
	waits.Key, waits.Note, waits.Reminder, waits.PlotIDs = "waits", "", engine.KindPrepare, []int64{2}
	strange := ofOthers
	strange.Key, strange.To, strange.GrowerID = "strange", cleo, 3
	enqueue(t, s, ofOthers)
	execSQL(t, s, "UPDATE message SET state = 'delivered', claim_at = NULL, accepted_at = 1, ended_at = 1")
	enqueue(t, s, waits)
	enqueue(t, s, strange)
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.do("UPDATE plot SET look_at = $1", noon+9*day),
			tx.putToldTurn(2, ToldTurn{On: day0, Window: 1, Turns: []TurnDay{{1, day0}}}))
	})
	ledger(t, s, ana, noon+day, (*Ledger).Erase)
	wantRows(t, s, map[string]int64{
		"message WHERE key = 'sent' AND state = 'delivered' AND body = '… … fetches it'":                     1,
		"message WHERE key = 'waits' AND state = 'withdrawn' AND claim_at IS NULL AND body NOT LIKE '%Ana%'": 1,
		"message WHERE key = 'strange' AND state = 'queued' AND body LIKE 'Ana +%'":                          1,
		"circle_told": 0, fmt.Sprint("plot WHERE grower_id = 2 AND look_at = ", noon+day): 1,
	})
}
