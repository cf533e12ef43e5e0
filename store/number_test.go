package store

import (
	"context"
	"errors"
	"reflect"
	"slices"
	"testing"

	"rowbell/engine"
)

const (
	cleo Phone = "+447700900003"
	day        = 24 * 60 * 60
)

// ringing gives a grower with a plot a text about it that waits to be sent,
// a dialogue, a prompt and a reply kept for a repeat.
func ringing(t *testing.T, s *Store, p Phone) (message int64) {
	t.Helper()
	withPlot(t, s, p)
	grower := number(t, s, "SELECT id FROM grower WHERE phone = $1", p.E164())
	plot := number(t, s, "SELECT id FROM plot WHERE grower_id = $1", grower)
	m := text("ring "+p.E164(), p, noon)
	m.GrowerID, m.PlotIDs, m.Kind, m.UsefulUntil = grower, []int64{plot}, engine.KindOpen.String(), noon+200*day
	id := enqueue(t, s, m)
	write(t, s, func(tx *Tx) error {
		_, told := tx.Tell(plot, engine.Told{Kind: engine.KindOpen, Window: 1, On: day0})
		return errors.Join(told,
			tx.SaveSession(Session{Phone: p, Channel: "ussd", Network: "n", State: []byte("secret"), ExpiresAt: noon + 400*day}),
			tx.SavePrompt(Prompt{Phone: p, Body: []byte("asked"), Until: noon + 400*day}),
			tx.Remember("local", "k"+p.E164(), p, []byte("secret"), noon))
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
	keep(t, s, ana, later, (*Ledger).Visit)
	if !silent(ana, later) {
		t.Error("a visit ended the silence")
	}
	keep(t, s, ana, later, (*Ledger).Stop)
	keep(t, s, ana, later, (*Ledger).Start)
	if !silent(ana, later) {
		t.Error("STOP and START ended the silence")
	}
	keep(t, s, ana, later, func(l *Ledger) error {
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
	keep(t, s, ana, at, func(l *Ledger) error {
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
	if st := stateOf(t, s, id); st != Withdrawn {
		t.Errorf("the text is %s", st)
	}
	if st := stateOf(t, s, other); st != Queued {
		t.Errorf("another grower's text is %s", st)
	}
	if n := number(t, s, "SELECT count(*) FROM move_code"); n != 0 {
		t.Errorf("%d codes", n)
	}
	if n := number(t, s, "SELECT count(*) FROM told WHERE plot_id = 1"); n != 0 {
		t.Error("what was not sent still counts as told")
	}
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
	keep(t, s, ana, at, (*Ledger).Erase)
	if n := number(t, s, "SELECT count(*) FROM plot p JOIN grower g ON g.id = p.grower_id WHERE g.id = 1"); n != 1 {
		t.Error("the records were erased with their number's new owner")
	}
	if n := number(t, s, "SELECT count(*) FROM message WHERE grower_id = 1"); n != 2 {
		t.Errorf("%d texts of the records left, want 2", n)
	}
	if err := s.IntegrityCheck(context.Background()); err != nil {
		t.Error(err)
	}
}

func TestMove(t *testing.T) {
	s := open(t)
	id := ringing(t, s, ana)
	at := noon + 3*day
	list := claim(t, s, at)
	if len(list) != 1 {
		t.Fatalf("claimed %d", len(list))
	}
	write(t, s, func(tx *Tx) error {
		if err := tx.SaveSession(Session{Phone: cleo, Channel: "ussd", State: []byte("welcome"), ExpiresAt: at + day}); err != nil {
			return err
		}
		stopped, err := tx.Move(1, cleo, at)
		if stopped {
			t.Error("texts are stopped")
		}
		return err
	})
	if n := left(t, s, ana); len(n) != 1 || n["session"] != 1 {
		t.Errorf("kept under the old number: %v, want an emptied dialogue", n)
	}
	if n := number(t, s, "SELECT length(state) FROM session WHERE phone = $1", ana.E164()); n != 0 {
		t.Errorf("%d octets of the dialogue left", n)
	}
	if n := left(t, s, cleo); n["grower"] != 1 || n["message"] != 1 || n["prompt"] != 1 || n["session"] != 0 {
		t.Errorf("under the new number: %v", n)
	}
	// The dialogue that is left is told from none: not nil, and empty.
	err := s.View(context.Background(), func(tx *Tx) error {
		left, ok, err := tx.Session(ana, "ussd")
		if !ok || left.State == nil || len(left.State) != 0 || left.Network != "n" {
			t.Errorf("dialogue %+v", left)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	keep(t, s, cleo, at, func(l *Ledger) error {
		nos, err := l.Plots()
		if !l.Known() || l.Language() != "en" || !slices.Equal(nos, []int{1}) {
			t.Errorf("known %v, language %s, plots %v", l.Known(), l.Language(), nos)
		}
		return err
	})
	if n := number(t, s, "SELECT consent_at FROM grower"); n != noon {
		t.Errorf("consent at %d, want the one that was given", n)
	}
	// The try that was on is void, and the text goes to the new number.
	err = s.View(context.Background(), func(tx *Tx) error {
		holds, err := tx.Holds(list[0], at)
		if holds {
			t.Error("a text is still being sent to the old number")
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if again := claim(t, s, at); len(again) != 1 || again[0].ID != id || again[0].To != cleo {
		t.Errorf("claimed anew: %+v", again)
	}
}

// What was asked before the move is answered on the new phone, unless that one
// wants no texts. It is older than what is said during the move.
func TestMoveTakesThePromptAlong(t *testing.T) {
	for _, stopped := range []bool{false, true} {
		s := open(t)
		withPlot(t, s, ana)
		write(t, s, func(tx *Tx) error {
			return errors.Join(
				tx.SavePrompt(Prompt{Phone: ana, Body: []byte("asked"), AskedAt: noon, Until: noon + 9}),
				tx.SavePrompt(Prompt{Phone: cleo, Body: []byte("another"), AskedAt: noon, Until: noon + 99}))
		})
		if stopped {
			keep(t, s, cleo, noon, (*Ledger).Stop)
		}
		write(t, s, func(tx *Tx) error {
			if _, err := tx.Move(1, cleo, noon); err != nil {
				return err
			}
			p, ok, err := tx.Prompt(cleo)
			if want := (Prompt{Phone: cleo, Body: []byte("asked"), AskedAt: noon - 1, Until: noon + 9}); ok == stopped || ok && !reflect.DeepEqual(p, want) {
				t.Errorf("stopped %v: prompt %+v, %v", stopped, p, ok)
			}
			_, old, err2 := tx.Prompt(ana)
			if old {
				t.Error("the old number is still asked")
			}
			return errors.Join(err, err2)
		})
	}
}

// A text that was tried for the old number is another one to the network, which
// may keep the keys it has seen; one that was not tried keeps its key. Whatever
// comes of the old try, the text waits for the new number.
func TestMoveReaddressesTexts(t *testing.T) {
	for name, end := range map[string]func(Message) Settlement{
		"took":   func(m Message) Settlement { return m.Took("net") },
		"refuse": func(m Message) Settlement { return m.Refuse("no") },
		"again":  func(m Message) Settlement { return m.Again(noon+9, "later") },
		"expire": func(m Message) Settlement { return m.Expire("over") },
		"lost":   func(m Message) Settlement { return m.LostTrack("cut") },
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			id := ringing(t, s, ana)
			first := claim(t, s, noon)
			fresh := text("fresh", ana, noon)
			fresh.GrowerID = 1
			enqueue(t, s, fresh)
			write(t, s, func(tx *Tx) error { return second(tx.Move(1, cleo, noon)) })
			write(t, s, func(tx *Tx) error { return tx.Settle(noon, end(first[0])) })
			if st := stateOf(t, s, id); st != Queued {
				t.Fatalf("the old try made it %s", st)
			}
			next := claim(t, s, noon)
			if len(next) != 2 || next[0].ID != id || next[0].To != cleo || next[0].Key == first[0].Key {
				t.Fatalf("claimed %+v, before the move %+v", next, first)
			}
			if next[1].Key != "fresh" || next[1].To != cleo {
				t.Errorf("what was not tried is %+v", next[1])
			}
			write(t, s, func(tx *Tx) error { return tx.Settle(noon, end(first[0])) })
			if st := stateOf(t, s, id); st != Claimed {
				t.Errorf("while the new try is on, the old one made it %s", st)
			}
			// On to a third number: again another key.
			write(t, s, func(tx *Tx) error { return second(tx.Move(1, ben, noon)) })
			write(t, s, func(tx *Tx) error { return tx.Settle(noon, end(first[0]), end(next[0])) })
			third := claim(t, s, noon)
			if len(third) != 2 || third[0].To != ben || third[0].Key == next[0].Key || third[0].Key == first[0].Key {
				t.Fatalf("claimed %+v", third)
			}
			write(t, s, func(tx *Tx) error { return tx.Settle(noon, third[0].Took("net 3")) })
			if st := stateOf(t, s, id); st != Accepted {
				t.Errorf("its own try left it %s", st)
			}
		})
	}
}

// One that waits for its next try goes to the new number at the same time, and
// is another text there.
func TestMoveOfATextToBeTriedAgain(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	first := claim(t, s, noon)
	write(t, s, func(tx *Tx) error { return tx.Settle(noon, first[0].Again(noon+600, "busy")) })
	write(t, s, func(tx *Tx) error { return second(tx.Move(1, cleo, noon)) })
	if early := claim(t, s, noon+599); len(early) != 0 {
		t.Errorf("claimed early: %+v", early)
	}
	if next := claim(t, s, noon+600); len(next) != 1 || next[0].Key == first[0].Key || next[0].Tries != 2 {
		t.Errorf("claimed %+v", next)
	}
}

func TestMoveRefuses(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	for _, c := range []struct {
		grower int64
		to     Phone
		want   error
	}{{1, ben, ErrTaken}, {1, ana, ErrTaken}, {9, cleo, ErrUnknown}} {
		err := s.InTx(context.Background(), func(tx *Tx) error { return second(tx.Move(c.grower, c.to, noon)) })
		if !errors.Is(err, c.want) {
			t.Errorf("grower %d to %v: %v, want %v", c.grower, c.to, err, c.want)
		}
	}
	for grower, want := range map[int64]error{1: ErrLinked, 9: ErrUnknown} {
		err := s.InTx(context.Background(), func(tx *Tx) error { return second(tx.MoveUnlinked(grower, cleo, noon)) })
		if !errors.Is(err, want) {
			t.Errorf("grower %d moved as unlinked: %v, want %v", grower, err, want)
		}
	}
	for _, grower := range []int64{1, 9} {
		err := s.InTx(context.Background(), func(tx *Tx) error { return tx.EraseUnlinked(grower) })
		if !errors.Is(err, ErrUnknown) {
			t.Errorf("grower %d erased as unlinked: %v", grower, err)
		}
	}
}

func TestUnlinkedRecordsMoveOrAreErased(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	ringing(t, s, ben)
	at := noon + 95*day
	keep(t, s, ana, at, (*Ledger).Unlink)
	keep(t, s, ben, at, (*Ledger).Unlink)
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
		if n := number(t, s, "SELECT count(*) FROM "+table); n != 1 {
			t.Errorf("%d rows of %s left, want the other grower's", n, table)
		}
	}
	err := s.View(context.Background(), func(tx *Tx) error {
		list, err := tx.Unlinked()
		if len(list) != 0 {
			t.Errorf("still unlinked: %+v", list)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
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
				keep(t, s, ana, noon, (*Ledger).Stop)
			}
			if c.to {
				keep(t, s, cleo, noon, (*Ledger).Stop)
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
			keep(t, s, cleo, noon, func(l *Ledger) error {
				if l.Stopped() != c.stopped {
					t.Errorf("stopped %v", l.Stopped())
				}
				return l.Erase()
			})
		})
	}
}
