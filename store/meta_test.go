package store

import (
	"errors"
	"fmt"
	"testing"
)

func TestTokenHashes(t *testing.T) {
	s := open(t)
	for _, hash := range []string{"one", "two"} {
		write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte(hash)) })
	}
	hash, there := lookUp(t, s, func(tx *Tx) ([]byte, bool, error) { return tx.TokenHash("local") })
	errorIf(t, string(hash) != "two" || !there, "hash %s, %v", hash, there)
	_, there = lookUp(t, s, func(tx *Tx) ([]byte, bool, error) { return tx.TokenHash("other") })
	errorIf(t, there, "another gateway has a hash")
}

// Of two processes that start at the same time, only one makes a token.
func TestOneTokenIsMade(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	there := make(chan bool, 1)
	write(t, a, func(tx *Tx) error {
		if _, known, err := tx.TokenHash("local"); err != nil || known {
			return errors.Join(err, fmt.Errorf("there is a token already: %v", known))
		}
		go func() {
			known := false
			err := b.InTx(ctx, func(tx *Tx) (err error) {
				_, known, err = tx.TokenHash("local")
				return err
			})
			errorIf(t, err != nil, "%v", err)
			there <- known
		}()
		return errors.Join(waitForLock(tx, there), tx.SetTokenHash("local", []byte("x")))
	})
	equal(t, <-there, true, "the second process finds the token of the first")
}
