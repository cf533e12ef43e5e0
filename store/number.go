package store

import (
	"errors"
)

// SilentAfter is how long a number may be silent, in seconds, before whoever
// uses it is asked who they are: 90 days, less than a season and its harvest
// (judgement; networks give a number that is not used to somebody else after
// some months, common practice, no source).
const SilentAfter = 90 * 24 * 60 * 60

// Silent reports that there are records and that nobody was heard of on this
// number for so long that it may have changed hands: nothing of the records
// may be shown before Confirm. Like Visit, it counts to the day.
func (l *Ledger) Silent() bool { return l.Known() && silent(l.seenAt, l.now) }

// Silent is the same of a grower whom the bell looks at.
func (g DueGrower) Silent(now int64) bool { return silent(g.seenAt, now) }

func silent(seenAt, now int64) bool { return now >= seenAt+SilentAfter }

// Confirm notes that the grower is still the one who uses this number.
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

// unreachable notes that a network knows no phone of this number: what waits
// for it is taken back, and the bell leaves its plots alone until the number
// is heard of again.
func (tx *Tx) unreachable(phone Phone, now int64) error {
	l, err := tx.Ledger(phone, now)
	if err != nil || !l.Known() {
		return err
	}
	if _, err = tx.withdraw(sqlPendingOfPhone, args(phone.E164()), now, l.Zone()); err != nil {
		return err
	}
	return errors.Join(l.do(sqlUnreachable, now, l.id), l.do(sqlUnwatch, l.id))
}

// reached has the bell look again at the plots of a number that could not be
// reached.
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
