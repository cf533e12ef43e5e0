package store

import (
	"errors"
	"fmt"
)

const (
	// The name and the note go too: whose records these are is not sure any more.
	sqlUnlink = `UPDATE grower SET phone = '+0' || id, unlinked_at = $1, name = '', name_key = '', note = ''
	WHERE id = $2`
	// What staff changed of name and note stays in the trail, without the words.
	sqlUnlinkTrail = `UPDATE trail SET was = '', now = '' WHERE grower_id = $1 AND what IN ('` + TrailName + `', '` +
		TrailNote + `')`
	// In each text, '+0' and the grower id replace the number. If the number's next owner demands that all texts to the
	// number are erased, the texts of this grower must stay.
	sqlUnlinkTexts = `UPDATE message SET phone = '+0' || grower_id WHERE grower_id = $1`
)

// Unlink separates the records from this number, because it turned out to belong to somebody else. Waiting texts are
// withdrawn; dialogues, the prompt and stored replies are deleted. The bell (the reminder job) ignores the records
// until staff move or erase them.
func (l *Ledger) Unlink() error {
	if !l.Known() {
		return ErrUnknown
	}
	phone := l.phone.E164()
	if _, err := l.tx.withdrawOfPhone(l.phone, l.now, l.Zone()); err != nil {
		return fail("unlink", err)
	}
	err := errors.Join(
		l.do(sqlUnwatch, l.id),
		l.do(sqlDropAttentionOfGrower, l.id),
		l.do(sqlEraseSessions, phone),
		l.do(sqlEraseCallbacks, phone),
		l.tx.DropPrompt(l.phone),
		l.do(sqlDropCode, l.id),
		l.do(sqlUnlinkTexts, l.id),
		l.do(sqlUnlinkTrail, l.id),
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
		fresh.channel, fresh.quietFrom = l.channel, l.quietFrom
		*l = *fresh
	}
	return err
}

const (
	sqlMoving        = `SELECT phone, unlinked_at IS NOT NULL, stopped_at IS NOT NULL FROM grower WHERE id = ` + asID
	sqlPhoneOfGrower = `SELECT phone FROM grower WHERE id = ` + asID
	sqlRelink        = `UPDATE grower SET phone = $1, unlinked_at = NULL, seen_at = $2 WHERE id = $3`
	// The session of the old number is emptied, not deleted: from the empty session, the menu sees that the records
	// moved.
	sqlEmptySessions = `UPDATE session SET state = x'' WHERE phone = $1`
	// sqlReleaseTexts gives a new idempotency key to each waiting text that was already tried. With the old key, the
	// network might take the text for a repeat and not send it to the new number. A late result of the old try has the
	// old key, so it changes nothing. The new key is unique, because message ids are never reused.
	sqlReleaseTexts = `UPDATE message SET state = 'queued', key = 'moved/' || id || '/' || tries, reason = '',
		claim_at = CASE WHEN state = 'claimed' THEN $1 ELSE claim_at END,
		gateway = '', doubt = 0, once = 0, begun = 0, charge_day = NULL, charge_segments = 0, charge_micros = 0
	WHERE grower_id = $2 AND claim_at IS NOT NULL AND tries > 0`
	sqlMoveTexts = `UPDATE message SET phone = $1, lane = $2, back = '', undecided = 0 WHERE grower_id = $3`
	// The prompt gets an asked_at before the move, so that it is older than the dialogue in which the code was typed.
	// So a digit typed in that dialogue is not taken as an answer to the prompt.
	sqlMovePrompt = `UPDATE prompt SET phone = $1, asked_at = min(asked_at, $2 - 1) WHERE phone = $3`
)

// Move gives the records of a grower, with or without a number, to the number to. Consent, language, STOP, waiting
// texts and the prompt move too. If the new number wants no texts, the moved records are also stopped. Move returns
// ErrUnknown for an unknown grower id, and ErrTaken if the new number has records.
func (tx *Tx) Move(growerID int64, to Phone, now int64) (stopped bool, err error) {
	var was string
	var unlinked bool
	if err := tx.lockToMove(growerID, to); err != nil {
		return false, fail("move", err)
	}
	known, err := tx.one(sqlMoving, args(growerID), &was, &unlinked, &stopped)
	switch {
	case err != nil:
		return false, fail("move", err)
	case !known:
		return false, ErrUnknown
	}
	if err := tx.Lock(Phone(was), to); err != nil {
		return false, err
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

// lockToMove locks the phone of a grower, and the one to which the records move, before Move locks the grower's row:
// other transactions lock the phone before the row, too. If the records have moved meanwhile, it locks their new phone.
func (tx *Tx) lockToMove(growerID int64, to Phone) error {
	if tx.pg == nil {
		return nil
	}
	for locked := ""; ; {
		phone := ""
		if _, err := tx.one(sqlPhoneOfGrower, args(growerID), &phone); err != nil || phone == locked {
			return err
		}
		if err := tx.Lock(Phone(phone), to); err != nil {
			return err
		}
		locked = phone
	}
}

// MoveUnlinked is like Move, but returns ErrLinked if the grower has a number, so that a mistyped id does no harm.
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

// Unlinked is a grower without a number, because the old number turned out to belong to somebody else.
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

// EraseUnlinked deletes the records of a grower without a number. For any other grower id it returns ErrUnknown.
func (tx *Tx) EraseUnlinked(growerID, now int64) error {
	var unlinked bool
	known, err := tx.one(sqlMoving, args(growerID), new(Phone), &unlinked, new(bool))
	switch {
	case err == nil && (!known || !unlinked):
		return ErrUnknown
	case err == nil:
		err = errors.Join(tx.forgetPerson(growerID, now), tx.do(sqlEraseUnlinked, growerID))
	}
	return fail(fmt.Sprintf("erase grower %d", growerID), err)
}
