package store

import (
	"errors"
	"fmt"
)

const (
	sqlUnlink = `UPDATE grower SET phone = '+0' || id, unlinked_at = $1 WHERE id = $2`
	// Texts carry the number of their grower, also those that are over: the
	// number may get another grower, who may have all of its texts erased.
	sqlUnlinkTexts = `UPDATE message SET phone = '+0' || grower_id WHERE grower_id = $1`
)

// Unlink parts the records from this number, whose owner is another: they are
// kept for staff to move or erase, the bell leaves them alone, and the number
// is a stranger's. What waited to be sent to it is withdrawn; dialogues,
// prompt and replies kept for repeats are gone.
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

// reopen reads anew whose records this phone has.
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
	// An emptied dialogue: the menu says, on the next entry, that the records
	// are not with this number any more.
	sqlEmptySessions = `UPDATE session SET state = x'' WHERE phone = $1`
	// One that was tried was addressed to the old number: that try holds no
	// longer, and to the network the text is another one, with a key of its own.
	// No id is used twice, so nothing else has that key.
	sqlReleaseTexts = `UPDATE message SET state = 'queued', key = 'moved/' || id || '/' || tries, reason = '',
		claim_at = CASE WHEN state = 'claimed' THEN $1 ELSE claim_at END,
		gateway = '', doubt = 0, once = 0, charge_day = NULL, charge_segments = 0, charge_micros = 0
	WHERE grower_id = $2 AND claim_at IS NOT NULL AND tries > 0`
	sqlMoveTexts = `UPDATE message SET phone = $1, lane = $2 WHERE grower_id = $3`
	// What was asked of the grower is answered on the new phone. There it is
	// older than whatever is being said just now.
	sqlMovePrompt = `UPDATE prompt SET phone = $1, asked_at = min(asked_at, $2 - 1) WHERE phone = $3`
)

// Move gives the records of a grower, linked or not, to a number that has
// none. Consent, language and a stop go with them, and so do the texts that
// wait to be sent and the prompt; the old number is a stranger's. A number that wants no
// texts keeps its will: the records are there, and stopped. ErrUnknown for an
// id that is none, ErrTaken for a number that has records.
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
		err = l.reached() // the new number is another
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

// MoveUnlinked is Move for a grower without a number: ErrLinked for one who
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

// Unlinked is a grower whose number turned out to be another's.
type Unlinked struct {
	ID    int64
	At    int64 // when it did
	Plots int   // open ones
}

const (
	sqlUnlinked = `SELECT g.id, g.unlinked_at, (SELECT count(*) FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL)
	FROM grower g WHERE g.unlinked_at > 0 ORDER BY g.unlinked_at, g.id`
	sqlEraseUnlinked = `DELETE FROM grower WHERE id = $1 AND unlinked_at > 0`
)

// Unlinked lists the growers without a number, the longest waiting first.
func (tx *Tx) Unlinked() ([]Unlinked, error) {
	var list []Unlinked
	err := tx.each(sqlUnlinked, nil, func(scan func(...any) error) error {
		var u Unlinked
		err := scan(&u.ID, &u.At, &u.Plots)
		list = append(list, u)
		return err
	})
	return list, fail("unlinked", err)
}

// EraseUnlinked removes the records of a grower without a number, with the
// texts sent about them. ErrUnknown for anybody else's id.
func (tx *Tx) EraseUnlinked(growerID int64) error {
	n, err := tx.exec(sqlEraseUnlinked, growerID)
	if err == nil && n == 0 {
		return ErrUnknown
	}
	return fail(fmt.Sprintf("erase grower %d", growerID), err)
}
