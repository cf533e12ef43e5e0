package store

import "testing"

func TestIntegrityCheck(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	intact(t, s)
	other := openPool(s.path, "_foreign_keys=0", hardening, 1)
	defer other.Close()
	ok(t, second(other.Exec("DELETE FROM grower")))
	errorIf(t, s.IntegrityCheck(ctx) == nil, "a plot without its grower was not found")
}
