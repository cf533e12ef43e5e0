// Package testrun makes tests need less time. A test package that opens records or makes much garbage imports it for
// its side effect:
//
//	import _ "rowbell/store/testrun"
//
// The temporary folders of the tests are then in memory, where there is room for them: SQLite waits for the disk at
// each commit, and no test can check what only a power cut would lose. Garbage is collected more rarely, also by the
// programs that the tests start.
//
// Only tests may import this package.
package testrun

import (
	"os"
	"runtime/debug"
	"strconv"
)

// Disk is the folder for temporary files from before they went into memory. A program must be in this folder, because
// a folder in memory may not allow to run programs.
var Disk = os.TempDir()

const (
	memory = "/dev/shm"
	room   = 1 << 30 // free bytes that the folder in memory must have
	// garbage is how much the heap may grow before a collection, in percent of what is in use. The default is 100.
	garbage = 400
)

// init does not replace what the environment says.
func init() {
	if os.Getenv("TMPDIR") == "" && free(memory) >= room {
		set("TMPDIR", memory)
	}
	if os.Getenv("GOGC") == "" {
		set("GOGC", strconv.Itoa(garbage))
		debug.SetGCPercent(garbage)
	}
}

func set(name, value string) {
	if err := os.Setenv(name, value); err != nil {
		panic(err)
	}
}
