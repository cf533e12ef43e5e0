package store

import (
	"testing"
	"time"

	"rowbell/engine"
)

// Waiting reminders are withdrawn at night, and only then. They count as not told, and the bell looks
// at their plots in the morning.
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
			s := open(t)
			withPlot(t, s, ana)
			reminder := ring(t, s, ana, []int{1}, engine.KindOpen, noon)
			reply := enqueue(t, s, text("an answer", ana, noon))
			equal(t, get(t, s, func(tx *Tx) (int, error) { return tx.SuppressAtNight(c.now, 20, 10) }), c.n,
				"taken back")
			want := Queued
			if c.n > 0 {
				want = Withdrawn
			}
			wantState(t, s, reminder, want)
			wantState(t, s, reply, Queued)
			wantNumber(t, s, int64(1-c.n), "SELECT count(*) FROM told")
			wantNumber(t, s, c.look, "SELECT look_at FROM plot")
		})
	}
}

// A reminder of any kind is claimed after every answer, and not sent at night unless its kind allows
// it.
func TestEveryKindIsAReminder(t *testing.T) {
	for _, kind := range engine.Kinds() {
		s := open(t)
		withPlot(t, s, ana)
		id := ring(t, s, ana, []int{1}, kind, noon)
		wantNumber(t, s, urgencyReminder, "SELECT urgency FROM message")
		write(t, s, func(tx *Tx) error { return second(tx.SuppressAtNight(day0.At(22, time.UTC).Unix(), 20, 10)) })
		got := stateOf(t, s, id)
		errorIf(t, (got == Withdrawn) == kind.AtNight(), "%s is %s at night", kind, got)
	}
}

// A reminder whose next try is in the night is withdrawn when that is due, each place has its own
// night, and the limit is kept.
func TestSuppressAtNightTakesWhatIsDue(t *testing.T) {
	s := open(t)
	east := Phone("+447700900003")
	for _, p := range []Phone{ana, ben, east} {
		withPlot(t, s, p)
	}
	write(t, s, func(tx *Tx) error {
		p := defaultPlace()
		p.Name, p.Zone = "delta", "Asia/Dhaka"
		id, err := tx.PutPlace(p)
		if err == nil {
			_, err = tx.exec("UPDATE grower SET place_id = $1 WHERE phone = $2", id, east.E164())
		}
		return err
	})
	ids := map[Phone]int64{}
	for _, p := range []Phone{ana, ben, east} {
		ids[p] = ring(t, s, p, []int{1}, engine.KindOpen, noon)
	}
	suppress := func(now int64, limit, want int) {
		t.Helper()
		equal(t, get(t, s, func(tx *Tx) (int, error) { return tx.SuppressAtNight(now, 20, limit) }), want,
			"taken back at +%d", now-noon)
	}
	suppress(noon+2*3600+1, 10, 1) // after eight in Dhaka
	wantState(t, s, ids[east], Withdrawn)
	list := claim(t, s, noon)
	write(t, s, func(tx *Tx) error {
		for _, m := range list {
			if err := tx.Settle(noon, m.Again(noon+3000, "busy")); err != nil {
				return err
			}
		}
		_, err := tx.exec("UPDATE message SET claim_at = $1 WHERE state = 'queued'", noon+9*3600)
		return err
	})
	suppress(noon+9*3600-1, 10, 0)
	suppress(noon+9*3600, 1, 1)
	suppress(noon+9*3600, 1, 1)
	suppress(noon+9*3600, 1, 0)
}

// A reminder whose sender was cut off is not rung again in the morning: it may have arrived.
func TestUncertainReminderIsNotRungAgain(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	at := noon + 8*3600 - 30
	id := ring(t, s, ana, []int{1}, engine.KindOpen, at)
	handOver(t, s, at, network("heron", "")) // and never settled
	write(t, s, func(tx *Tx) error { return second(tx.SuppressAtNight(at+61, 20, 10)) })
	wantState(t, s, id, Unknown)
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
}
