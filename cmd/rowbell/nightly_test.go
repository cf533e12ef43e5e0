package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// A clock that was ahead for a night left a backup of a day to come: that one
// does not push out those of the days that are.
func TestNightlyAfterTheClockWasAhead(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "rowbell.db")
	s, err := store.Open(context.Background(), db, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	one := 1
	n := newNightly(config.Config{DB: db, Backup: &config.Backup{Folder: t.TempDir(), Keep: &one}})
	at := time.Date(2026, 6, 1, 4, 0, 0, 0, time.UTC)
	for _, now := range []time.Time{at.AddDate(9, 0, 0), at, at.Add(time.Hour), at.AddDate(0, 0, 1)} {
		if _, _, err := n.run(context.Background(), now, time.UTC); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(n.file(engine.DayOf(now, time.UTC))); err != nil {
			t.Errorf("at %v: %v", now, err)
		}
		if newest, _ := n.state(); newest.After(now) {
			t.Errorf("at %v the newest is of %v", now, newest)
		}
	}
	if days, _ := n.days(); len(days) != 2 { // the last, and the one to come
		t.Errorf("kept: %v", days)
	}
}
