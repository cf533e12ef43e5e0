package store

import (
	"testing"

	"rowbell/engine"
)

// A text that a network may have taken before the backup is not sent again by itself, and not forgotten: the operator
// decides about it after the restore.
func TestRestoreKeepsTextsInDoubt(t *testing.T) {
	sqliteOnly(t)
	for name, settle1 := range map[string]func(Message) Settlement{
		"undecided":     func(m Message) Settlement { return m.LostTrack("no answer") },
		"to be retried": func(m Message) Settlement { return m.Unsure(noon+60, "no answer") },
	} {
		s := openWithPlot(t, ana)
		m := reminder(text("r", ana, noon), engine.KindOpen, 1, 1)
		m.UsefulUntil = noon + 3*day
		id := enqueue(t, s, m)
		_, list := handOver(t, s, noon, heronOnce())
		write(t, s, func(tx *Tx) error { return second(tx.Begin(list[0], noon)) })
		settle(t, s, noon+1, settle1(list[0]))
		backup := backupOf(t, s)
		shut(t, s)
		r := restoreTo(t, backup, s.path)
		equal(t, r.Reconciled.InDoubt, 1, "in doubt, %s", name)
		s = openAt(t, s.path)
		wantClaim(t, s, noon+day, heronOnce())
		again := false
		write(t, s, func(tx *Tx) (err error) { again, err = tx.SendAgain(id, noon+day); return err })
		errorIf(t, !again, "%s: it cannot be sent again", name)
		wantClaim(t, s, noon+day, heronOnce(), "r")
		shut(t, s)
	}
}
