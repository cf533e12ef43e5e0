package store

import (
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
)

// A grower moves the records to a new phone with a code: the old phone shows the code, and the grower types it on the
// new phone. Six digits are easy to guess, so a code is valid only for a short time, and wrong codes are limited: for
// each phone, and for all phones together, because phone numbers can be faked. Example: if ten of the million codes
// are valid at any time, 100 guesses a day find one with probability 100 × 10 / 1,000,000, which is once in a thousand
// days. After 100 wrong codes on one day, no code works on that day, and staff can move records instead.
//
// A code is stored only as a keyed hash. The outbox or the stored replies still contain the reply with the code, but
// the code is worthless after two hours.
const (
	codes      = 1_000_000
	codeFor    = 2 * 60 * 60  // how long a code is valid, in seconds
	wrongCodes = 5            // after so many wrong codes from one phone, all codes typed on that phone are refused
	wrongFor   = 24 * 60 * 60 // how long codes are refused after the last wrong code, in seconds
	// wrongCodesOfAll is the largest number of wrong codes from all phones together on one day (UTC). NIST SP 800-63B
	// clause 5.2.2 allows 100 failed tries for each account, so a limit for all accounts together is stricter.
	wrongCodesOfAll = 100
)

// maxDraws is how many random codes MoveCode tries. Few of the million codes are in use, so one of the first is free.
const maxDraws = 20

const (
	sqlDropCode = `DELETE FROM move_code WHERE grower_id = $1`
	sqlPutCode  = `INSERT INTO move_code (hash, grower_id, until) VALUES ($1, $2, $3)
	ON CONFLICT (hash) DO UPDATE SET grower_id = excluded.grower_id, until = excluded.until WHERE move_code.until <= $4`
)

// MoveCode returns a new code of six digits, with which another phone can take over these records once, within two
// hours. An earlier code of the same grower becomes invalid.
func (l *Ledger) MoveCode() (string, error) {
	if !l.Known() {
		return "", ErrUnknown
	}
	if err := l.do(sqlDropCode, l.id); err != nil {
		return "", fail("move code", err)
	}
	for range maxDraws {
		n, err := rand.Int(l.tx.s.random, big.NewInt(codes))
		if err != nil {
			return "", fail("move code", err)
		}
		code := fmt.Sprintf("%06d", n)
		put, err := l.tx.exec(sqlPutCode, l.codeHash(code), l.id, l.now+codeFor, l.now)
		if err != nil || put > 0 {
			return code, fail("move code", err)
		}
	}
	return "", errors.New("store: move code: none is free")
}

// codeHash returns the keyed hash under which a code is stored. A salt would make it impossible to find a code by its
// hash.
func (l *Ledger) codeHash(code string) []byte { return l.tx.keyedHash("move code " + code) }

const (
	sqlWrongCodes = `SELECT wrong FROM move_try WHERE hash = $1 AND until > $2`
	sqlWrongCode  = `INSERT INTO move_try (hash, wrong, until) VALUES ($1, 1, $2)
	ON CONFLICT (hash) DO UPDATE SET wrong = CASE WHEN move_try.until <= $3 THEN 1 ELSE move_try.wrong + 1 END,
		until = excluded.until`
	sqlEraseTries = `DELETE FROM move_try WHERE hash = $1`
	sqlWrongOfAll = `SELECT wrong FROM move_wrong WHERE day = $1`
	sqlCountOfAll = `INSERT INTO move_wrong (day, wrong) VALUES ($1, 1)
		ON CONFLICT (day) DO UPDATE SET wrong = move_wrong.wrong + 1`
	sqlCodeOf = `SELECT grower_id FROM move_code WHERE hash = $1 AND until > $2`
)

// TakeOver moves the records for which the code was made to this phone. It returns ErrTaken if this phone already has
// records. If this phone has sent STOP, the moved records get no texts either. If the code is wrong, ok is false, and
// left is how many more wrong codes may be typed on this phone. Then, if left is 0, every code is refused: until a day
// after the last wrong code of this phone, or until the next day (UTC) if all phones together reached their limit.
func (l *Ledger) TakeOver(code string) (ok bool, left int, err error) {
	if l.Known() {
		return false, 0, ErrTaken
	}
	if err := l.tx.lock(lockCodes); err != nil { // so that phones together do not exceed the limit
		return false, 0, fail("take over", err)
	}
	left, err = l.triesLeft()
	if err != nil || left == 0 {
		return false, 0, fail("take over", err)
	}
	var grower int64
	ok, err = l.tx.one(sqlCodeOf, args(l.codeHash(code), l.now), &grower)
	switch {
	case err != nil:
		return false, 0, fail("take over", err)
	case !ok:
		err = errors.Join(l.do(sqlWrongCode, l.hash(), l.now+wrongFor, l.now), l.do(sqlCountOfAll, dayOf(l.now)))
		return false, left - 1, fail("take over", err)
	}
	var was Phone
	var unlinked, stopped bool
	if _, err := l.tx.one(sqlMoving, args(grower), &was, &unlinked, &stopped); err != nil {
		return false, 0, fail("take over", err)
	}
	if _, err := l.tx.Move(grower, l.phone, l.now); err != nil {
		return false, 0, err
	}
	err = l.reopen()
	if !stopped {
		l.former = was
	}
	return true, 0, err
}

// triesLeft returns how many more wrong codes may be typed on this phone.
func (l *Ledger) triesLeft() (int, error) {
	var own, all int
	_, err := l.tx.one(sqlWrongCodes, args(l.hash(), l.now), &own)
	if err == nil {
		_, err = l.tx.one(sqlWrongOfAll, args(dayOf(l.now)), &all)
	}
	return max(0, min(wrongCodes-own, wrongCodesOfAll-all)), err
}

// Former returns the number from which TakeOver moved the records in this transaction, so that a text can inform its
// owner. It returns "" if nothing was moved, or if that number wants no texts.
func (l *Ledger) Former() Phone { return l.former }

// CodesBlocked reports whether no code works until the next day (UTC), because too many wrong codes were typed.
func (tx *Tx) CodesBlocked(now int64) (bool, error) {
	var wrong int
	_, err := tx.one(sqlWrongOfAll, args(dayOf(now)), &wrong)
	return wrong >= wrongCodesOfAll, fail("codes", err)
}
