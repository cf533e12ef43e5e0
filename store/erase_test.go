package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
)

func TestErase(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	ring(t, s, ben, []int{1}, engine.KindOpen, noon)
	enqueue(t, s, text("before consent", ana, noon))
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(
			l.See(1, engine.Sighting{On: day0, Amount: engine.Few}),
			l.LogPass(1, aPass),
			l.tx.SaveSession(Session{Phone: ana, Channel: "ussd", State: []byte("x"), SavedAt: noon,
				ExpiresAt: noon + 60}),
			l.tx.StoreReply("local", "a", ana, []byte("by the well"), noon),
			l.tx.StoreReply("local", "b", ben, []byte("by the well"), noon),
			l.tx.StoreReply("local", "c", "", nil, noon),
		)
	})
	ledger(t, s, ana, noon+1, func(l *Ledger) error {
		err := l.Erase()
		errorIf(t, l.Known() || l.GrowerID() != 0 || l.Language() != "" || !l.Stopped(), "after Erase: %+v", l)
		nos, err2 := l.Plots()
		errorIf(t, len(nos) != 0, "plots after Erase: %v", nos)
		return errors.Join(err, err2)
	})
	wantRows(t, s, map[string]int64{"grower": 1, "plot": 1, "pass": 0, "sighting": 0, "told": 1, "message": 1,
		"message_plot": 1, "prompt": 1, "session": 0, "opt_out": 1, "callback": 2})
	// A new consent after the erasure creates new records with a new id.
	ledger(t, s, ana, noon+2, func(l *Ledger) error {
		err := consent(l)
		errorIf(t, l.GrowerID() != 3 || l.Stopped(), "id %d, stopped %v after consent anew", l.GrowerID(), l.Stopped())
		return err
	})
}

// An opt-out stores a keyed hash of the phone number. Each database has its own key.
func TestOptOutIsKeyed(t *testing.T) {
	a, b := open(t), open(t)
	hash := func(s *Store) string { return string((&Tx{s: s}).hash(ana)) }
	errorIf(t, hash(a) == hash(b), "two databases hash a phone alike: the key is not their own")
	before := hash(a)
	ledger(t, a, ana, noon, (*Ledger).Stop)
	again := openAgain(t, a, Options{})
	errorIf(t, hash(again) != before, "the key changed on opening again")
	errorIf(t, !stopped(t, again, ana), "the opt-out is lost on opening again")
}

// After an erasure, no table has a row about the person, except the hash in opt_out if the grower wants no texts. The
// files contain neither the phone number nor names, not even in free pages.
func TestErasedIsNowhere(t *testing.T) {
	stays := []string{"spend", "place", "meta", "opt_out", "move_wrong", "consent_text", versionTable}
	for name, c := range map[string]struct {
		erase func(*Store) error
		stop  int64 // rows that must be left in opt_out, and in move_wrong (the count of wrong codes from all phones)
	}{
		"by the person": {func(s *Store) error { return try(s, ana, noon+99, (*Ledger).Erase) }, 1},
		"by time":       {func(s *Store) error { return second(s.Prune(ctx, noon+10_000*day)) }, 0},
		"unlinked, by staff": {func(s *Store) error {
			return try(s, ana, noon+99, func(l *Ledger) error { // Erase deletes rows outside of the records
				return errors.Join(l.Unlink(), l.tx.EraseUnlinked(1, noon), l.Erase())
			})
		}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			fullLife(t, s, ana)
			ok(t, s.Checkpoint(ctx))
			secrets := []string{ana.E164()[1:], "by the well", odd, "your number is"}
			fatalIf(t, s.fileDB != nil && found(t, s, secrets) != len(secrets),
				"the records are not where they are looked for")
			ok(t, c.erase(s))
			ok(t, s.Checkpoint(ctx))
			equal(t, found(t, s, secrets), 0, "of %d secrets are still in the files", len(secrets))
			for _, table := range tables(t, s) {
				if !slices.Contains(stays, table) {
					wantNumber(t, s, 0, "SELECT count(*) FROM "+table)
				}
			}
			wantRows(t, s, map[string]int64{"opt_out": c.stop, "move_wrong": c.stop})
		})
	}
}

// found counts how many of the secrets are in the database's files.
func found(t *testing.T, s *Store, secrets []string) (n int) {
	t.Helper()
	if s.fileDB == nil {
		return 0 // the files are the server's
	}
	var all []byte
	for _, file := range []string{s.path, s.path + "-wal"} {
		b, err := os.ReadFile(file)
		ok(t, err)
		all = append(all, b...)
	}
	for _, secret := range secrets {
		if bytes.Contains(all, []byte(secret)) {
			n++
		}
	}
	return n
}

// tables lists the tables of the database, without SQLite's internal tables.
func tables(t *testing.T, s *Store) []string {
	t.Helper()
	list := get(t, s, func(tx *Tx) ([]string, error) {
		if tx.pg != nil {
			return column[string](tx, `SELECT relname FROM pg_class
				WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'`, nil)
		}
		return column[string](tx, `SELECT name FROM sqlite_schema
			WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`, nil)
	})
	fatalIf(t, len(list) < 15, "only %d tables", len(list))
	return list
}

// fullLife must fill every table about people, because TestErasedIsNowhere proves nothing about an empty table.
func TestFullLifeFillsEveryTable(t *testing.T) {
	s := open(t)
	fullLife(t, s, ana)
	// Tables that need no row of the person.
	others := " staff staff_place staff_link staff_session letter letter_place " +
		"weather opt_out place_look attention_place process lease early_receipt report_field report_text "
	for _, table := range tables(t, s) {
		n := number(t, s, "SELECT count(*) FROM "+table)
		errorIf(t, n == 0 && !strings.Contains(others, fmt.Sprintf(" %s ", table)), "%s has no row", table)
	}
}
