package store

import (
	"context"
	"errors"
	"testing"
)

func TestIntegrityCheck(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	intact(t, s)
	other := openPool(s.path, "_foreign_keys=0", hardening, 1)
	defer other.Close()
	ok(t, second(other.Exec("DELETE FROM grower")))
	errorIf(t, s.IntegrityCheck(context.Background()) == nil, "a plot without its grower was not found")
}

func TestTokenHashes(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("one")) })
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("two")) })
	write(t, s, func(tx *Tx) error {
		h, has, err := tx.TokenHash("local")
		_, others, err2 := tx.TokenHash("other")
		errorIf(t, string(h) != "two" || !has || others, "hash %s, %v; another gateway's: %v", h, has, others)
		return errors.Join(err, err2)
	})
}
