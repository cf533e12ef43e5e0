package store

import (
	"errors"
	"fmt"
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
	write(t, s, func(tx *Tx) error {
		return tx.SaveSession(Session{Phone: cleo, Channel: "ussd", State: []byte("welcome"), ExpiresAt: at + day})
	})
	move(t, s, 1, cleo, at)
	wantLeft(t, s, ana, 0, 1, 0, 0, 0)
	wantLeft(t, s, cleo, 1, 0, 1, 0, 1)
	view(t, s, func(tx *Tx) error {
		// The dialogue of the old number must be emptied, not deleted: its state must be empty, but not nil.
		left, ok, err := tx.Session(ana, "ussd")
		errorIf(t, !ok || left.State == nil || len(left.State) != 0 || left.Network != "n", "dialogue %+v", left)
		still, err2 := tx.StillClaimed(list[0], at)
		errorIf(t, still, "a text is still being sent to the old number")
		return errors.Join(err, err2)
	})
	ledger(t, s, cleo, at, func(l *Ledger) error {
		nos, err := l.Plots()
		errorIf(t, !l.Known() || l.Language() != "en" || !slices.Equal(nos, []int{1}),
			"known %v, language %s, plots %v", l.Known(), l.Language(), nos)
		return err
	})
	wantNumber(t, s, noon, "SELECT consent_at FROM grower")
	again := claim(t, s, at)
	errorIf(t, len(again) != 1 || again[0].ID != id || again[0].To != cleo, "claimed anew: %+v", again)
}

// The prompt moves to the new phone, unless that phone wants no texts. The AskedAt of the prompt must be before the
// move, so that a digit typed in the dialogue which moves the records is not taken as an answer to the prompt.
func TestMoveTakesThePromptAlong(t *testing.T) {
	for _, stopped := range []bool{false, true} {
		s := openWithPlot(t, ana)
		write(t, s, func(tx *Tx) error {
			return errors.Join(
				tx.SavePrompt(Prompt{Phone: ana, Body: []byte("asked"), AskedAt: noon, Until: noon + 9}),
				tx.SavePrompt(Prompt{Phone: cleo, Body: []byte("another"), AskedAt: noon, Until: noon + 99}))
		})
		if stopped {
			ledger(t, s, cleo, noon, (*Ledger).Stop)
		}
		move(t, s, 1, cleo, noon)
		view(t, s, func(tx *Tx) error {
			p, ok, err := tx.Prompt(cleo)
			want := Prompt{Phone: cleo, Body: []byte("asked"), AskedAt: noon - 1, Until: noon + 9}
			errorIf(t, ok == stopped || ok && !reflect.DeepEqual(p, want), "stopped %v: prompt %+v, %v", stopped, p, ok)
			_, old, err2 := tx.Prompt(ana)
			errorIf(t, old, "the old number still has a prompt")
			return errors.Join(err, err2)
		})
	}
}

// A text that was tried for the old number gets another idempotency key, because the network may remember the old key.
// A text that was not tried keeps its key. A late result of the old try must not change a text that waits for the new
// number.
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
			fresh := reminder(text("fresh", ana, noon), engine.KindClosed, 1)
			fresh.UsefulUntil = first[0].UsefulUntil + 1 // it is claimed after the reminder from ringing
			enqueue(t, s, fresh)
			move(t, s, 1, cleo, noon)
			settle(t, s, noon, end(first[0]))
			wantState(t, s, id, Queued)
			next := claim(t, s, noon)
			fatalIf(t, len(next) != 2 || next[0].ID != id || next[0].To != cleo || next[0].Key == first[0].Key,
				"claimed %+v, before the move %+v", next, first)
			errorIf(t, next[1].Key != "fresh" || next[1].To != cleo, "what was not tried is %+v", next[1])
			settle(t, s, noon, end(first[0]))
			wantState(t, s, id, Claimed)
			// When the records move to a third number, the text gets a third key.
			move(t, s, 1, ben, noon)
			settle(t, s, noon, end(first[0]), end(next[0]))
			third := claim(t, s, noon)
			fatalIf(t, len(third) != 2 || third[0].To != ben || third[0].Key == next[0].Key ||
				third[0].Key == first[0].Key, "claimed %+v", third)
			settle(t, s, noon, third[0].Took("net 3"))
			wantState(t, s, id, Accepted)
		})
	}
}

// If a text waits for its next try when the records move, it goes to the new number at the planned time, with
// another key.
func TestMoveOfATextToBeTriedAgain(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	first := claim(t, s, noon)
	settle(t, s, noon, first[0].Again(noon+600, "busy"))
	move(t, s, 1, cleo, noon)
	wantClaim(t, s, noon+599, local(9))
	next := claim(t, s, noon+600)
	errorIf(t, len(next) != 1 || next[0].Key == first[0].Key || next[0].Tries != 2, "claimed %+v", next)
}

// If the old or the new number has sent STOP, the moved records must be stopped, both after Move (by staff) and after
// TakeOver (by code). In the transaction of TakeOver, Former must return the old number, or "" if it wants no texts.
func TestMoveKeepsStops(t *testing.T) {
	for i := range 8 {
		old, fresh, byCode := i&1 > 0, i&2 > 0, i&4 > 0
		t.Run(fmt.Sprintf("old %v, new %v, by code %v", old, fresh, byCode), func(t *testing.T) {
			s := open(t)
			id := ringing(t, s, ana)
			if old {
				ledger(t, s, ana, noon, (*Ledger).Stop)
			}
			if fresh {
				ledger(t, s, cleo, noon, (*Ledger).Stop)
			}
			stop := old || fresh
			if byCode {
				code := codeOf(t, s, ana, noon)
				ledger(t, s, cleo, noon, func(l *Ledger) error {
					ok, _, err := l.TakeOver(code)
					errorIf(t, !ok || (l.Former() == ana) == old || (l.Former() == "") != old,
						"taken over %v, from %q", ok, l.Former().E164())
					return err
				})
			} else if got := move(t, s, 1, cleo, noon); got != stop {
				t.Errorf("moved as stopped: %v", got)
			}
			ledger(t, s, cleo, noon, func(l *Ledger) error {
				errorIf(t, l.Stopped() != stop || l.Former() != "",
					"stopped %v, later from %v", l.Stopped(), l.Former())
				return nil
			})
			n := len(due(t, s, noon))
			errorIf(t, n == 0 != stop, "%d growers due", n)
			st := stateOf(t, s, id)
			errorIf(t, (st == Withdrawn) != stop, "the text is %s", st)
			wantRows(t, s, map[string]int64{fmt.Sprintf("grower WHERE (stopped_at IS NOT NULL) <> %v", stop): 0})
		})
	}
}
