package store

import (
	"context"
	"testing"
)

func TestIntegrityCheck(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	intact(t, s)
	other := openPool(s.path, "_foreign_keys=0", hardening, 1)
	defer other.Close()
	ok(t, second(other.Exec("DELETE FROM grower")))
	if err := s.IntegrityCheck(context.Background()); err == nil {
		t.Error("a plot without its grower was not found")
	}
}

func TestTokenHashes(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("one")) })
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("two")) })
	write(t, s, func(tx *Tx) error {
		if h, ok, err := tx.TokenHash("local"); string(h) != "two" || !ok || err != nil {
			t.Errorf("hash %s, %v, %v", h, ok, err)
		}
		if _, ok, err := tx.TokenHash("other"); ok || err != nil {
			t.Errorf("another gateway's hash: %v, %v", ok, err)
		}
		return nil
	})
}
