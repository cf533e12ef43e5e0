package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// personRecords are those of the practice valley, held open as a service would,
// with two of their numbers; the second has none any more.
func personRecords(t *testing.T) (file string, s *store.Store, number string, unlinked int64) {
	t.Helper()
	file, s = rankRecords(t)
	at := practiceDay.At(practiceHour, time.UTC).Unix()
	err := s.InTx(t.Context(), func(tx *store.Tx) error {
		growers, err := tx.OpenPlots(store.DefaultPlace, 2)
		if err != nil || len(growers) != 2 {
			return errors.Join(err, errors.New("no growers"))
		}
		number, unlinked = growers[0].Phone.E164(), growers[1].ID
		l, err := tx.Ledger(growers[1].Phone, at)
		if err != nil {
			return err
		}
		return l.Unlink()
	})
	if err != nil {
		t.Fatal(err)
	}
	return file, s, number, unlinked
}

func TestPersonCommand(t *testing.T) {
	file, s, number, unlinked := personRecords(t)
	id := itoa(unlinked)
	var linked int64
	if err := s.View(t.Context(), func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(number), 0)
		linked = l.GrowerID()
		return err
	}); err != nil {
		t.Fatal(err)
	}
	taken := filepath.Join(t.TempDir(), "taken.json")
	if err := os.WriteFile(taken, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	masked := store.Phone(number).String()
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, 2, "say who with --phone or --grower"},
		{[]string{"--phone", number, "--grower", "1"}, 2, "not by both"},
		{[]string{"--grower=-1"}, 2, "--grower -1 is not an id"},
		{[]string{"--phone", number, "--erase"}, 2, "say --yes too"},
		{[]string{"--phone", number, "--yes"}, 2, "--yes goes with --erase"},
		{[]string{"--phone", number, "--erase", "--yes", "--export", "-"}, 2, "not both at once"},
		{[]string{"--phone", "Ana"}, 2, "--phone: this is not a phone number with its country code"},
		{[]string{"--phone", moveFree}, 0, "Nothing is kept of +4477…998."},
		{[]string{"--phone", moveFree, "--erase", "--yes"}, 1, "nothing was erased: there is nothing of +4477…998"},
		{[]string{"--grower", "999"}, 1, "there is no grower 999"},
		{[]string{"--grower", itoa(linked)}, 1, "has a number: use --phone"},
		{[]string{"--grower", itoa(linked), "--export", "-"}, 1, "has a number: use --phone"},
		{[]string{"--grower", itoa(linked), "--erase", "--yes"}, 1, "is not one without a number"},
		{[]string{"--phone", number, "--export", taken}, 1, "nothing was written"},
		{[]string{"--phone", number}, 0, "Kept of     " + masked},
		{[]string{"--phone", number}, 0, "Consent     given "},
		{[]string{"--grower", id}, 0, "none since " + practiceDay.String()},
	} {
		out, errs, code := runCommand(append([]string{"person", "--db", file}, c.args...)...)
		if code != c.code || !strings.Contains(out+errs, c.says) {
			t.Errorf("%v: exit code %d\n%s%s\nwant %d and %q", c.args, code, out, errs, c.code, c.says)
		}
		if phoneNumbers.MatchString(out + errs) {
			t.Errorf("%v: a number stands in clear:\n%s%s", c.args, out, errs)
		}
	}
	if b, err := os.ReadFile(taken); string(b) != "mine" || err != nil {
		t.Errorf("a file that was there holds %q now: %v", b, err)
	}
	if _, errs, code := runCommand("person", "--db", filepath.Join(t.TempDir(), "none.db"), "--phone", number); code != 1 || !strings.Contains(errs, "there are no records at") {
		t.Errorf("without records: exit code %d: %s", code, errs)
	}
}

// What is written out is the whole of it, in a file that is the caller's alone;
// then it is erased, beside a service that has the records open.
func TestPersonIsExportedAndErased(t *testing.T) {
	file, s, number, unlinked := personRecords(t)
	target := filepath.Join(t.TempDir(), "person.json")
	out, errs, code := runCommand("person", "--db", file, "--phone", number, "--export", target)
	if code != 0 || phoneNumbers.MatchString(out+errs) {
		t.Fatalf("exit code %d: %s%s", code, out, errs)
	}
	if info, err := os.Stat(target); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file is %v: %v", info.Mode(), err)
	}
	var written, printed store.PersonalData
	b, err := os.ReadFile(target)
	if err != nil {
		t.Fatal(err)
	}
	for into, b := range map[*store.PersonalData][]byte{&written: b, &printed: []byte(firstOf(runCommand("person", "--db", file, "--phone", number, "--export", "-")))} {
		if err := json.Unmarshal(b, into); err != nil {
			t.Fatalf("%v:\n%s", err, b)
		}
		if into.Number != number || into.Records == nil || len(into.Records.Plots) == 0 || len(into.Records.Consent) != 1 {
			t.Errorf("written as\n%s", b)
		}
	}
	for _, args := range [][]string{{"--phone", number}, {"--grower", itoa(unlinked)}} {
		out, errs, code := runCommand(append([]string{"person", "--db", file, "--erase", "--yes"}, args...)...)
		if code != 0 || !strings.Contains(out, "Erased: ") || phoneNumbers.MatchString(out+errs) {
			t.Errorf("exit code %d: %s%s", code, out, errs)
		}
	}
	if err := s.View(t.Context(), func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(number), 0)
		if l.Known() || !l.Stopped() {
			t.Errorf("known %v, stopped %v", l.Known(), l.Stopped())
		}
		list, err2 := tx.Unlinked()
		if len(list) != 0 {
			t.Errorf("still without a number: %v", list)
		}
		return errors.Join(err, err2)
	}); err != nil {
		t.Error(err)
	}
	if out := firstOf(runCommand("person", "--db", file, "--phone", number)); !strings.Contains(out, "not wanted since") || !strings.Contains(out, "Records     none") {
		t.Errorf("afterwards:\n%s", out)
	}
	for _, suffix := range []string{"", "-wal"} {
		b, err := os.ReadFile(file + suffix)
		if err == nil && strings.Contains(string(b), number[1:]) {
			t.Errorf("the number is still in %s", "the records"+suffix)
		}
	}
}

func firstOf(out, _ string, _ int) string { return out }

func itoa(n int64) string { return strconv.FormatInt(n, 10) }
