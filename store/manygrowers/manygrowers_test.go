package manygrowers

import (
	"context"
	"path/filepath"
	"testing"

	"rowbell/engine"
	"rowbell/store"
	_ "rowbell/store/testrun"
)

const today = engine.Day(20605) // 1 June 2026

const growers = 400

// open returns records that Fill has made.
func open(t *testing.T) (s *store.Store, path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "rowbell.db")
	ok(t, Fill(t.Context(), path, growers, today))
	s, err := store.Open(t.Context(), path, store.Options{Existing: true})
	ok(t, err)
	t.Cleanup(func() { s.Close() })
	return s, path
}

// The records pass the store's own checks, and each grower's plots can be planned.
func TestFill(t *testing.T) {
	s, _ := open(t)
	ok(t, s.IntegrityCheck(t.Context()))
	var passes, sightings, texts int
	err := s.View(t.Context(), func(tx *store.Tx) error {
		for i := range growers {
			l, err := tx.Ledger(Phone(i), At(today))
			if err != nil {
				return err
			}
			plots, err := l.Plots()
			if err != nil || len(plots) == 0 || l.GrowerID() != int64(i+1) {
				t.Fatalf("grower %d has the id %d and %d plots, %v", i, l.GrowerID(), len(plots), err)
			}
			for _, no := range plots {
				season, err := l.Season(no)
				if err != nil {
					return err
				}
				if _, err := season.Windows(today); err != nil {
					t.Errorf("grower %d, plot %d: %v", i, no, err)
				}
				passes, sightings = passes+len(season.Passes), sightings+len(season.Sightings)
			}
			inbox, err := tx.Inbox(Phone(i), 0)
			if err != nil {
				return err
			}
			texts += len(inbox)
		}
		return nil
	})
	ok(t, err)
	if passes < growers/2 || sightings < growers/3 || texts != TextsEach*growers {
		t.Errorf("%d passes, %d sightings, %d texts", passes, sightings, texts)
	}
}

// About each plot of MakeDue there is a text to write.
func TestMakeDue(t *testing.T) {
	s, path := open(t)
	due := 0
	for group := range Groups {
		n, err := MakeDue(t.Context(), path, group, growers, At(today))
		ok(t, err)
		if n != growers/10 {
			t.Errorf("group %d has %d plots, want %d", group, n, growers/10)
		}
		due += int(n)
	}
	err := s.View(t.Context(), func(tx *store.Tx) error {
		list, err := tx.DueGrowers(At(today), growers)
		if len(list) != due {
			t.Errorf("%d growers have due plots, want %d", len(list), due)
		}
		for _, g := range list {
			for _, p := range g.Plots {
				plan, err := p.Season.Windows(today)
				if err != nil {
					return err
				}
				if _, silence := plan.Reminder(p.Told); silence != engine.NotSilent {
					t.Fatalf("nothing to write about the plot %d of grower %d: %v", p.No, g.ID, silence)
				}
			}
		}
		return err
	})
	ok(t, err)
}

// File makes a file once, and leaves nothing else in the folder.
func TestFileIsMadeOnce(t *testing.T) {
	folder := t.TempDir()
	var paths [2]string
	for i := range paths {
		var err error
		paths[i], err = File(context.Background(), folder, 100, today)
		ok(t, err)
	}
	files, err := filepath.Glob(filepath.Join(folder, "*"))
	ok(t, err)
	if paths[0] != paths[1] || len(files) != 1 || files[0] != paths[0] {
		t.Errorf("%v, files %v", paths, files)
	}
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
