package store

import (
	"errors"
	"testing"

	"github.com/mattn/go-sqlite3"
)

// A part that fails or panics is undone, and the rest of the transaction is kept.
func TestPartFailsAlone(t *testing.T) {
	s := open(t)
	const now = 1_800_000_000
	failed := errors.New("no such thing")
	keep := func(tx *Tx, key string) error { return tx.StoreReply("heron", key, "", nil, now) }
	err := s.InTx(t.Context(), func(tx *Tx) error {
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
	errorIf(t, err != nil, "%v", err)
	for key, want := range map[string]bool{"a": true, "b": false, "c": false, "d": true, "e": true} {
		err := s.View(t.Context(), func(tx *Tx) error {
			_, kept, err := tx.StoredReply("heron", key, now)
			errorIf(t, kept != want, "part %s: kept is %v", key, kept)
			return err
		})
		errorIf(t, err != nil, "%v", err)
	}
}

// After an error of the disk the whole transaction must be given up.
func TestPartOnABrokenDisk(t *testing.T) {
	s := open(t)
	err := s.InTx(t.Context(), func(tx *Tx) error {
		broken, err := tx.Part(func() error { return sqlite3.Error{Code: sqlite3.ErrFull} })
		errorIf(t, !broken || err == nil, "broken is %v, %v", broken, err)
		return err
	})
	errorIf(t, err == nil, "the transaction was kept")
}
