package main

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
	"rowbell/store/testrun"
)

// practiceDay and practiceHour (UTC) are the time of the practice records in tests.
var practiceDay = engine.Date(2026, time.June, 1)

const practiceHour = 8

// aDay is the time at which the clock starts in most tests of the service.
var aDay = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

func noEnv(string) string { return "" }

// must ends the test if err is not nil. The type of t also allows a *rapid.T.
func must(t interface {
	Helper()
	Fatal(args ...any)
}, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// openRecords opens a database file, which must be undamaged, until the end of the test.
func openRecords(t testing.TB, file string) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), file, store.Options{})
	must(t, err)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	must(t, s.IntegrityCheck(context.Background()))
	return s
}

func newRecords(t testing.TB) string {
	t.Helper()
	return testrun.Records(t, makeRecords)
}

func read(t testing.TB, s *store.Store, fn func(*store.Tx) error) {
	t.Helper()
	must(t, s.View(context.Background(), fn))
}

func write(t testing.TB, s *store.Store, fn func(*store.Tx) error) {
	t.Helper()
	must(t, s.InTx(context.Background(), fn))
}

func runCommand(args ...string) (out, errs string, code int) {
	var o, e bytes.Buffer
	code = run(args, noEnv, strings.NewReader(""), &o, &e)
	return o.String(), e.String(), code
}

// prints returns the output of a command, which must succeed without a message on standard error.
func prints(t *testing.T, args ...string) string {
	t.Helper()
	out, errs, code := runCommand(args...)
	if code != 0 || errs != "" {
		t.Fatalf("rowbell %q: exit code %d: %s", args, code, errs)
	}
	return out
}

// shellStep is a command line with its exit code and expected parts of the output, separated by " … ". The parts are on
// standard output if the exit code is 0, otherwise on standard error.
type shellStep struct {
	args string
	code int
	says string
}

// runSteps runs command lines one after the other, each with the arguments common before its own. It also checks that
// no output has an unmasked phone number.
func runSteps(t *testing.T, common string, steps []shellStep) {
	t.Helper()
	for _, s := range steps {
		args := strings.Fields(common + " " + s.args)
		out, errs, code := runCommand(args...)
		printed := out
		if s.code != 0 {
			printed = errs
		}
		// Runs of spaces count as one space, because the width of a column depends on its other cells.
		squeezed := strings.Join(strings.Fields(printed), " ")
		lacks := func(says string) bool { return !strings.Contains(squeezed, says) }
		if code != s.code || slices.ContainsFunc(strings.Split(s.says, " … "), lacks) {
			t.Errorf("rowbell %q: exit code %d, want %d and %q in\n%s%s", args, code, s.code, s.says, out, errs)
		}
		assertNoNumbers(t, out+errs)
	}
}

// slowWhenRaced skips a walk through the whole menu if the race detector is on: it would take minutes. TestProof of
// package menu/proof runs the same code with the race detector.
func slowWhenRaced(t *testing.T) {
	t.Helper()
	if raced {
		t.Skip("takes minutes under the race detector, and races with nothing")
	}
}

func TestCommandLine(t *testing.T) {
	runSteps(t, "", []shellStep{
		{"--help", 0, "practice"},
		{"help", 0, "health"},
		{"serve --help", 0, "--listen"},
		{"help serve", 0, "--listen"},
		{"--version", 0, "rowbell … , go1. … , SQLite 3."},
		{"", 2, "Try: rowbell --help"},
		{"wed", 2, "Try: rowbell --help"},
		{"serve --config nowhere.toml", 1, "nowhere.toml"},
		{"serve --log-level loud", 1, "log_level"},
		{"serve --listen 127.0.0.1:0 --db /nowhere/rowbell.db", 1, "/nowhere"},
		{"health --url http://127.0.0.1:1/readyz", 1, "does not answer"},
		{"health --url 127.0.0.1:8080", 2, "this is not an address such as http://127.0.0.1:8080/readyz"},
		{"doctor --db nowhere.db", 0, "note records there is no nowhere.db"},
		{"doctor --profile kiln", 2, "--profile goes with --sample or --answer"},
		{"doctor --answer x", 2, "--profile goes with --sample or --answer"},
		{"doctor --profile kiln --answer x --sample y", 2, "ask one at a time"},
		{"doctor --profile kiln --from home --sample x", 2, `--from: "home" is not an address`},
		{"doctor --from 192.0.2.9", 2, "--from goes with --sample"},
		{"doctor --profile kiln --sample x", 1, "there is no network called kiln; there are local"},
		{"practice --listen 0.0.0.0:0", 2, "this machine only"},
		{"practice --listen 8080", 2, "--listen"},
		{"practice --start June", 2, "YYYY-MM-DD"},
		{"practice --simulate=-3", 2, "say how many plots"},
		{"practice --simulate 20 --year dry", 0, "20 plots of invented growers"},
		{"config", 0, `#listen = "127.0.0.1:8080" # default`},
	})
}

// In an empty folder, rowbell serve makes records and prints a token once. Calls need this token.
func TestServeWithNothingConfigured(t *testing.T) {
	t.Parallel()
	p := bareProcess(t)
	p.run("serve", "--listen", "127.0.0.1:0")
	p.stop() // stop returns only after all output was read
	found := regexp.MustCompile(`(?m)^([A-Z2-7]{26})$`).FindStringSubmatch(p.log.String())
	if found == nil {
		t.Fatalf("no token was printed:\n%s", p.log.String())
	}
	if _, err := os.Stat(filepath.Join(p.dir, "rowbell.db")); err != nil {
		t.Error(err)
	}
	p.run("serve", "--listen", "127.0.0.1:0")
	p.token = found[1]
	p.dial(1, http.StatusOK)
	p.token = "another"
	p.dial(1, http.StatusUnauthorized)
	p.stop()
	if n := strings.Count(p.log.String(), "Token"); n != 1 {
		t.Errorf("a token was printed %d times", n)
	}
}

// If the address is in use, no token is made. The token is shown only once, so a later start could not show it.
func TestNoTokenWhereTheAddressIsInUse(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	defer taken.Close()
	db := filepath.Join(t.TempDir(), "rowbell.db")
	out, errs, code := runCommand("serve", "--db", db, "--listen", taken.Addr().String())
	if code != 1 || !strings.Contains(errs, "--listen") || out != "" {
		t.Errorf("%d, %q, %q", code, out, errs)
	}
	if _, err := os.Stat(db); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("records were made: %v", err)
	}
}

// Every command describes the flags of all commands before it runs. What that allocates grows with the number of flags,
// but not with the number of flags times the number of long help texts.
func TestFlagsAreDescribedOnce(t *testing.T) {
	if raced {
		t.Skip("the race detector allocates too")
	}
	if n := testing.AllocsPerRun(3, func() { runCommand("--version") }); n > 20000 {
		t.Errorf("rowbell --version made %.0f allocations", n)
	}
}
