package menu

import (
	"os"
	"runtime/debug"
	"testing"
)

// The walks of these tests make much garbage and keep little of it. proof.Prove collects it more rarely, but of several
// proofs at the same time the first to end would set back what the others need.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}
