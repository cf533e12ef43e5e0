package store

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/big"
)

// A grower takes the records along with a code that the old phone shows and
// the new phone types. Six digits can be typed without a slip, and can be
// guessed. What protects them is how little time there is and how few tries.
// The tries of a phone do not bound who sends under numbers of others, and so
// those of all phones together are bounded as well: with ten codes about at any
// time, 100 tries a day hit one of them on one day in a thousand. On a day when
// they are used up the codes of all growers rest, and staff can move records.
//
// A code is looked up by its keyed hash, which only keeps it from who leafs
// through the records: a million hashes are soon tried. In words it stands in
// the reply that shows it, in the outbox or kept for a repeat; what is read
// there later than a code lives opens nothing.
const (
	codes      = 1_000_000
	codeFor    = 2 * 60 * 60  // a code's life, in seconds
	wrongCodes = 5            // that many, and the phone is not listened to
	wrongFor   = 24 * 60 * 60 // until so many seconds after the last of them
	// Of all phones, on one day (UTC). NIST SP 800-63B clause 5.2.2 bounds the
	// failed tries at one account by 100; this is as strict for all codes
	// together.
	wrongCodesOfAll = 100
)

// maxDraws is how often a code is drawn before it is given up: so many growers
// do not move on one day that a free one is not found at once.
const maxDraws = 20

const (
	sqlDropCode = `DELETE FROM move_code WHERE grower_id = $1`
	sqlPutCode  = `INSERT INTO move_code (hash, grower_id, until) VALUES ($1, $2, $3)
	ON CONFLICT (hash) DO UPDATE SET grower_id = excluded.grower_id, until = excluded.until WHERE move_code.until <= $4`
)

// MoveCode is a new code of six digits with which another phone can take
// these records over, once, within two hours. The one before is worth nothing
// any more.
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

// codeHash is a code's name in the database. It has the database's key, and no
// salt of its own: a code is looked up by it, and no two growers may have the
// same one.
func (l *Ledger) codeHash(code string) []byte {
	mac := hmac.New(sha256.New, l.tx.s.hashKey)
	mac.Write([]byte("move code " + code))
	return mac.Sum(nil)
}

const (
	sqlWrongCodes = `SELECT wrong FROM move_try WHERE hash = $1 AND until > $2`
	sqlWrongCode  = `INSERT INTO move_try (hash, wrong, until) VALUES ($1, 1, $2)
	ON CONFLICT (hash) DO UPDATE SET wrong = CASE WHEN move_try.until <= $3 THEN 1 ELSE move_try.wrong + 1 END, until = excluded.until`
	sqlEraseTries = `DELETE FROM move_try WHERE hash = $1`
	sqlWrongOfAll = `SELECT wrong FROM move_wrong WHERE day = $1`
	sqlCountOfAll = `INSERT INTO move_wrong (day, wrong) VALUES ($1, 1) ON CONFLICT (day) DO UPDATE SET wrong = move_wrong.wrong + 1`
	sqlCodeOf     = `SELECT grower_id FROM move_code WHERE hash = $1 AND until > $2`
)

// codeDay is the day on which the wrong codes of all phones are counted.
func codeDay(now int64) int64 { return now / (24 * 60 * 60) }

// TakeOver brings the records for which a code was made to this phone, which
// has none: ErrTaken if it has. A phone that wants no texts gets none with the
// records either. Where the code is none, left is how many more may be tried;
// at 0 no code typed on this phone is worth anything until the next day.
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
		err = errors.Join(l.do(sqlWrongCode, l.hash(), l.now+wrongFor, l.now), l.do(sqlCountOfAll, codeDay(l.now)))
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

// triesLeft is how many wrong codes are listened to yet, of this phone and of
// all.
func (l *Ledger) triesLeft() (int, error) {
	var own, all int
	_, err := l.tx.one(sqlWrongCodes, args(l.hash(), l.now), &own)
	if err == nil {
		_, err = l.tx.one(sqlWrongOfAll, args(codeDay(l.now)), &all)
	}
	return max(0, min(wrongCodes-own, wrongCodesOfAll-all)), err
}

// Former is the number from which TakeOver brought the records, in the
// transaction that did: its owner must learn of it. It is "" where that number
// wants no texts.
func (l *Ledger) Former() Phone { return l.former }

// CodesBlocked reports that so many wrong codes were typed on this day (UTC) that
// the codes of all growers are worth nothing until the next.
func (tx *Tx) CodesBlocked(now int64) (bool, error) {
	var wrong int
	_, err := tx.one(sqlWrongOfAll, args(codeDay(now)), &wrong)
	return wrong >= wrongCodesOfAll, fail("codes", err)
}
