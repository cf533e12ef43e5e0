package store

import (
	"testing"
	"time"

	"rowbell/engine"
)

// suppress withdraws the reminders of a night that begins at 20 o'clock, and returns their number.
func suppress(t *testing.T, s *Store, now int64, limit int) int {
	t.Helper()
	return get(t, s, func(tx *Tx) (int, error) { return tx.SuppressAtNight(now, 20, limit) })
}

// Due reminders are withdrawn at night only, here from 20 to 7 o'clock. They count as not sent, and the bell (the
// reminder job) looks at their plots in the morning.
func TestSuppressAtNight(t *testing.T) {
	at := func(day engine.Day, hour int) int64 { return day.At(hour, time.UTC).Unix() }
	for name, c := range map[string]struct {
		now  int64
		n    int
		look int64
	}{
		"by day":                 {at(day0, 20) - 1, 0, noon + 86400},
		"at the quiet hour":      {at(day0, 20), 1, at(day0+1, 7)},
		"after midnight":         {at(day0+1, 2), 1, at(day0+1, 7)},
		"the last second of it":  {at(day0+1, 7) - 1, 1, at(day0+1, 7)},
		"in the morning":         {at(day0+1, 7), 0, noon + 86400},
		"by night, a year later": {at(day0+365, 23), 1, at(day0+366, 7)},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			reminder := ring(t, s, ana, []int{1}, engine.KindOpen, noon)
			reply := enqueue(t, s, text("an answer", ana, noon))
			equal(t, suppress(t, s, c.now, 10), c.n, "withdrawn")
			want := Queued
			if c.n > 0 {
				want = Withdrawn
			}
			wantStates(t, s, map[int64]State{reminder: want, reply: Queued})
			wantNumber(t, s, int64(1-c.n), "SELECT count(*) FROM told")
			wantNumber(t, s, c.look, "SELECT look_at FROM plot")
		})
	}
}

// A reminder of any kind is claimed after all answers. It is not sent at night, unless its kind allows sending at
// night.
func TestEveryKindIsAReminder(t *testing.T) {
	for _, kind := range engine.Kinds() {
		s := openWithPlot(t, ana)
		id := ring(t, s, ana, []int{1}, kind, noon)
		wantNumber(t, s, urgencyReminder, "SELECT urgency FROM message")
		suppress(t, s, day0.At(22, time.UTC).Unix(), 10)
		got := stateOf(t, s, id)
		errorIf(t, (got == Withdrawn) == kind.AtNight(), "%s is %s at night", kind, got)
	}
}

// Texts about turns and of other persons that no network took by day wait for the morning; an answer goes at night too.
func TestTextsOfCirclesWaitAtNight(t *testing.T) {
	night, morning := noon+9*3600, (day0+1).At(7, time.UTC).Unix()
	for note, due := range map[string]int64{"turn": morning, "circle": morning, "reply": noon} {
		t.Run(note, func(t *testing.T) {
			s := openWithPlot(t, ana)
			m := text(note, ana, noon)
			m.Note, m.UsefulUntil = note, noon+48*3600
			m.GrowerID = get(t, s, func(tx *Tx) (int64, error) {
				l, err := tx.Ledger(ana, noon)
				return l.GrowerID(), err
			})
			id := enqueue(t, s, m)
			equal(t, suppress(t, s, noon+3600, 10), 0, "by day")
			suppress(t, s, night, 10)
			wantState(t, s, id, Queued)
			wantNumber(t, s, due, "SELECT claim_at FROM message")
		})
	}
}

// Neither does a text about a turn go out at night whose claim by day never got a result: the claim that ends it does
// not take it, and then it waits for the morning.
func TestTurnOfALostClaimWaitsAtNight(t *testing.T) {
	for name, once := range map[string]bool{"idempotent": false, "at most once": true} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			m := text("turn", ana, noon)
			m.Note, m.UsefulUntil = "turn", noon+48*3600
			m.GrowerID = get(t, s, func(tx *Tx) (int64, error) {
				l, err := tx.Ledger(ana, noon)
				return l.GrowerID(), err
			})
			enqueue(t, s, m)
			c := network("heron", "")
			c.AtMostOnce = once
			wantClaim(t, s, noon, c, "turn")
			night := int64(noon + 9*3600)
			suppress(t, s, night, 10)
			claims := get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(night, c) })
			if len(claims.Texts) != 0 || !claims.Ended {
				t.Errorf("claimed at night: %+v", claims)
			}
			equal(t, suppress(t, s, night, 10), 1, "put off")
			wantClaim(t, s, night, c)
			wantClaim(t, s, (day0+1).At(7, time.UTC).Unix(), c, "turn")
		})
	}
}

// A reminder whose next try is at night is withdrawn at the time of that try. Each place has its own night. One
// call withdraws at most as many reminders as its limit allows.
func TestSuppressAtNightTakesWhatIsDue(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	anotherPlace(t, s, "delta", "Asia/Dhaka", cleo)
	ids := map[Phone]int64{}
	for _, p := range []Phone{ana, ben, cleo} {
		ids[p] = ring(t, s, p, []int{1}, engine.KindOpen, noon)
	}
	equal(t, suppress(t, s, noon+2*3600+1, 10), 1, "withdrawn after 20 o'clock in Dhaka")
	wantState(t, s, ids[cleo], Withdrawn)
	for _, m := range claim(t, s, noon) {
		settle(t, s, noon, m.Again(noon+3000, "busy"))
	}
	execSQL(t, s, "UPDATE message SET claim_at = $1 WHERE state = 'queued'", noon+9*3600)
	equal(t, suppress(t, s, noon+9*3600-1, 10), 0, "withdrawn before their next try is due")
	for _, want := range []int{1, 1, 0} {
		equal(t, suppress(t, s, noon+9*3600, 1), want, "withdrawn, one at a time")
	}
}

// The sender was cut off at night, so the reminder may have arrived. It must not be sent again in the morning.
func TestUncertainReminderIsNotRungAgain(t *testing.T) {
	s := openWithPlot(t, ana)
	at := noon + 8*3600 - 30
	id := ring(t, s, ana, []int{1}, engine.KindOpen, at)
	handOver(t, s, at, network("heron", "")) // claimed, but no result is stored
	suppress(t, s, at+61, 10)
	wantState(t, s, id, Unknown)
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
}
