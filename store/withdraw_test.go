package store

import (
	"testing"
	"time"

	"rowbell/engine"
)

// A change of a plot withdraws the waiting texts about it. Their reminders count as not sent, also for a second plot
// in the same text.
func TestChangesWithdrawTexts(t *testing.T) {
	moved := aPlot()
	moved.Planted += 3
	renamed := aPlot()
	renamed.Label = "other"
	for name, c := range map[string]struct {
		do         func(*Ledger) error
		told, seen int64 // rows left in told; plots at which the bell (the reminder job) will look
	}{
		"ClosePlot":        {closePlot(1), 0, 1},
		"LogPass":          {logPass(1, aPass), 0, 2},
		"See":              {see(1, engine.Sighting{On: day0, Amount: engine.Many}), 0, 2},
		"ChangePlot label": {func(l *Ledger) error { return l.ChangePlot(1, renamed, aTool()) }, 0, 2},
		"ChangePlot day":   {func(l *Ledger) error { return l.ChangePlot(1, moved, aTool()) }, 0, 2},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithTwoPlots(t)
			gone := ring(t, s, ana, []int{1}, engine.KindPrepare, noon-86400)
			sending := claim(t, s, noon-86400)[0] // must not be withdrawn, because the text is being sent
			both := ring(t, s, ana, []int{1, 2}, engine.KindOpen, noon)
			n := len(due(t, s, noon+1))
			fatalIf(t, n != 0, "%d growers due before the change", n)
			ledger(t, s, ana, noon+1, c.do)
			wantStates(t, s, map[int64]State{both: Withdrawn, gone: Claimed})
			settle(t, s, noon+2, sending.Again(noon+2, "not reached"))
			wantState(t, s, gone, Expired)
			wantNumber(t, s, c.told, "SELECT count(*) FROM told")
			wantNumber(t, s, c.seen, "SELECT count(*) FROM plot WHERE look_at = $1 OR look_at = $2", noon+1,
				day0.At(7, time.UTC).Unix())
		})
	}
}

// Newer information about a plot withdraws the waiting text about it. If the text was also about another plot, the
// bell (the reminder job) looks at the other plot again.
func TestSupersede(t *testing.T) {
	s := openWithTwoPlots(t)
	both := ring(t, s, ana, []int{1, 2}, engine.KindOpen, noon)
	answer := text("an answer", ana, noon)
	answer.PlotIDs = []int64{1}
	about := enqueue(t, s, answer)
	sending := ring(t, s, ana, []int{2}, engine.KindPrepare, noon-86400)
	claim(t, s, noon-86400)
	write(t, s, func(tx *Tx) error { return tx.Supersede(1, noon+day+60, time.UTC, noon+80000) })
	wantStates(t, s, map[int64]State{both: Withdrawn, about: Withdrawn, sending: Claimed})
	wantNumber(t, s, 0, "SELECT count(*) FROM told WHERE kind = $1", int64(engine.KindOpen))
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at = $1 AND no = 2", noon+80000)
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at = $1", noon+80000)
}
