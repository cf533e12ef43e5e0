package store

import "testing"

func TestOperatorHold(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	hold := func(why string, at int64) { write(t, s, func(tx *Tx) error { return tx.HoldSending(why, at) }) }
	hold("a wrong text", noon)
	hold("a wrong text is out", noon+5)
	claims := get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(noon+9, local(1)) })
	errorIf(t, !claims.OperatorHold || len(claims.Texts) > 0, "claimed during the hold: %+v", claims)
	h, on := lookUp(t, s, (*Tx).SendingHeld)
	errorIf(t, !on || h != SendingHold{"a wrong text is out", noon}, "on %v: %+v", on, h)
	for _, want := range []bool{true, false} {
		equal(t, get(t, s, (*Tx).ReleaseSending), want, "the hold was on")
	}
	wantClaim(t, s, noon+10, local(1), "k")
	late := text("late", ben, noon)
	lateID := enqueue(t, s, late)
	hold("again", noon)
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(late.UsefulUntil + 1)) })
	wantState(t, s, id, Unknown)
	wantState(t, s, lateID, Expired)
}
