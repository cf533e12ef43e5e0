package store

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
)

// crashDB names the environment variable with the database path for a child process, which writes until it is killed.
const crashDB = "ROWBELL_TEST_CRASH_DB"

// Every confirmed write must be in the file, no matter when the process is killed.
func TestKilledProcessLosesNoConfirmedWrite(t *testing.T) {
	if path := os.Getenv(crashDB); path != "" {
		writeUntilKilled(t, path, os.Getenv(crashDB+"_ROUND"))
		return
	}
	path := filepath.Join(t.TempDir(), "rowbell.db")
	var promised []string
	for round := range 3 {
		child := exec.Command(os.Args[0], "-test.run=^TestKilledProcessLosesNoConfirmedWrite$")
		child.Env = append(os.Environ(), crashDB+"="+path, fmt.Sprintf("%s_ROUND=%d", crashDB, round))
		out, err := child.StdoutPipe()
		ok(t, err)
		ok(t, child.Start())
		lines := bufio.NewScanner(out)
		heard := 0
		for lines.Scan() {
			promised = append(promised, lines.Text())
			if heard++; heard == 200+150*round {
				ok(t, child.Process.Kill())
			}
		}
		err = child.Wait()
		fatalIf(t, err == nil || heard < 200, "the child was not killed at work: %v, %d lines", err, heard)
		s := openAt(t, path)
		intact(t, s)
		wantReplies(t, s, promised)
		shut(t, s)
	}
}

// writeUntilKilled writes from many goroutines, and prints the key of each confirmed write.
func writeUntilKilled(t *testing.T, path, round string) {
	s := openAt(t, path)
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for i := 0; ; i++ {
				key := fmt.Sprintf("%s-%d-%d", round, g, i)
				if err := s.InTx(ctx, remember(key)); err != nil {
					return // the parent process no longer reads the output
				}
				fmt.Fprintf(os.Stdout, "%s\n", key)
			}
		})
	}
	wg.Wait()
}
