package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/store"
)

// practiseWith runs rowbell practice with what is typed, in a temporary
// folder of its own, and returns exit code, output and what is left behind.
func practiseWith(t *testing.T, typed string, args ...string) (code int, out, errs string, left []os.DirEntry) {
	t.Helper()
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	var o, e bytes.Buffer
	code = run(append([]string{"practice"}, args...), noEnv, strings.NewReader(typed), &o, &e)
	left, err := os.ReadDir(tmp)
	if err != nil {
		t.Fatal(err)
	}
	return code, o.String(), e.String(), left
}

// A season on the terminal: the window opens, the grower weeds, the calendar
// goes on.
func TestPracticeOnATerminal(t *testing.T) {
	code, out, errs, left := practiseWith(t, "phone\nphone 3\nsms 1\nsms 1\nnext\nstrip\ndial\nquit\n", "--terminal", "--start", "2026-06-01")
	if code != 0 || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	rest := out
	for _, want := range []string{
		"nothing is sent", "Monday 1 June 2026", "+447700900001  Asha", " 8  +447700900008  Hawa",
		"Phone +447700900003  Chanda", "is logged", "noted", "2026\n* ", "next weeding", "Plot 1, well. Get ready.", "+", "What now?",
	} {
		_, after, ok := strings.Cut(rest, want)
		if !ok {
			t.Fatalf("no %q, in its place, in:\n%s", want, out)
		}
		rest = after
	}
	if len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestPracticeRefuses(t *testing.T) {
	dir := t.TempDir()
	real := filepath.Join(dir, "real.db")
	s, err := store.Open(t.Context(), real, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	err = s.InTx(t.Context(), func(tx *store.Tx) error {
		l, err := tx.Ledger("+447700900700", 1)
		if err != nil {
			return err
		}
		return l.Consent("en", "1", "ussd")
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"an address that others reach", []string{"--listen", "0.0.0.0:0"}, 2, "this machine only"},
		{"no address", []string{"--listen", "8080"}, 2, "--listen"},
		{"no day", []string{"--start", "1 June"}, 2, "YYYY-MM-DD"},
		{"records of real growers", []string{"--terminal", "--db", real}, 1, "not practice records"},
		{"no folder", []string{"--terminal", "--db", filepath.Join(dir, "none", "p.db")}, 1, "none"},
	}
	for _, tt := range tests {
		code, _, errs, left := practiseWith(t, "", tt.args...)
		if code != tt.code || !strings.Contains(errs, tt.want) {
			t.Errorf("%s: exit %d, %q; want %d, %q", tt.name, code, errs, tt.code, tt.want)
		}
		if len(left) != 0 {
			t.Errorf("%s: left behind: %v", tt.name, left)
		}
	}
	if s, err = store.Open(t.Context(), real, store.Options{}); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	err = s.View(t.Context(), func(tx *store.Tx) error {
		places, err := tx.Places()
		if len(places) != 1 || places[0].Zone == valleyPlace().Zone {
			t.Errorf("the real records have the places %v", places)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// Kept records are taken up where they ended.
func TestPracticeGoesOn(t *testing.T) {
	db := filepath.Join(t.TempDir(), "practice.db")
	keep := []string{"--terminal", "--db", db, "--start"}
	if code, out, errs, _ := practiseWith(t, "phone 1\nday 40\n", append(keep, "2026-06-01")...); code != 0 {
		t.Fatalf("%s\n%s", out, errs)
	}
	if code, _, errs, _ := practiseWith(t, "", append(keep, "2026-06-02")...); code != 1 || !strings.Contains(errs, "have come to") {
		t.Errorf("the calendar was turned back: exit %d, %s", code, errs)
	}
	code, out, errs, _ := practiseWith(t, "phone 1\nstrip\nsms MENU\n", append(keep, "2026-07-20")...)
	if code != 0 || !strings.Contains(out, "Monday 20 July 2026") || !strings.Contains(out, "Plot 1. ") || !strings.Contains(out, "What now?") {
		t.Errorf("exit %d\n%s\n%s", code, out, errs)
	}
}

// The page is served until the command is told to stop.
func TestPracticeStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	out := &signalWriter{wrote: make(chan struct{}, 1)}
	ended := make(chan error)
	go func() {
		c := practiceCmd{Listen: "127.0.0.1:0", Start: "2026-06-01"}
		ended <- c.run(ctx, time.Unix(0, 0), strings.NewReader(""), out, zerolog.Nop())
	}()
	select {
	case <-out.wrote:
	case err := <-ended:
		t.Fatalf("it ended by itself: %v", err)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if said := out.String(); !strings.Contains(said, "/practice/") || !strings.Contains(said, "invented") {
		t.Errorf("it said %q", said)
	}
}

// signalWriter tells when something was written.
type signalWriter struct {
	bytes.Buffer
	wrote chan struct{}
}

func (w *signalWriter) Write(b []byte) (int, error) {
	n, err := w.Buffer.Write(b)
	select {
	case w.wrote <- struct{}{}:
	default:
	}
	return n, err
}

// On the first day each phone of the valley has been told what is so there.
func TestValleyWasTold(t *testing.T) {
	p := openTestPractice(t)
	want := []string{"", "prepare", "open", "last-days", "missed", "open", "open", "open"}
	for i, v := range valley() {
		texts, err := p.Texts(t.Context(), v.phone.E164())
		if err != nil {
			t.Fatal(err)
		}
		newest := ""
		for j, text := range texts {
			newest = text.Kind
			if day := engine.DayOf(text.At, p.zone); day > practiceDay || j > 0 && text.At.Before(texts[j-1].At) {
				t.Errorf("%s: a text of %s", v.name, text.At)
			}
		}
		if newest != want[i] {
			t.Errorf("%s: the newest text is %q, want %q", v.name, newest, want[i])
		}
		plots, err := p.Plots(t.Context(), v.phone.E164())
		if err != nil || len(plots) != len(v.plots) {
			t.Errorf("%s: %d plots, %v", v.name, len(plots), err)
		}
	}
}
