package main

import (
	"bytes"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
)

// practiceDay and practiceHour are the day and the hour in UTC at which commands
// are tested on the records of the practice valley.
var practiceDay = engine.Date(2026, time.June, 1)

const practiceHour = 8

func noEnv(string) string { return "" }

// runCommand runs the program as from a shell, with empty input.
func runCommand(args ...string) (out, errs string, code int) {
	var o, e bytes.Buffer
	code = run(args, noEnv, strings.NewReader(""), &o, &e)
	return o.String(), e.String(), code
}

// shellStep is a command line, its exit code and a part of what it prints.
type shellStep struct {
	args string
	code int
	says string
}

// runSteps runs command lines one after the other, all with the common arguments
// in front. No phone number may be printed in clear.
func runSteps(t *testing.T, common string, steps []shellStep) {
	t.Helper()
	for _, s := range steps {
		args := strings.Fields(common + " " + s.args)
		out, errs, code := runCommand(args...)
		// Columns are as wide as their contents.
		squeezed := strings.Join(strings.Fields(out+errs), " ")
		if code != s.code || !strings.Contains(squeezed, s.says) {
			t.Errorf("rowbell %q: exit code %d, want %d and %q in\n%s%s", args, code, s.code, s.says, out, errs)
		}
		if found := phoneNumbers.FindString(out + errs); found != "" {
			t.Errorf("rowbell %q prints the number %s", args, found)
		}
	}
}

// slowWhenRaced skips a test that takes minutes under the race detector and starts
// no goroutines: walks of the menu, whose own test runs under the race detector
// for two languages.
func slowWhenRaced(t *testing.T) {
	t.Helper()
	if raced {
		t.Skip("takes minutes under the race detector, and races with nothing")
	}
}

func TestCommandLine(t *testing.T) {
	for _, c := range []struct {
		args      []string
		code      int
		out, errs string
	}{
		{[]string{"--help"}, 0, "practice", ""},
		{[]string{"serve", "--help"}, 0, "--listen", ""},
		{[]string{"help"}, 0, "health", ""},
		{[]string{"help", "serve"}, 0, "--listen", ""},
		{[]string{"health", "--url", "127.0.0.1:8080"}, 2, "",
			"this is not an address such as http://127.0.0.1:8080/readyz"},
		{[]string{"wed"}, 2, "", "Try: rowbell --help"},
		{nil, 2, "", "Try: rowbell --help"},
		{[]string{"serve", "--config", "nowhere.toml"}, 1, "", "nowhere.toml"},
		{[]string{"serve", "--log-level", "loud"}, 1, "", "log_level"},
		{[]string{"serve", "--listen", "127.0.0.1:0", "--db", "/nowhere/rowbell.db"}, 1, "", "/nowhere"},
		{[]string{"health", "--url", "http://127.0.0.1:1/readyz"}, 1, "", "does not answer"},
		{[]string{"texts", "--all", "--language", "en"}, 0, "| How is the rice planted?", ""},
		{[]string{"doctor", "--profile", "kiln"}, 2, "", "--profile and --sample go together"},
		{[]string{"doctor", "--profile", "kiln", "--from", "home", "--sample", "x"}, 2, "",
			"--from: \"home\" is not an address"},
		{[]string{"doctor", "--from", "192.0.2.9"}, 2, "", "--from goes with --sample"},
		{[]string{"doctor", "--profile", "kiln", "--sample", "x"}, 1, "",
			"there is no network called kiln; there are local"},
		{[]string{"doctor", "--db", "nowhere.db"}, 0, "note  records        there is no nowhere.db", ""},
		{[]string{"practice", "--listen", "0.0.0.0:0"}, 2, "", "this machine only"},
		{[]string{"practice", "--listen", "8080"}, 2, "", "--listen"},
		{[]string{"practice", "--start", "1 June"}, 2, "", "YYYY-MM-DD"},
		{[]string{"practice", "--simulate=-3"}, 2, "", "say how many plots"},
		{[]string{"practice", "--simulate", "20", "--year", "dry"}, 0, "20 plots of invented growers", ""},
		{[]string{"config"}, 0, "#listen = \"127.0.0.1:8080\"  # default", ""},
		{[]string{"sources"}, 0, "SideClearanceCM", ""},
	} {
		if raced && len(c.args) > 1 && c.args[1] == "--all" {
			continue // see slowWhenRaced
		}
		out, errs, code := runCommand(c.args...)
		if code != c.code || !strings.Contains(out, c.out) || !strings.Contains(errs, c.errs) {
			t.Errorf("rowbell %v: %d\n%s\n%s", c.args, code, out, errs)
		}
	}
}

// The binary in an empty folder makes its records, prints a token once, answers
// calls with it, refuses calls without it, and stops cleanly.
func TestServeWithNothingConfigured(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	p := &process{t: t, dir: dir, log: &lockedBuffer{}, http: &http.Client{Timeout: 30 * time.Second}}
	t.Cleanup(p.kill)
	p.run("serve", "--listen", "127.0.0.1:0")
	p.stop() // its whole output was read then
	found := regexp.MustCompile(`(?m)^([A-Z2-7]{26})$`).FindStringSubmatch(p.log.String())
	if found == nil {
		t.Fatalf("no token was printed:\n%s", p.log.String())
	}
	if _, err := os.Stat(filepath.Join(dir, "rowbell.db")); err != nil {
		t.Error(err)
	}
	p.run("serve", "--listen", "127.0.0.1:0")
	dial := map[string]any{"phone": "+447700900001", "session": "s", "event": "begin", "dialled": "*123#"}
	p.token = found[1]
	p.post("ussd", dial, http.StatusOK)
	p.token = "another"
	p.post("ussd", dial, http.StatusUnauthorized)
	p.stop()
	if n := strings.Count(p.log.String(), "Token"); n != 1 {
		t.Errorf("a token was printed %d times", n)
	}
	assertNoNumbers(t, p.log.String())
}

// Where the address is in use, no token is made: it would never be printed again.
func TestNoTokenWhereTheAddressIsInUse(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
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

// White space around a token in the environment is ignored.
func TestTokenFromTheEnvironment(t *testing.T) {
	t.Parallel()
	p := &process{t: t, dir: t.TempDir(), log: &lockedBuffer{}, http: &http.Client{Timeout: 30 * time.Second}}
	t.Cleanup(p.kill)
	p.token = " river-stone\n"
	p.run("serve", "--listen", "127.0.0.1:0")
	p.token = "river-stone"
	p.post("ussd", map[string]any{"phone": "+447700900001", "session": "s", "event": "begin", "dialled": "*123#"},
		http.StatusOK)
	p.stop()
	if strings.Contains(p.log.String(), "river-stone") || strings.Contains(p.log.String(), "Token") {
		t.Errorf("a token is shown:\n%s", p.log.String())
	}
}

func TestVersion(t *testing.T) {
	out, errs, code := runCommand("--version")
	if code != 0 || errs != "" || !strings.HasPrefix(out, "rowbell ") || !strings.Contains(out, ", go1.") ||
		!strings.Contains(out, ", SQLite 3.") {
		t.Errorf("%d, %q, %q", code, out, errs)
	}
}
