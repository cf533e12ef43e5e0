package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// personRecords makes the records of morningRecords and removes the phone numbers of two growers (unlinked). This
// happens if another person gets a grower's number. It also returns the phone numbers of two other growers (linked).
func personRecords(t *testing.T) (file string, s *store.Store, linked []string, unlinked []int64) {
	t.Helper()
	file, s = morningRecords(t)
	write(t, s, func(tx *store.Tx) error {
		growers, _, err := tx.OpenPlots(1, 0, 100)
		if err != nil || len(growers) < 4 {
			return errors.Join(err, errors.New("fewer than four growers"))
		}
		linked = []string{growers[0].Phone.E164(), growers[1].Phone.E164()}
		for _, g := range growers[2:4] {
			unlinked = append(unlinked, g.ID)
			l, err := tx.Ledger(g.Phone, practiceDay.At(practiceHour, time.UTC).Unix())
			if err == nil {
				err = l.Unlink()
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	return file, s, linked, unlinked
}

// keepCircle makes a circle with a grower as keeper.
func keepCircle(t *testing.T, s *store.Store, p store.Phone) {
	t.Helper()
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(p, practiceDay.At(practiceHour, time.UTC).Unix())
		if err == nil {
			_, err = l.MakeCircle("Ana", "Members see your name and number.")
		}
		return err
	})
}

// Package store tests the exported and erased data. This test checks the flags, the wording and the exported file, and
// that the erased phone number is no longer in the database file.
func TestPerson(t *testing.T) {
	db, s, linked, unlinked := personRecords(t)
	number, id := linked[0], fmt.Sprint(unlinked[0])
	keepCircle(t, s, store.Phone(number))
	dir := t.TempDir()
	taken, export := filepath.Join(dir, "taken.json"), filepath.Join(dir, "person.json")
	must(t, os.WriteFile(taken, []byte("mine"), 0o600))
	masked := store.Phone(number).String()
	runSteps(t, "person --db "+db, []shellStep{
		{"", 2, "name the person by --phone or by --grower"},
		{"--phone " + number + " --grower 1", 2, "not by both"},
		{"--grower=-1", 2, "--grower -1 is not an id"},
		{"--phone " + number + " --erase", 2, "say --yes too"},
		{"--phone " + number + " --yes", 2, "--yes goes with --erase"},
		{"--phone " + number + " --erase --yes --export -", 2, "not both at once"},
		{"--phone Ana", 2, "--phone: this is not a phone number with its country code"},
		{"--phone " + freeNumber, 0, "Nothing is kept of +4477…998."},
		{"--phone " + freeNumber + " --erase --yes", 1, "nothing was erased: there is nothing of +4477…998"},
		{"--grower 999", 1, "there is no grower 999"},
		{"--grower 1", 1, "has a number: use --phone"},
		{"--grower 1 --export -", 1, "has a number: use --phone"},
		{"--grower 1 --erase --yes", 1, "is not one without a number"},
		{"--phone " + number + " --export " + taken, 1, "nothing was written: there is a file"},
		{"--phone " + number, 0, "Kept of " + masked},
		{"--phone " + number, 0, "Consent given "},
		{"--phone " + number, 0, ", keeper since " + practiceDay.String()},
		{"--grower " + id, 0, "none since " + practiceDay.String()},
		{"--phone " + number + " --export " + export, 0, "Written"},
	})
	if b, err := os.ReadFile(taken); string(b) != "mine" || err != nil {
		t.Errorf("a file that existed contains %q now: %v", b, err)
	}
	if info, err := os.Stat(export); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file is %v: %v", info.Mode(), err)
	}
	written, err := os.ReadFile(export)
	must(t, err)
	printed, _, _ := runCommand("person", "--db", db, "--phone", number, "--export", "-")
	for _, b := range []string{string(written), printed} {
		var p store.PersonalData
		if err := json.Unmarshal([]byte(b), &p); err != nil || p.Number != number || p.Records == nil ||
			len(p.Records.Plots) == 0 || len(p.Records.Consent) != 1 {
			t.Errorf("%v: exported as\n%s", err, b)
		}
	}
	runSteps(t, "person --db "+db, []shellStep{
		{"--phone " + number + " --erase --yes", 0, "Erased: all that was kept of " + masked},
		{"--phone " + number, 0, "Records none Texts not wanted since"},
		{"--grower " + id + " --erase --yes", 0, "Erased: all that was kept of grower " + id},
		{"--grower " + id, 1, "there is no grower"},
	})
	for _, suffix := range []string{"", "-wal"} {
		if b, err := os.ReadFile(db + suffix); err == nil && strings.Contains(string(b), number[1:]) {
			t.Errorf("the number is still in the database file%s", suffix)
		}
	}
	runSteps(t, "person --phone "+number, []shellStep{{"--db " + filepath.Join(dir, "none.db"), 1,
		"there are no records at"}})
}
