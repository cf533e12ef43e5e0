package store

import (
	"errors"
)

// SilentAfter is 90 days in seconds. If a number was not used for this time, the next person who uses it is asked who
// they are. Networks give an unused number to somebody else after some months (common practice, without a source). 90
// days is less than a rice season with its harvest (an estimate).
const SilentAfter = 90 * 24 * 60 * 60

// Silent reports whether the phone has records and was not used for SilentAfter. Then the number may have a new owner:
// until Confirm is called, the records must not be shown or changed, and no prompt may be answered.
func (l *Ledger) Silent() bool { return l.Known() && silent(l.seenAt, l.now) }

// Silent is like Ledger.Silent, for the instant now.
func (g DueGrower) Silent(now int64) bool { return silent(g.seenAt, now) }

func silent(seenAt, now int64) bool { return now >= seenAt+SilentAfter }

// Confirm records that the grower still uses this number.
func (l *Ledger) Confirm() error {
	if !l.Known() {
		return ErrUnknown
	}
	l.seenAt = l.now
	return fail("confirm", l.do(sqlVisit, l.now, l.id))
}

const (
	sqlUnreachable = `UPDATE grower SET unreachable_at = $1 WHERE id = $2 AND unreachable_at IS NULL`
	sqlReachable   = `UPDATE grower SET unreachable_at = NULL WHERE id = $1`
)

// unreachable records that a network reported that this number does not exist, and withdraws the waiting texts. The
// bell (the reminder job) ignores the grower's plots until somebody uses the number.
func (tx *Tx) unreachable(phone Phone, now int64) error {
	l, err := tx.Ledger(phone, now)
	if err != nil || !l.Known() {
		return err
	}
	if _, err = tx.withdrawOfPhone(phone, now, l.Zone()); err != nil {
		return err
	}
	return errors.Join(l.do(sqlUnreachable, now, l.id), l.do(sqlUnwatch, l.id))
}

// reached makes the bell (the reminder job) look again at the plots of a number that was unreachable.
func (l *Ledger) reached() error {
	if !l.unreachable {
		return nil
	}
	l.unreachable = false
	err := l.do(sqlReachable, l.id)
	if err == nil && !l.stopped {
		err = l.do(sqlWatch, l.now, l.id)
	}
	return fail("reached", err)
}
