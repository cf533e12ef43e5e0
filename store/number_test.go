package store

import (
	"context"
	"errors"
	"slices"
	"testing"

	"rowbell/engine"
)

// ringing gives a grower with a plot a text about it that waits to be sent,
// a dialogue, a prompt and a reply kept for a repeat.
func ringing(t *testing.T, s *Store, p Phone) (message int64) {
	t.Helper()
	withPlot(t, s, p)
	grower := number(t, s, "SELECT id FROM grower WHERE phone = $1", p.E164())
	plot := number(t, s, "SELECT id FROM plot WHERE grower_id = $1", grower)
	m := text("ring "+p.E164(), p, noon)
	m.GrowerID, m.PlotIDs, m.Reminder, m.Note, m.UsefulUntil = grower, []int64{plot}, engine.KindOpen, "", noon+200*day
	id := enqueue(t, s, m)
	write(t, s, func(tx *Tx) error {
		_, told := tx.Tell(plot, engine.Told{Kind: engine.KindOpen, Window: 1, On: day0})
		return errors.Join(told,
			tx.SaveSession(Session{Phone: p, Channel: "ussd", Network: "n", State: []byte("secret"), ExpiresAt: noon + 400*day}),
			tx.SavePrompt(Prompt{Phone: p, Body: []byte("asked"), Until: noon + 400*day}),
			tx.StoreReply("local", "k"+p.E164(), p, []byte("secret"), noon))
	})
	return id
}

// left counts what is kept under a phone in every table that knows phones.
func left(t *testing.T, s *Store, p Phone) map[string]int64 {
	t.Helper()
	n := map[string]int64{}
	for _, table := range []string{"grower", "session", "prompt", "callback", "message"} {
		if c := number(t, s, "SELECT count(*) FROM "+table+" WHERE phone = $1", p.E164()); c > 0 {
			n[table] = c
		}
	}
	return n
}

// The bell knows of the silence as a dialogue does.
func TestDueGrowerSilent(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	for at, want := range map[int64]bool{noon + SilentAfter - 1: false, noon + SilentAfter: true} {
		write(t, s, func(tx *Tx) error {
			due, err := tx.DueGrowers(at, 9)
			if len(due) != 1 || due[0].Silent(at) != want {
				t.Errorf("after %d s: %+v", at-noon, due)
			}
			return err
		})
	}
}

func TestSilent(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	silent := func(p Phone, at int64) bool {
		return read(t, s, p, at, func(l *Ledger) (bool, error) { return l.Silent(), nil })
	}
	for at, want := range map[int64]bool{noon: false, noon + SilentAfter - 1: false, noon + SilentAfter: true, noon + 2*SilentAfter: true} {
		if got := silent(ana, at); got != want {
			t.Errorf("silent after %d s: %v", at-noon, got)
		}
	}
	if silent(ben, noon+2*SilentAfter) {
		t.Error("a phone without records is silent")
	}
	// To be heard of is not enough any more; to say who one is is.
	later := noon + SilentAfter + 5*day
	ledger(t, s, ana, later, (*Ledger).Visit)
	if !silent(ana, later) {
		t.Error("a visit ended the silence")
	}
	ledger(t, s, ana, later, (*Ledger).Stop)
	ledger(t, s, ana, later, (*Ledger).Start)
	if !silent(ana, later) {
		t.Error("STOP and START ended the silence")
	}
	ledger(t, s, ana, later, func(l *Ledger) error {
		err := l.Confirm()
		if l.Silent() {
			t.Error("still silent in the same transaction")
		}
		return err
	})
	if silent(ana, later+SilentAfter-1) || !silent(ana, later+SilentAfter) {
		t.Error("the 90 days do not begin with the confirmation")
	}
	for name, do := range map[string]func(*Ledger) error{
		"confirm": (*Ledger).Confirm, "unlink": (*Ledger).Unlink,
		"code": func(l *Ledger) error { return second(l.MoveCode()) },
	} {
		err := s.InTx(context.Background(), func(tx *Tx) error {
			l, err := tx.Ledger(ben, noon)
			return errors.Join(err, do(l))
		})
		if !errors.Is(err, ErrUnknown) {
			t.Errorf("%s without records: %v", name, err)
		}
	}
}

