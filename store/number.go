package store

import (
	"errors"
	"fmt"
)

// SilentAfter is how long a number may be silent, in seconds, before whoever
// uses it is asked who they are: 90 days, less than a season and its harvest
// (judgement; networks give a number that is not used to somebody else after
// some months, common practice, no source).
const SilentAfter = 90 * 24 * 60 * 60

// Silent reports that there are records and that nobody was heard of on this
// number for so long that it may have changed hands: nothing of the records
// may be shown before Confirm. Like Visit, it counts to the day.
func (l *Ledger) Silent() bool { return l.Known() && l.now >= l.seenAt+SilentAfter }

// Confirm notes that the grower is still the one who uses this number.
func (l *Ledger) Confirm() error {
	if !l.Known() {
		return ErrUnknown
	}
	l.seenAt = l.now
	return fail("confirm", l.do(sqlVisit, l.now, l.id))
}

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
	// One that is being sent was addressed to the old number: its try holds no
	// longer, and it is claimed anew.
	sqlReleaseTexts = `UPDATE message SET state = 'queued', claim_at = $1 WHERE grower_id = $2 AND state = 'claimed'`
	sqlMoveTexts    = `UPDATE message SET phone = $1 WHERE grower_id = $2`
)

// Move gives the records of a grower, linked or not, to a number that has
// none. Consent, language and a stop go with them, and so do the texts that
// wait to be sent; the old number is a stranger's. A number that wants no
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
		tx.DropPrompt(Phone(was)),
		l.do(sqlEraseSessions, to.E164()),
		l.do(sqlDropCode, growerID),
		l.do(sqlReleaseTexts, now, growerID),
		l.do(sqlMoveTexts, to.E164(), growerID),
		l.do(sqlRelink, to.E164(), now, growerID),
	)
	if err == nil {
		err = l.reopen()
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
