package store

import (
	"fmt"
	"testing"

	"rowbell/engine"
)

// ring does what the bell does for plots: it tells, enqueues and prompts.
func ring(t *testing.T, s *Store, p Phone, nos []int, kind engine.Kind, at int64) (id int64) {
	t.Helper()
	m := text(fmt.Sprintf("%s %v %s %d", p.E164(), nos, kind, at), p, at)
	m.Reminder, m.Note = kind, ""
	ledger(t, s, p, at, func(l *Ledger) error {
		m.GrowerID = l.GrowerID()
		for _, no := range nos {
			plot, err := l.PlotID(no)
			if err != nil {
				return err
			}
			m.PlotIDs = append(m.PlotIDs, plot)
			if fresh, err := l.tx.Tell(plot, engine.Told{Kind: kind, Window: 1, On: l.Today()}); !fresh || err != nil {
				t.Errorf("Tell: %v, %v", fresh, err)
			}
			if err := l.tx.SetLook(plot, at+86400); err != nil {
				return err
			}
		}
		return l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("1=done"), AskedAt: at, Until: at + 3600})
	})
	return enqueue(t, s, m)
}

func claim(t *testing.T, s *Store, at int64) []Message {
	t.Helper()
	var list []Message
	write(t, s, func(tx *Tx) (err error) {
		claims, err := tx.Claim(at, local(100))
		list = claims.Texts
		return err
	})
	return list
}

func TestStop(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	sending := ring(t, s, ana, []int{1}, engine.KindPrepare, noon)
	claim(t, s, noon)
	waiting := ring(t, s, ana, []int{1}, engine.KindOpen, noon+1)
	others := ring(t, s, ben, []int{1}, engine.KindOpen, noon+1)
	loose := enqueue(t, s, text("an answer", ana, noon))

	ledger(t, s, ana, noon+2, (*Ledger).Stop)

	for id, want := range map[int64]State{sending: Withdrawn, waiting: Withdrawn, loose: Withdrawn, others: Queued} {
		wantState(t, s, id, want)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM prompt")
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at IS NOT NULL")
	// A pass that is logged while stopped does not wake the bell, and a reply may still be sent.
	ledger(t, s, ana, noon+3, func(l *Ledger) error {
		errorIf(t, !l.Stopped() || !l.Known(), "stopped %v, known %v", l.Stopped(), l.Known())
		if err := l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
			return err
		}
		return second(l.AddPlot(aPlot(), aTool()))
	})
	if due := due(t, s, noon+1e6); len(due) != 1 || due[0].Phone != ben {
		t.Errorf("due after STOP: %v", due)
	}
	reply := enqueue(t, s, text("you are stopped", ana, noon+3))
	wantState(t, s, reply, Queued)

	ledger(t, s, ana, noon+4, (*Ledger).Start)
	errorIf(t, stopped(t, s, ana), "still stopped after Start")
	if due := due(t, s, noon+4); len(due) != 1 || due[0].Phone != ana || len(due[0].Plots) != 2 {
		t.Errorf("due after START: %v", due)
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM opt_out")
}

func TestStopOfAPhoneWithoutRecordsHolds(t *testing.T) {
	s := open(t)
	ledger(t, s, ana, noon, (*Ledger).Stop)
	ledger(t, s, ana, noon+1, (*Ledger).Stop) // a second STOP is no error
	errorIf(t, !stopped(t, s, ana), "not stopped")
	ledger(t, s, ana, noon, consent)
	errorIf(t, stopped(t, s, ana), "consent did not lift it")
}
