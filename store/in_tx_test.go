package store

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/mattn/go-sqlite3"
)

func TestWorkGoesOnWhenTheCallerLeaves(t *testing.T) {
	s := open(t)
	ctx, leave := context.WithCancel(ctx)
	errs := together(s, ctx,
		func(tx *Tx) error { leave(); return remember("a")(tx) },
		remember("b"))
	ok(t, errors.Join(errs...))
	equal(t, remembered(t, s), "a b", "kept")
}

// With the option RunTwice, what the first run of a function wrote and locked is gone before the second one.
func TestRunTwice(t *testing.T) {
	s := openNew(t, Options{RunTwice: true})
	runs, panics := 0, 0
	write(t, s, func(tx *Tx) error {
		runs++
		return errors.Join(tx.Lock(ana), remember(fmt.Sprint(runs))(tx))
	})
	equal(t, remembered(t, s), "2", "kept")
	ok(t, s.Background(ctx, func(tx *Tx) (bool, error) { runs++; return true, remember(fmt.Sprint(runs))(tx) }))
	equal(t, remembered(t, s), "2 4", "kept")
	err := s.InTx(ctx, func(*Tx) error { panics++; panic("no such plot") })
	var p *PanicError
	errorIf(t, !errors.As(err, &p) || panics != 2, "%v after %d runs", err, panics)
}

// A part that fails or panics is undone, and the rest of the transaction is kept.
func TestPartFailsAlone(t *testing.T) {
	s := open(t)
	failed := errors.New("no such thing")
	keep := func(tx *Tx, key string) error { return tx.StoreReply("heron", key, "", nil, noon) }
	err := s.InTx(ctx, func(tx *Tx) error {
		for _, tt := range []struct {
			key string
			fn  func() error
		}{
			{"a", func() error { return nil }},
			{"b", func() error { return failed }},
			{"c", func() error { panic("a fault") }},
			{"d", func() error { return nil }},
		} {
			broken, err := tx.Part(func() error { return errors.Join(keep(tx, tt.key), tt.fn()) })
			var panicked *PanicError
			right := map[string]bool{
				"a": err == nil, "b": errors.Is(err, failed), "c": errors.As(err, &panicked), "d": err == nil,
			}
			errorIf(t, broken || !right[tt.key], "part %s: %v, broken is %v", tt.key, err, broken)
		}
		return keep(tx, "e")
	})
	ok(t, err)
	for key, want := range map[string]bool{"a": true, "b": false, "c": false, "d": true, "e": true} {
		view(t, s, func(tx *Tx) error {
			_, kept, err := tx.StoredReply("heron", key, ana, noon)
			errorIf(t, kept != want, "part %s: kept is %v", key, kept)
			return err
		})
	}
}

// After an error of the disk the whole transaction must be given up.
func TestPartOnABrokenDisk(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	err := s.InTx(ctx, func(tx *Tx) error {
		broken, err := tx.Part(func() error { return sqlite3.Error{Code: sqlite3.ErrFull} })
		errorIf(t, !broken || err == nil, "broken is %v, %v", broken, err)
		return err
	})
	errorIf(t, err == nil, "the transaction was kept")
}
