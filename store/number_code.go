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
// guessed: that they are kept hashed only keeps them from who leafs through
// the records, for a million hashes are soon tried. What protects them is how
// little time there is and how few tries: with ten codes about, the five tries
// of a phone hit one of them once in 20,000.
const (
	codes      = 1_000_000
	codeFor    = 24 * 60 * 60 // a code's life, in seconds
	wrongCodes = 5            // that many, and the phone is not listened to
	wrongFor   = 24 * 60 * 60 // until so many seconds after the last of them
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
// these records over, once, for a day. The one before is worth nothing any
// more. The reply that shows it is kept, as any other, for a repeat of its
// callback; the code itself is not.
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
	sqlCodeOf = `SELECT grower_id FROM move_code WHERE hash = $1 AND until > $2`
)

// TakeOver brings the records for which a code was made to this phone, which
// has none: ErrTaken if it has. Where the code is none, left is how many more
// may be tried; at 0 the phone is not listened to for a day, whatever it types.
func (l *Ledger) TakeOver(code string) (ok bool, left int, err error) {
	if l.Known() {
		return false, 0, ErrTaken
	}
	var wrong int
	if _, err := l.tx.one(sqlWrongCodes, args(l.hash(), l.now), &wrong); err != nil {
		return false, 0, fail("take over", err)
	}
	if wrong >= wrongCodes {
		return false, 0, nil
	}
	var grower int64
	ok, err = l.tx.one(sqlCodeOf, args(l.codeHash(code), l.now), &grower)
	switch {
	case err != nil:
		return false, 0, fail("take over", err)
	case !ok:
		return false, wrongCodes - wrong - 1, fail("take over", l.do(sqlWrongCode, l.hash(), l.now+wrongFor, l.now))
	}
	// Who types the code joins with it: a stop that this phone sent as a
	// stranger is over, one that the grower sent is not.
	if err := l.do(sqlOptIn, l.hash()); err != nil {
		return false, 0, fail("take over", err)
	}
	if _, err := l.tx.Move(grower, l.phone, l.now); err != nil {
		return false, 0, err
	}
	return true, 0, l.reopen()
}
