package store

import "errors"

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