func TestUnlink(t *testing.T) {
	s := open(t)
	id := ringing(t, s, ana)
	other := ringing(t, s, ben)
	over := text("over", ana, noon)
	over.GrowerID = 1
	enqueue(t, s, over)
	at := noon + 95*day
	ledger(t, s, ana, at, func(l *Ledger) error {
		if _, err := l.MoveCode(); err != nil {
			return err
		}
		err := l.Unlink()
		if l.Known() || l.GrowerID() != 0 || l.Phone() != ana {
			t.Errorf("the number still has the records of %d", l.GrowerID())
		}
		return err
	})
	if n := left(t, s, ana); len(n) != 0 {
		t.Errorf("kept under the number: %v", n)
	}
	wantState(t, s, id, Withdrawn)
	wantState(t, s, other, Queued)
	wantNumber(t, s, 0, "SELECT count(*) FROM move_code")
	wantNumber(t, s, 0, "SELECT count(*) FROM told WHERE plot_id = 1")
	// The bell leaves the plots alone, whatever stirs at their place, and no list shows them.
	write(t, s, func(tx *Tx) error {
		if err := tx.PutWeather(1, []WeatherDay{{On: day0, Measured: engine.Measured{MinC: 9, MaxC: 19, RainMM: 3}}}, at); err != nil {
			return err
		}
		if err := tx.SetLook(1, at); err != nil {
			return err
		}
		due, err := tx.DueGrowers(at+400*day, 10)
		if len(due) != 1 || due[0].Phone != ben {
			t.Errorf("due %+v", due)
		}
		if st, err := tx.Stats(at); err != nil || st.Growers != 1 || st.OpenPlots != 1 || st.Stopped != 0 {
			t.Errorf("counted with those without a number: %+v, %v", st, err)
		}
		ranked, err2 := tx.OpenPlots(DefaultPlace, 0)
		if len(ranked) != 1 || ranked[0].Phone != ben {
			t.Errorf("open plots of %+v", ranked)
		}
		list, err3 := tx.Unlinked()
		if !slices.Equal(list, []Unlinked{{ID: 1, At: at, Plots: 1}}) {
			t.Errorf("unlinked %+v", list)
		}
		return errors.Join(err, err2, err3)
	})
	// The number may join anew and be erased; the records stay.
	withPlot(t, s, ana)
	ledger(t, s, ana, at, (*Ledger).Erase)
	wantNumber(t, s, 1, "SELECT count(*) FROM plot p JOIN grower g ON g.id = p.grower_id WHERE g.id = 1")
	wantNumber(t, s, 2, "SELECT count(*) FROM message WHERE grower_id = 1")
	intact(t, s)
}

func TestUnlinkedRecordsMoveOrAreErased(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	ringing(t, s, ben)
	at := noon + 95*day
	ledger(t, s, ana, at, (*Ledger).Unlink)
	ledger(t, s, ben, at, (*Ledger).Unlink)
	write(t, s, func(tx *Tx) error { return second(tx.MoveUnlinked(1, cleo, at+day)) })
	write(t, s, func(tx *Tx) error {
		due, err := tx.DueGrowers(at+day, 10)
		if len(due) != 1 || due[0].Phone != cleo || len(due[0].Plots) != 1 {
			t.Errorf("the bell looks at %+v", due)
		}
		return err
	})
	if read(t, s, cleo, at+day, func(l *Ledger) (bool, error) { return l.Silent(), nil }) {
		t.Error("who was just given the records is asked who they are")
	}
	write(t, s, func(tx *Tx) error { return tx.EraseUnlinked(2) })
	for _, table := range []string{"grower", "plot", "message"} {
		wantNumber(t, s, 1, "SELECT count(*) FROM "+table)
	}
	view(t, s, func(tx *Tx) error {
		list, err := tx.Unlinked()
		if len(list) != 0 {
			t.Errorf("still unlinked: %+v", list)
		}
		return err
	})
}

// A stop holds for the grower and for the number.
func TestMoveKeepsStops(t *testing.T) {
	for name, c := range map[string]struct{ from, to, stopped bool }{
		"neither":    {},
		"the grower": {from: true, stopped: true},
		"the number": {to: true, stopped: true},
		"both":       {true, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			id := ringing(t, s, ana)
			if c.from {
				ledger(t, s, ana, noon, (*Ledger).Stop)
			}
			if c.to {
				ledger(t, s, cleo, noon, (*Ledger).Stop)
			}
			write(t, s, func(tx *Tx) error {
				stopped, err := tx.Move(1, cleo, noon)
				if stopped != c.stopped {
					t.Errorf("stopped %v", stopped)
				}
				due, err2 := tx.DueGrowers(noon, 9)
				if len(due) == 0 != c.stopped {
					t.Errorf("%d growers due", len(due))
				}
				return errors.Join(err, err2)
			})
			if st := stateOf(t, s, id); (st == Withdrawn) != c.stopped {
				t.Errorf("the text is %s", st)
			}
			ledger(t, s, cleo, noon, func(l *Ledger) error {
				if l.Stopped() != c.stopped {
					t.Errorf("stopped %v", l.Stopped())
				}
				return l.Erase()
			})
		})
	}
}
