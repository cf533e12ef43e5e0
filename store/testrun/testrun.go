// Package testrun makes tests faster. A test package that opens records or allocates much memory imports it for its
// side effect:
//
//	import _ "rowbell/store/testrun"
//
// The temporary folders of the tests are then in memory, if there is room for them: SQLite waits for the disk at each
// commit, and no test can check what only a power cut would lose. Garbage is collected more rarely, also by the
// programs that the tests start.
//
// It also makes databases for tests, and leaves out of an output what is different in each run. Only tests may import
// this package.
package testrun

import (
	"os"
	"runtime/debug"
	"strconv"
)

// Disk is the folder for temporary files on the disk. A program that a test builds must be in this folder, because the
// system may refuse to run programs from a folder in memory.
var Disk = os.TempDir()

const (
	memory    = "/dev/shm"
	freeBytes = 1 << 30 // bytes that must be free in the folder in memory
	// gcPercent is by how much the heap may grow before a collection, in percent of what is in use. The default is 100.
	gcPercent = 400
)

// init does not replace what the environment says.
func init() {
	if os.Getenv("TMPDIR") == "" && free(memory) >= freeBytes {
		set("TMPDIR", memory)
	}
	if os.Getenv("GOGC") == "" {
		set("GOGC", strconv.Itoa(gcPercent))
		debug.SetGCPercent(gcPercent)
	}
}

func set(name, value string) {
	if err := os.Setenv(name, value); err != nil {
		panic(err)
	}
}
