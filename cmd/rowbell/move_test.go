package main

import (
	"fmt"
	"path/filepath"
	"testing"

	"rowbell/store"
)

const freeNumber = "+447700900998"

// Package store tests what a move changes. This test checks the flags, the wording of refusals, and that records
// change.
func TestMove(t *testing.T) {
	db, s, numbers, unlinked := personRecords(t)
	stopped, linked, other := "+447700900997", numbers[0], numbers[1]
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(stopped), 0)
		if err != nil {
			return err
		}
		return l.Stop()
	})
	one, two := fmt.Sprint(unlinked[0]), fmt.Sprint(unlinked[1])
	runSteps(t, "move --db "+db, []shellStep{
		{"", 2, "name the person by --from or by --grower"},
		{"--from " + linked, 2, "say where the records go with --to"},
		{"--from " + linked + " --grower 1 --to " + freeNumber, 2, "not by both"},
		{"--grower=-1 --to " + freeNumber, 2, "--grower -1 is not an id"},
		{"--unlinked --grower 1", 2, "--unlinked only lists"},
		{"--from " + linked + " --erase", 2, "--erase is for records without a number"},
		{"--grower 1 --erase --to " + freeNumber, 2, "moved or erased, not both"},
		{"--from 0" + linked[3:] + " --to " + freeNumber, 2,
			"--from: this is not a phone number with its country code"},
		{"--from " + linked + " --to new", 2, "--to: this is not a phone number with its country code"},
		{"--from " + freeNumber + " --to " + linked, 1, "nothing was moved: there are no records with +4477…998"},
		{"--from " + linked + " --to " + other, 1, "has records already"},
		{"--from " + linked + " --to " + linked, 1, "both numbers are"},
		{"--grower 999 --to " + freeNumber, 1, "nothing was moved: there is no grower 999"},
		{"--grower 1 --to " + freeNumber, 1, "nothing was moved: grower 1 has a number: use --from"},
		{"--grower 1 --erase", 1, "nothing was erased: grower 1 is not one without a number"},
		{"--unlinked", 0, one + " " + practiceDay.String()},
		{"--from " + linked + " --to 00" + freeNumber[1:], 0, "are with +4477…998 now."},
		{"--from " + linked + " --to " + stopped, 1, "there are no records with"},
		{"--from " + freeNumber + " --to " + linked, 0, "Moved"},
		{"--grower " + one + " --to " + stopped, 0, "No texts go there until the grower texts START"},
		{"--grower " + two + " --erase", 0, "Erased: the records of grower " + two},
		{"--unlinked", 0, "Every grower has a number."},
	})
	none := filepath.Join(t.TempDir(), "none.db")
	runSteps(t, "move --db "+none, []shellStep{{"--from " + linked + " --to " + freeNumber, 1,
		"there are no records at"}})
}
