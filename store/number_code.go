package store

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/big"
)

// A grower takes the records to a new phone with a code that the old phone shows and the new phone types.
// Six digits are easy to type and easy to guess: the code is protected by its short life and by the few
// tries. Tries are limited for each phone, and for all phones together because numbers can be faked: with
// ten codes valid at any time, 100 tries a day hit one of them on one day in a thousand. On a day when the
// 100 tries are used up no code works, and staff can move records.
//
// A code is looked up by its keyed hash. That hides it only from casual reading of the database: a
// million hashes are soon tried. The reply that shows it contains it in clear, in the outbox or stored
// for a repeat; after two hours it is worthless.
const (
	codes      = 1_000_000
	codeFor    = 2 * 60 * 60  // validity of a code, in seconds
	wrongCodes = 5            // wrong codes from one phone, after which codes typed on it are refused
	wrongFor   = 24 * 60 * 60 // how long they are refused after the last wrong code, in seconds
	// wrongCodesOfAll is the limit for all phones together on one day (UTC). NIST SP 800-63B clause 5.2.2
	// limits failed tries at one account to 100; here 100 is the limit for all codes together.
	wrongCodesOfAll = 100
)

// maxDraws is how often MoveCode draws a code until one is free. Few of the million codes are valid at a
// time, so one of the first draws is free.
const maxDraws = 20

const (
	sqlDropCode = `DELETE FROM move_code WHERE grower_id = $1`
	sqlPutCode  = `INSERT INTO move_code (hash, grower_id, until) VALUES ($1, $2, $3)
	ON CONFLICT (hash) DO UPDATE SET grower_id = excluded.grower_id, until = excluded.until WHERE move_code.until <= $4`
)

// MoveCode returns a new code of six digits with which another phone can take over these records, once,
// within two hours. It invalidates the grower's earlier code.
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

// codeHash is the key of a code in the database: an HMAC with the database's key. There is no salt,
// because a code is looked up by its hash and no two growers may have the same code.
func (l *Ledger) codeHash(code string) []byte {
	mac := hmac.New(sha256.New, l.tx.s.hashKey)
	mac.Write([]byte("move code " + code))
	return mac.Sum(nil)
}

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

// TakeOver moves the records for which a code was made to this phone. It returns ErrTaken if the phone
// has records. A phone that wants no texts gets none afterwards either. If the code is wrong, left is
// how many more tries this phone has; at 0 every code typed on it is refused until the next day.
func (l *Ledger) TakeOver(code string) (ok bool, left int, err error) {
	if l.Known() {
		return false, 0, ErrTaken
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
	var was string
	var unlinked, stopped bool
	if _, err := l.tx.one(sqlMoving, args(grower), &was, &unlinked, &stopped); err != nil {
		return false, 0, fail("take over", err)
	}
	if _, err := l.tx.Move(grower, l.phone, l.now); err != nil {
		return false, 0, err
	}
	err = l.reopen()
	if !stopped {
		l.former = Phone(was)
	}
	return true, 0, err
}

// triesLeft returns how many more wrong codes are accepted from this phone.
func (l *Ledger) triesLeft() (int, error) {
	var own, all int
	_, err := l.tx.one(sqlWrongCodes, args(l.hash(), l.now), &own)
	if err == nil {
		_, err = l.tx.one(sqlWrongOfAll, args(dayOf(l.now)), &all)
	}
	return max(0, min(wrongCodes-own, wrongCodesOfAll-all)), err
}

// Former returns the number from which TakeOver moved the records in this transaction, whose owner must
// be told; "" if that number wants no texts.
func (l *Ledger) Former() Phone { return l.former }

// CodesBlocked reports whether so many wrong codes were typed on this day (UTC) that no code works
// until the next.
func (tx *Tx) CodesBlocked(now int64) (bool, error) {
	var wrong int
	_, err := tx.one(sqlWrongOfAll, args(dayOf(now)), &wrong)
	return wrong >= wrongCodesOfAll, fail("codes", err)
}
