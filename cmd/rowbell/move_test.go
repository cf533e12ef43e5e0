package main

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// moveFree is a number without records.
const moveFree = "+447700900998"

func TestMoveCommand(t *testing.T) {
	file, s := rankRecords(t)
	now := practiceDay.At(practiceHour, time.UTC)
	phones := []string{}
	if err := s.View(t.Context(), func(tx *store.Tx) error {
		growers, err := tx.OpenPlots(store.DefaultPlace, 0)
		for _, g := range growers {
			phones = append(phones, g.Phone.E164())
		}
		return err
	}); err != nil || len(phones) < 2 {
		t.Fatalf("%d growers: %v", len(phones), err)
	}
	plots := func(number string) (n int) {
		if err := s.View(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(store.Phone(number), now.Unix())
			if err != nil {
				return err
			}
			nos, err := l.Plots()
			n = len(nos)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return n
	}
	had := plots(phones[0])

	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, 2, "say whose records with --from or --grower"},
		{[]string{"--from", phones[0]}, 2, "say where the records go with --to"},
		{[]string{"--from", phones[0], "--grower", "1", "--to", moveFree}, 2, "not by both"},
		{[]string{"--grower=-1", "--to", moveFree}, 2, "--grower -1 is not an id"},
		{[]string{"--unlinked", "--grower", "1"}, 2, "--unlinked only lists"},
		{[]string{"--from", phones[0], "--erase"}, 2, "--erase is for records without a number"},
		{[]string{"--grower", "1", "--erase", "--to", moveFree}, 2, "moved or erased, not both"},
		{[]string{"--from", "0" + phones[0][3:], "--to", moveFree}, 2, "--from: this is not a phone number with its country code"},
		{[]string{"--from", phones[0], "--to", "the new one"}, 2, "--to: this is not a phone number with its country code"},
		{[]string{"--from", moveFree, "--to", phones[0]}, 1, "nothing was moved: there are no records with +4477…998"},
		{[]string{"--from", phones[0], "--to", phones[1]}, 1, "has records already"},
		{[]string{"--from", phones[0], "--to", phones[0]}, 1, "both numbers are"},
		{[]string{"--grower", "999", "--to", moveFree}, 1, "there is no grower 999"},
		{[]string{"--grower", "1", "--to", moveFree}, 1, "nothing was moved: grower 1 has a number: use --from"},
		{[]string{"--grower", "1", "--erase"}, 1, "grower 1 is not one without a number"},
		{[]string{"--unlinked"}, 0, "Every grower has a number."},
	} {
		out, errs, code := runCommand(append([]string{"move", "--db", file}, c.args...)...)
		if code != c.code || !strings.Contains(out+errs, c.says) {
			t.Errorf("%v: exit code %d\n%s%s\nwant %d and %q", c.args, code, out, errs, c.code, c.says)
		}
		if strings.Contains(out+errs, "77009") {
			t.Errorf("%v: a number stands in clear:\n%s%s", c.args, out, errs)
		}
	}
	if plots(phones[0]) != had || plots(moveFree) != 0 {
		t.Fatal("what was refused was done")
	}
	out, errs, code := runCommand("move", "--db", file, "--from", phones[0], "--to", "00"+moveFree[1:])
	if code != 0 || !strings.Contains(out, "are with +4477…998 now.") || strings.Contains(out, "START") {
		t.Fatalf("exit code %d: %s%s", code, out, errs)
	}
	if plots(phones[0]) != 0 || plots(moveFree) != had {
		t.Errorf("%d plots on the old number, %d on the new one, want 0 and %d", plots(phones[0]), plots(moveFree), had)
	}
	if _, errs, code := runCommand("move", "--db", filepath.Join(t.TempDir(), "none.db"), "--from", phones[0], "--to", moveFree); code != 1 || !strings.Contains(errs, "there are no records at") {
		t.Errorf("without records: exit code %d: %s", code, errs)
	}
}

func TestMoveOfUnlinkedRecords(t *testing.T) {
	file, s := rankRecords(t)
	at := practiceDay.At(practiceHour, time.UTC).Unix()
	var ids []int64
	if err := s.InTx(t.Context(), func(tx *store.Tx) error {
		growers, err := tx.OpenPlots(store.DefaultPlace, 2)
		for _, g := range growers {
			ids = append(ids, g.ID)
			l, err2 := tx.Ledger(g.Phone, at)
			if err2 == nil {
				err2 = l.Unlink()
			}
			err = errors.Join(err, err2)
		}
		l, err2 := tx.Ledger(moveFree, at) // a number that wants no texts
		if err2 == nil {
			err2 = l.Stop()
		}
		return errors.Join(err, err2)
	}); err != nil || len(ids) != 2 {
		t.Fatalf("%v, %v", ids, err)
	}
	run := func(args ...string) string {
		t.Helper()
		out, errs, code := runCommand(append([]string{"move", "--db", file}, args...)...)
		if code != 0 || errs != "" {
			t.Fatalf("%v: exit code %d: %s", args, code, errs)
		}
		return out
	}
	list := run("--unlinked")
	if lines := strings.Split(strings.TrimSpace(list), "\n"); len(lines) != 3 || !strings.Contains(lines[1], practiceDay.String()) {
		t.Errorf("listed\n%s", list)
	}
	id := func(i int) string { return strings.Fields(strings.Split(list, "\n")[i+1])[0] }
	if out := run("--grower", id(0), "--to", moveFree); !strings.Contains(out, "until the grower texts START") {
		t.Errorf("the number's stop is not told: %s", out)
	}
	if out := run("--grower", id(1), "--erase"); !strings.Contains(out, "Erased: the records of grower "+id(1)) {
		t.Errorf("erased: %s", out)
	}
	if out := run("--unlinked"); !strings.Contains(out, "Every grower has a number.") {
		t.Errorf("still listed:\n%s", out)
	}
}
