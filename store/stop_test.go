package store

import (
	"errors"
	"fmt"
	"testing"

	"rowbell/engine"
)

// ring does for some plots what the bell (the reminder job) does: it records a reminder, and writes a text and a
// prompt.
func ring(t *testing.T, s *Store, p Phone, nos []int, kind engine.Kind, at int64) (id int64) {
	t.Helper()
	m := text(fmt.Sprintf("%s %v %s %d", p.E164(), nos, kind, at), p, at)
	ledger(t, s, p, at, func(l *Ledger) error {
		err := l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("1=done"), AskedAt: at, Until: at + 3600})
		var plots []int64
		for _, no := range nos {
			plot, err2 := l.PlotID(no)
			plots = append(plots, plot)
			fresh, err3 := l.tx.Tell(plot, engine.Told{Kind: kind, Window: 1, On: l.Today()})
			errorIf(t, !fresh, "plot %d was told %s before", no, kind)
			err = errors.Join(err, err2, err3, l.tx.SetLook(plot, at+day))
		}
		m = reminder(m, kind, l.GrowerID(), plots...)
		return err
	})
	return enqueue(t, s, m)
}

func claim(t *testing.T, s *Store, at int64) []Message {
	t.Helper()
	_, list := handOver(t, s, at, local(100))
	return list
}

func TestStop(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	sending := ring(t, s, ana, []int{1}, engine.KindPrepare, noon)
	claim(t, s, noon)
	waiting := ring(t, s, ana, []int{1}, engine.KindOpen, noon+1)
	others := ring(t, s, ben, []int{1}, engine.KindOpen, noon+1)
	loose := enqueue(t, s, text("an answer", ana, noon))

	ledger(t, s, ana, noon+2, (*Ledger).Stop)

	wantStates(t, s, map[int64]State{sending: Unknown, waiting: Withdrawn, loose: Withdrawn, others: Queued})
	wantNumber(t, s, 1, "SELECT count(*) FROM prompt")
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at IS NOT NULL")
	// After a STOP, a logged pass (weeding) must not make the plot due. A reply may still be sent.
	ledger(t, s, ana, noon+3, func(l *Ledger) error {
		errorIf(t, !l.Stopped() || !l.Known(), "stopped %v, known %v", l.Stopped(), l.Known())
		return errors.Join(l.LogPass(1, aPass), addPlot(l))
	})
	list := due(t, s, noon+1e6)
	errorIf(t, len(list) != 1 || list[0].Phone != ben, "due after STOP: %v", list)
	reply := enqueue(t, s, text("you are stopped", ana, noon+3))
	wantState(t, s, reply, Queued)

	ledger(t, s, ana, noon+4, (*Ledger).Start)
	errorIf(t, stopped(t, s, ana), "still stopped after Start")
	list = due(t, s, noon+4)
	errorIf(t, len(list) != 1 || list[0].Phone != ana || len(list[0].Plots) != 2, "due after START: %v", list)
	wantNumber(t, s, 0, "SELECT count(*) FROM opt_out")
}

// A text that is being sent when a STOP comes is unknown until the result of the try comes, which never does if the
// process dies.
func TestStopDuringATry(t *testing.T) {
	for _, c := range []struct {
		name   string
		result func(Message) Settlement
		want   State
	}{
		{"taken", func(m Message) Settlement { return m.Took("") }, Accepted},
		{"surely not taken", func(m Message) Settlement { return m.Again(noon+9, "busy") }, Withdrawn},
		{"not tried", func(m Message) Settlement { return m.Expire("not useful any more") }, Withdrawn},
		{"given back", func(m Message) Settlement { return m.Back(noon, "") }, Withdrawn},
		{"refused", func(m Message) Settlement { return m.Refuse("no") }, Withdrawn},
		{"perhaps taken", func(m Message) Settlement { return m.Unsure(noon+9, "cut off") }, Unknown},
		{"track lost", func(m Message) Settlement { return m.LostTrack("cut off") }, Unknown},
		{"no result", nil, Unknown},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			id := ring(t, s, ana, []int{1}, engine.KindPrepare, noon)
			m := claim(t, s, noon)[0]
			ledger(t, s, ana, noon+2, (*Ledger).Stop)
			wantState(t, s, id, Unknown)
			if c.result != nil {
				settle(t, s, noon+3, c.result(m))
			}
			write(t, s, func(tx *Tx) error { return second(tx.EndClaims(noon + 4)) })
			wantState(t, s, id, c.want)
			wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE undecided = 1 OR claim_at IS NOT NULL")
		})
	}
}
