package store

import (
	"errors"
	"fmt"
)

const (
	sqlUnlink = `UPDATE grower SET phone = '+0' || id, unlinked_at = $1 WHERE id = $2`
	// Each text stores the phone number of its grower, even after the text has ended. The number may get another
	// owner, who may demand that all texts to the number are erased. So the number is replaced in the texts.
	sqlUnlinkTexts = `UPDATE message SET phone = '+0' || grower_id WHERE grower_id = $1`
)

// Unlink separates the records from this number, after the number turned out to belong to somebody else. The
// records remain stored until staff move or erase them, and the bell (the reminder job) ignores them. Waiting
// texts are withdrawn. Dialogues, the prompt and stored replies are deleted.
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

// reopen reads the ledger again, because other records may belong to this phone now.
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
	// The old number's session is emptied, not deleted. From the empty session, the menu sees that the records
	// moved to another number.
	sqlEmptySessions = `UPDATE session SET state = x'' WHERE phone = $1`
	// sqlReleaseTexts changes waiting texts that a network already tried to send to the old number. For the new
	// number each text gets a new idempotency key. Otherwise the network might take the text for a repeat and not
	// send it. Also, a late result of the try for the old number has the old key, so it changes nothing. The new key
	// is unique because message ids are never reused.
	sqlReleaseTexts = `UPDATE message SET state = 'queued', key = 'moved/' || id || '/' || tries, reason = '',
		claim_at = CASE WHEN state = 'claimed' THEN $1 ELSE claim_at END,
		gateway = '', doubt = 0, once = 0, charge_day = NULL, charge_segments = 0, charge_micros = 0
	WHERE grower_id = $2 AND claim_at IS NOT NULL AND tries > 0`
	sqlMoveTexts = `UPDATE message SET phone = $1, lane = $2 WHERE grower_id = $3`
	// The prompt moves to the new phone. Its asked_at is set to at most one second before the move. So it is earlier
	// than the dialogue in which the code was typed, and a digit typed in that dialogue is not taken as an answer to
	// the prompt.
	sqlMovePrompt = `UPDATE prompt SET phone = $1, asked_at = min(asked_at, $2 - 1) WHERE phone = $3`
)

// Move gives the records of a grower, with or without a phone number, to the number to, which must have no
// records. Consent, language, STOP, waiting texts and the prompt move too. If the new number wants no texts, the
// moved records are also stopped. Move returns ErrUnknown for an unknown grower id, and ErrTaken if the new
// number has records.
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
		err = l.reached() // a mark "unreachable" was for the old number
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

// MoveUnlinked moves the records of a grower without a number. If the grower has a number, it returns ErrLinked,
// so that a mistyped id does not take the records of another grower.
func (tx *Tx) MoveUnlinked(growerID int64, to Phone, now int64) (stopped bool, err error) {
	var unlinked bool
	known, err := tx.one(sqlMoving, args(growerID), new(string), &unlinked, new(bool))
	switch {
	case err != nil:
		return false, fail("move", err)
	case known && !unlinked:
		return false, ErrLinked
	}
	return tx.Move(growerID, to, now)
}

// Unlinked is a grower without a number, because the grower's old number turned out to belong to somebody else.
type Unlinked struct {
	ID    int64
	At    int64 // when the number was unlinked, in Unix seconds
	Plots int   // number of open plots
}

const (
	sqlUnlinked = `SELECT g.id, g.unlinked_at,
		(SELECT count(*) FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL)
	FROM grower g WHERE g.unlinked_at > 0 ORDER BY g.unlinked_at, g.id`
	sqlEraseUnlinked = `DELETE FROM grower WHERE id = $1 AND unlinked_at > 0`
)

// Unlinked lists the growers without a number. The grower who was unlinked first is first in the list.
func (tx *Tx) Unlinked() ([]Unlinked, error) {
	list, err := rows(tx, sqlUnlinked, nil, func(u *Unlinked) []any { return args(&u.ID, &u.At, &u.Plots) })
	return list, fail("unlinked", err)
}

// EraseUnlinked deletes the records of a grower without a number, and the texts about these records. For any
// other grower id it returns ErrUnknown.
func (tx *Tx) EraseUnlinked(growerID int64) error {
	n, err := tx.exec(sqlEraseUnlinked, growerID)
	if err == nil && n == 0 {
		return ErrUnknown
	}
	return fail(fmt.Sprintf("erase grower %d", growerID), err)
}
