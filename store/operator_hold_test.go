package store

import "testing"

func TestOperatorHold(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	write(t, s, func(tx *Tx) error { return tx.HoldSending("a wrong text", noon) })
	write(t, s, func(tx *Tx) error { return tx.HoldSending("a wrong text is out", noon+5) })
	write(t, s, func(tx *Tx) error {
		claims, err := tx.Claim(noon+9, local(1))
		errorIf(t, !claims.OperatorHold || len(claims.Texts) > 0, "held: %+v", claims)
		h, held, err2 := tx.SendingHeld()
		if want := (SendingHold{"a wrong text is out", noon}); !held || h != want {
			t.Errorf("held %v: %+v, want %+v", held, h, want)
		}
		if err == nil {
			err = err2
		}
		return err
	})
	for _, want := range []bool{true, false} {
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.ReleaseSending() }), want, "it was held")
	}
	wantClaim(t, s, noon+10, local(1), "k")
	late := text("late", ben, noon)
	lateID := enqueue(t, s, late)
	write(t, s, func(tx *Tx) error { return tx.HoldSending("again", noon) })
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(late.UsefulUntil + 1)) })
	if a, b := stateOf(t, s, id), stateOf(t, s, lateID); a != Unknown || b != Expired {
		t.Errorf("while held: %s, %s", a, b)
	}
}
