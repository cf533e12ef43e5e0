package service

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/store"
)

// A backup a night in the place's time zone, the newest two retained, and no
// other file touched; a night that failed is made up for.
func TestNightlyBackups(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "nights")
	// Asia/Kolkata is five and a half hours ahead of UTC.
	c := configtest.Fresh(t, fmt.Sprintf("place.zone = \"Asia/Kolkata\"\nbackup = {folder = %q, keep = 2}\n", folder))
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, time.UTC) }
	s := start(t, c, at(24, 20, 0))
	upkeep := func(now time.Time) { t.Helper(); s.clock.Set(now); s.keepUp() }
	others := []string{"rowbell-2026-11-25-120000.db", "rowbell-2026-11-2x.db", "letter.txt", "other-2026-11-01.db"}

	upkeep(at(24, 22, 0)) // the folder is not there
	if _, err := s.nightly.state(); err == nil || !strings.Contains(s.log.String(), "backup") {
		t.Errorf("no backup could be made, and nothing is logged: %v\n%s", err, s.log)
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range others {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("not a nightly backup"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	expect := func(when string, want ...string) {
		t.Helper()
		entries, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, e := range entries {
			got += e.Name() + " "
		}
		for _, mine := range others {
			if !strings.Contains(got, mine) {
				t.Errorf("%s: %s is gone", when, mine)
			}
		}
		found := regexp.MustCompile(`rowbell-\d{4}-\d\d-\d\d\.db`).FindAllString(got, -1)
		if strings.Join(found, " ") != strings.Join(want, " ") || strings.Contains(got, "part") {
			t.Errorf("%s: %s, want %v", when, got, want)
		}
	}
	upkeep(at(24, 21, 29)) // 02:59 there
	expect("before the hour")
	upkeep(at(24, 21, 30))
	expect("at the hour", "rowbell-2026-11-25.db")
	if newest, err := s.nightly.state(); err != nil || !newest.Equal(at(24, 21, 30)) {
		t.Errorf("state: %v %v", newest, err)
	}
	was, err := os.Stat(filepath.Join(folder, "rowbell-2026-11-25.db"))
	if err != nil {
		t.Fatal(err)
	}
	upkeep(at(25, 10, 0))
	s.stop()
	s = start(t, c, at(25, 10, 30))
	upkeep(at(25, 11, 0)) // after a restart, the same day
	if is, err := os.Stat(filepath.Join(folder, "rowbell-2026-11-25.db")); err != nil || !os.SameFile(is, was) {
		t.Errorf("the day's backup was made twice: %v", err)
	}
	if newest, err := s.nightly.state(); err != nil || !newest.Equal(at(24, 21, 30)) {
		t.Errorf("state after a restart: %v %v", newest, err)
	}
	upkeep(at(26, 9, 0)) // late: it was not running at three
	upkeep(at(27, 9, 0))
	expect("two are kept", "rowbell-2026-11-26.db", "rowbell-2026-11-27.db")

	// A night that fails removes nothing, and is made up for an hour later.
	if err := os.Rename(folder, folder+".away"); err != nil {
		t.Fatal(err)
	}
	upkeep(at(28, 9, 0))
	if newest, err := s.nightly.state(); err == nil || !newest.Equal(at(27, 9, 0)) {
		t.Errorf("state after a failure: %v %v", newest, err)
	}
	if err := os.Rename(folder+".away", folder); err != nil {
		t.Fatal(err)
	}
	expect("after a failure", "rowbell-2026-11-26.db", "rowbell-2026-11-27.db")
	upkeep(at(28, 10, 0))
	expect("an hour later", "rowbell-2026-11-27.db", "rowbell-2026-11-28.db")
	if _, err := s.nightly.state(); err != nil {
		t.Error(err)
	}
	if _, err := store.Inspect(t.Context(), filepath.Join(folder, "rowbell-2026-11-28.db")); err != nil {
		t.Error(err)
	}
}

// A backup of a later day, made while the clock was ahead, does not displace
// those of days that have been.
func TestNightlyAfterTheClockWasAhead(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
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
	if days, _ := backups(n.Folder, n.db); len(days) != 2 { // the last, and the one to come
		t.Errorf("retained: %v", days)
	}
}
