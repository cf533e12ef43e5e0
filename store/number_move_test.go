package store

import (
	"context"
	"errors"
	"reflect"
	"slices"
	"testing"

	"rowbell/engine"
)

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
	wantNumber(t, s, 0, "SELECT length(state) FROM session WHERE phone = $1", ana.E164())
	if n := left(t, s, cleo); n["grower"] != 1 || n["message"] != 1 || n["prompt"] != 1 || n["session"] != 0 {
		t.Errorf("under the new number: %v", n)
	}
	// The dialogue that is left is told from none: not nil, and empty.
	view(t, s, func(tx *Tx) error {
		left, ok, err := tx.Session(ana, "ussd")
		if !ok || left.State == nil || len(left.State) != 0 || left.Network != "n" {
			t.Errorf("dialogue %+v", left)
		}
		return err
	})
	ledger(t, s, cleo, at, func(l *Ledger) error {
		nos, err := l.Plots()
		if !l.Known() || l.Language() != "en" || !slices.Equal(nos, []int{1}) {
			t.Errorf("known %v, language %s, plots %v", l.Known(), l.Language(), nos)
		}
		return err
	})
	wantNumber(t, s, noon, "SELECT consent_at FROM grower")
	// The try that was on is void, and the text goes to the new number.
	view(t, s, func(tx *Tx) error {
		holds, err := tx.StillClaimed(list[0], at)
		if holds {
			t.Error("a text is still being sent to the old number")
		}
		return err
	})
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
			ledger(t, s, cleo, noon, (*Ledger).Stop)
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
			fresh.GrowerID, fresh.Reminder, fresh.Note, fresh.UsefulUntil = 1, engine.KindClosed, "", first[0].UsefulUntil+1 // it comes after the other
			enqueue(t, s, fresh)
			write(t, s, func(tx *Tx) error { return second(tx.Move(1, cleo, noon)) })
			settle(t, s, noon, end(first[0]))
			wantState(t, s, id, Queued)
			next := claim(t, s, noon)
			if len(next) != 2 || next[0].ID != id || next[0].To != cleo || next[0].Key == first[0].Key {
				t.Fatalf("claimed %+v, before the move %+v", next, first)
			}
			if next[1].Key != "fresh" || next[1].To != cleo {
				t.Errorf("what was not tried is %+v", next[1])
			}
			settle(t, s, noon, end(first[0]))
			wantState(t, s, id, Claimed)
			// On to a third number: again another key.
			write(t, s, func(tx *Tx) error { return second(tx.Move(1, ben, noon)) })
			settle(t, s, noon, end(first[0]), end(next[0]))
			third := claim(t, s, noon)
			if len(third) != 2 || third[0].To != ben || third[0].Key == next[0].Key || third[0].Key == first[0].Key {
				t.Fatalf("claimed %+v", third)
			}
			settle(t, s, noon, third[0].Took("net 3"))
			wantState(t, s, id, Accepted)
		})
	}
}

// One that waits for its next try goes to the new number at the same time, and
// is another text there.
func TestMoveOfATextToBeTriedAgain(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	first := claim(t, s, noon)
	settle(t, s, noon, first[0].Again(noon+600, "busy"))
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
