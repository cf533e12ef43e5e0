package store

import (
	"errors"
	"fmt"
)

const (
	sqlUnlink = `UPDATE grower SET phone = '+0' || id, unlinked_at = $1 WHERE id = $2`
	// Texts carry the number of their grower, also those that ended: the number may get another owner,
	// who may have all of its texts erased.
	sqlUnlinkTexts = `UPDATE message SET phone = '+0' || grower_id WHERE grower_id = $1`
)

// Unlink parts the records from this number, which turned out to be somebody else's. The records stay
// for staff to move or erase, and the bell ignores them. Waiting texts are withdrawn; dialogues, prompt
// and stored replies are deleted.
func (l *Ledger) Unlink() error {
	if !l.Known() {
		return ErrUnknown
	}
	phone := l.phone.E164()
	if _, err := l.tx.withdraw(sqlPendingOfPhone, args(phone), l.now, l.Zone()); err != nil {
		return fail("unlink", err)
	}
	err := errors.Join(
		l.do(sqlUnwatch, l.id),
		l.do(sqlEraseSessions, phone),
		l.do(sqlEraseCallbacks, phone),
		l.tx.DropPrompt(l.phone),
		l.do(sqlDropCode, l.id),
		l.do(sqlUnlinkTexts, l.id),
		l.do(sqlUnlink, l.now, l.id),
	)
	if err != nil {
		return fail("unlink", err)
	}
	return l.reopen()
}

// reopen reads again which records belong to this phone.
func (l *Ledger) reopen() error {
	fresh, err := l.tx.Ledger(l.phone, l.now)
	if err == nil {
		fresh.channel = l.channel
		*l = *fresh
	}
	return err
}

const (
	sqlMoving = `SELECT phone, unlinked_at IS NOT NULL, stopped_at IS NOT NULL FROM grower WHERE id = ` + asID
	sqlRelink = `UPDATE grower SET phone = $1, unlinked_at = NULL, seen_at = $2 WHERE id = $3`
	// From an emptied session the menu knows on the next entry that the records moved to another
	// number.
	sqlEmptySessions = `UPDATE session SET state = x'' WHERE phone = $1`
	// A text that was tried went to the old number. It gets a new idempotency key, so that the network
	// takes it for another text and the settlement of the old try changes nothing. Message ids are never
	// reused, so the key is unique.
	sqlReleaseTexts = `UPDATE message SET state = 'queued', key = 'moved/' || id || '/' || tries, reason = '',
		claim_at = CASE WHEN state = 'claimed' THEN $1 ELSE claim_at END,
		gateway = '', doubt = 0, once = 0, charge_day = NULL, charge_segments = 0, charge_micros = 0
	WHERE grower_id = $2 AND claim_at IS NOT NULL AND tries > 0`
	sqlMoveTexts = `UPDATE message SET phone = $1, lane = $2 WHERE grower_id = $3`
	// The new phone answers the prompt. The prompt is dated before the dialogue that moves the records, so
	// that it is not taken for a newer question than that dialogue's.
	sqlMovePrompt = `UPDATE prompt SET phone = $1, asked_at = min(asked_at, $2 - 1) WHERE phone = $3`
)

// Move gives the records of a grower, with or without a number, to a number that has none. Consent,
// language, STOP, waiting texts and the prompt go with them. If the new number wants no texts, the
// moved records are stopped too. It returns ErrUnknown for an unknown id, and ErrTaken if the number
// has records.
func (tx *Tx) Move(growerID int64, to Phone, now int64) (stopped bool, err error) {
	var was string
	var unlinked bool
	known, err := tx.one(sqlMoving, args(growerID), &was, &unlinked, &stopped)
	switch {
	case err != nil:
		return false, fail("move", err)
	case !known:
		return false, ErrUnknown
	}
	l, err := tx.Ledger(to, now)
	switch {
	case err != nil:
		return false, err
	case l.Known():
		return false, ErrTaken
	}
	stopped = stopped || l.stopped
	err = errors.Join(
		l.do(sqlEmptySessions, was),
		l.do(sqlEraseCallbacks, was),
		l.do(sqlEraseSessions, to.E164()),
		tx.DropPrompt(to),
		l.do(sqlMovePrompt, to.E164(), now, was),
		l.do(sqlDropCode, growerID),
		l.do(sqlReleaseTexts, now, growerID),
		l.do(sqlMoveTexts, to.E164(), tx.s.routePrefixOf(to.E164()), growerID),
		l.do(sqlRelink, to.E164(), now, growerID),
	)
	if err == nil {
		err = l.reopen()
	}
	if err == nil {
		err = l.reached() // the new number may exist where the old one did not
	}
	switch {
	case err != nil:
	case stopped:
		err = l.Stop()
	case unlinked:
		err = l.do(sqlWatch, now, growerID)
	}
	return stopped, fail("move", err)
}

const sqlIsUnlinked = `SELECT unlinked_at IS NOT NULL FROM grower WHERE id = ` + asID

// MoveUnlinked moves the records of a grower without a number. It returns ErrLinked for a grower who
// has one, so that a mistyped id takes nobody's records away.
func (tx *Tx) MoveUnlinked(growerID int64, to Phone, now int64) (stopped bool, err error) {
	var unlinked bool
	known, err := tx.one(sqlIsUnlinked, args(growerID), &unlinked)
	switch {
	case err != nil:
		return false, fail("move", err)
	case known && !unlinked:
		return false, ErrLinked
	}
	return tx.Move(growerID, to, now)
}

// Unlinked is a grower whose number turned out to be somebody else's.
type Unlinked struct {
	ID    int64
	At    int64 // when the number was unlinked, in Unix seconds
	Plots int   // open plots
}

const (
	sqlUnlinked = `SELECT g.id, g.unlinked_at,
		(SELECT count(*) FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL)
	FROM grower g WHERE g.unlinked_at > 0 ORDER BY g.unlinked_at, g.id`
	sqlEraseUnlinked = `DELETE FROM grower WHERE id = $1 AND unlinked_at > 0`
)

// Unlinked lists the growers without a number, longest waiting first.
func (tx *Tx) Unlinked() ([]Unlinked, error) {
	list, err := rows(tx, sqlUnlinked, nil, func(u *Unlinked) []any { return args(&u.ID, &u.At, &u.Plots) })
	return list, fail("unlinked", err)
}

// EraseUnlinked deletes the records of a grower without a number, and the texts about them. It returns
// ErrUnknown for any other id.
func (tx *Tx) EraseUnlinked(growerID int64) error {
	n, err := tx.exec(sqlEraseUnlinked, growerID)
	if err == nil && n == 0 {
		return ErrUnknown
	}
	return fail(fmt.Sprintf("erase grower %d", growerID), err)
}
