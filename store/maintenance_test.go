package store

import (
	"testing"
)

func TestIntegrityCheck(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	intact(t, s)
	other := openPool(s.path, "_foreign_keys=0", hardening, 1)
	defer other.Close()
	ok(t, second(other.Exec("DELETE FROM grower")))
	errorIf(t, s.IntegrityCheck(ctx) == nil, "a plot without its grower was not found")
}

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
