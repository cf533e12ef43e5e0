package practice

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/store"
)

// firstDay is the first day of the practice session.
var firstDay = engine.Date(2026, time.June, 1)

// openTest opens a practice session with new records until the test ends.
func openTest(t *testing.T) *room {
	t.Helper()
	return openOn(t, firstDay)
}

// openOn is openTest with another first day.
func openOn(t *testing.T, day engine.Day) *room {
	t.Helper()
	r, err := open(t.Context(), Options{DB: filepath.Join(t.TempDir(), "practice.db"), Start: day,
		Listen: "127.0.0.1:0", Now: day.At(clockHour, time.UTC), Log: zerolog.Nop()})
	ok(t, err)
	t.Cleanup(func() {
		if err := r.close(); err != nil {
			t.Error(err)
		}
	})
	return r
}

// onTerminal runs the handset on a terminal with this input. It returns the output and the temporary files that are
// left.
func onTerminal(t *testing.T, typed, db string, start engine.Day) (out string, left []os.DirEntry, err error) {
	t.Helper()
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	var b bytes.Buffer
	o := Options{DB: db, Start: start, Now: time.Unix(0, 0), Log: zerolog.Nop()}
	err = OnTerminal(t.Context(), o, strings.NewReader(typed), &b)
	left, failed := os.ReadDir(tmp)
	if failed != nil {
		t.Fatal(failed)
	}
	return b.String(), left, err
}

func TestPracticeOnATerminal(t *testing.T) {
	out, left, err := onTerminal(t, "phone\nphone 3\nphone 1\nnext\nsms 3\nnext\nsms 1\nsms 1\nseason\ndial\n", "",
		firstDay)
	ok(t, err)
	rest := out
	for _, want := range []string{
		"nothing is sent", "Monday 1 June 2026", "+447700900001  Asha", " 8  +447700900008  Hawa",
		"Phone +447700900003  Chanda", "> Phone +447700900001  Asha", "2026\n* ", "look between the rows",
		"noted, two or three leaves", "is logged", "noted", "Plot 1. Just weeded.", "+", "What now?",
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

// Practice does not start on the records of real growers and changes nothing in them. It leaves no temporary files.
func TestPracticeRefuses(t *testing.T) {
	real := filepath.Join(t.TempDir(), "real.db")
	records := func(fn func(tx *store.Tx) error) {
		t.Helper()
		s, err := store.Open(t.Context(), real, store.Options{})
		ok(t, err)
		defer s.Close()
		ok(t, s.InTx(t.Context(), fn))
	}
	records(func(tx *store.Tx) error {
		l, err := tx.Ledger("+447700900700", 1)
		if err != nil {
			return err
		}
		return l.Consent("en", "1", "ussd")
	})
	for db, want := range map[string]string{
		real: "not practice records", filepath.Join(t.TempDir(), "none", "p.db"): "none",
	} {
		_, left, err := onTerminal(t, "", db, 0)
		if err == nil || !strings.Contains(err.Error(), want) || len(left) != 0 {
			t.Errorf("%s: %v, want %q; left behind: %v", db, err, want, left)
		}
	}
	records(func(tx *store.Tx) error {
		places, err := tx.Places()
		if len(places) != 1 || places[0].Zone == Place().Zone {
			t.Errorf("the real records have the places %v", places)
		}
		return err
	})
}

// A later session on the same records begins on the last day of the earlier session.
func TestPracticeGoesOn(t *testing.T) {
	db := filepath.Join(t.TempDir(), "practice.db")
	if out, _, err := onTerminal(t, "phone 1\nday 40\n", db, firstDay); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if _, _, err := onTerminal(t, "", db, firstDay+1); err == nil || !strings.Contains(err.Error(), "have come to") {
		t.Errorf("the calendar was turned back: %v", err)
	}
	out, _, err := onTerminal(t, "phone 1\nseason\nsms MENU\n", db, engine.Date(2026, time.July, 20))
	if err != nil || !strings.Contains(out, "Monday 20 July 2026") || !strings.Contains(out, "Plot 1. ") ||
		!strings.Contains(out, "What now?") {
		t.Errorf("%v\n%s", err, out)
	}
}

// To begin again sets the records and the calendar back to the first day, also in a later session on the same records.
func TestPracticeBeginsAgain(t *testing.T) {
	db := filepath.Join(t.TempDir(), "practice.db")
	first, _, err := onTerminal(t, "phone 3\n*123#\nquit\n", db, firstDay)
	ok(t, err)
	if _, _, err := onTerminal(t, "phone 3\nsms 1\nday 20\nquit\n", db, firstDay); err != nil {
		t.Fatal(err)
	}
	again, _, err := onTerminal(t, "again\nphone 3\n*123#\nquit\n", db, 0)
	ok(t, err)
	_, rest, found := strings.Cut(again, "> Monday 1 June 2026\n")
	if _, want, _ := strings.Cut(first, "> Phone"); !found || !strings.HasSuffix(rest, want) {
		t.Errorf("begun again:\n%s\nwant as the first time:\n%s", again, first)
	}
}

// OnPage serves the page until the context ends.
func TestPracticeStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	out, in := io.Pipe()
	go func() {
		o := Options{Listen: "127.0.0.1:0", Start: firstDay, Now: time.Unix(0, 0), Log: zerolog.Nop()}
		in.CloseWithError(OnPage(ctx, o, in))
	}()
	begun := make([]byte, 1000)
	n, err := out.Read(begun)
	cancel()
	rest, failed := io.ReadAll(out)
	ok(t, errors.Join(err, failed))
	said := string(begun[:n]) + string(rest)
	if !strings.Contains(said, "/practice/phone/447700900011, dial") || !strings.Contains(said, "invented") {
		t.Errorf("it said %q", said)
	}
}

// On the first day of practice, each invented grower already has the text about the state of the plot.
func TestValleyWasTold(t *testing.T) {
	r := openTest(t)
	want := []string{"", "prepare", "open", "last-days", "missed", "open", "open", "open",
		"open", "prepare", "prepare", "prepare", "prepare"}
	for i, v := range valley() {
		texts, err := r.Texts(t.Context(), v.phone.E164())
		ok(t, err)
		newest := ""
		for j, text := range texts {
			newest = text.Kind
			if day := engine.DayOf(text.At, r.zone); day > firstDay || j > 0 && text.At.Before(texts[j-1].At) {
				t.Errorf("%s: a text of %s", v.name, text.At)
			}
		}
		if newest != want[i] {
			t.Errorf("%s: the newest text is %q, want %q", v.name, newest, want[i])
		}
		plots, err := r.Plots(t.Context(), v.phone.E164())
		if err != nil || len(plots) != len(v.plots) {
			t.Errorf("%s: %d plots, %v", v.name, len(plots), err)
		}
	}
}

var ok = configtest.OK
