package service

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/store"
)

// nightlyName matches the file name of a nightly backup of November 2026.
var nightlyName = regexp.MustCompile(`^rowbell-2026-11-(\d\d)\.db$`)

// nightlyBackups lists the nightly backups in a folder by their day of November 2026, and all other file names.
func nightlyBackups(t *testing.T, folder string) (days []string, files map[string]os.FileInfo, others []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	ok(t, err)
	files = map[string]os.FileInfo{}
	for _, e := range entries {
		m := nightlyName.FindStringSubmatch(e.Name())
		if m == nil {
			others = append(others, e.Name())
			continue
		}
		days = append(days, m[1])
		if files[m[1]], err = e.Info(); err != nil {
			t.Fatal(err)
		}
	}
	return days, files, others
}

// One backup a night is made, at the hour in the time zone of the place. The newest two backups are retained, and no
// other file changes. A backup that failed is made later.
func TestNightlyBackups(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "nights")
	// Asia/Kolkata is five and a half hours ahead of UTC, so the default backup hour 3 is 21:30 UTC.
	c := configtest.Fresh(t, fmt.Sprintf("place.zone = \"Asia/Kolkata\"\nbackup = {folder = %q, keep = 2}\n", folder))
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, time.UTC) }
	s := start(t, c, at(24, 20, 0))
	if s.keepUp(); s.nightly.err == nil || !strings.Contains(s.log.String(), "backup") {
		t.Errorf("there is no folder, and nothing is logged: %v\n%s", s.nightly.err, s.log)
	}
	others := []string{"letter.txt", "other-2026-11-01.db", "rowbell-2026-11-25-120000.db", "rowbell-2026-11-2x.db"}
	ok(t, os.Mkdir(folder, 0o700))
	for _, name := range others {
		ok(t, os.WriteFile(filepath.Join(folder, name), []byte("not a nightly backup"), 0o600))
	}
	before := map[string]os.FileInfo{}
	for _, step := range []struct {
		when          string
		now, newest   time.Time
		restart, away bool   // restart: the service is restarted; away: the folder is missing in this step
		want          string // days of November that have a backup
	}{
		{when: "before the hour", now: at(24, 21, 29)}, // 02:59 in the place's time zone
		{when: "at the hour", now: at(24, 21, 30), newest: at(24, 21, 30), want: "25"},
		{when: "later that day", now: at(25, 10, 0), newest: at(24, 21, 30), want: "25"},
		{when: "after a restart", now: at(25, 11, 0), newest: at(24, 21, 30), restart: true, want: "25"},
		{when: "late", now: at(26, 9, 0), newest: at(26, 9, 0), want: "25 26"},
		{when: "the day after", now: at(27, 9, 0), newest: at(27, 9, 0), want: "26 27"},
		{when: "a failure", now: at(28, 9, 0), newest: at(27, 9, 0), away: true, want: "26 27"},
		{when: "an hour later", now: at(28, 10, 0), newest: at(28, 10, 0), want: "27 28"},
	} {
		if step.restart {
			s.stop()
			s = start(t, c, step.now)
		}
		if step.away {
			ok(t, os.Rename(folder, folder+".away"))
		}
		s.clock.Set(step.now)
		s.keepUp()
		if step.away {
			ok(t, os.Rename(folder+".away", folder))
		}
		if newest, err := s.nightly.state(); !newest.Equal(step.newest) || (err != nil) != step.away {
			t.Errorf("%s: the newest is of %v, %v; want %v", step.when, newest, err, step.newest)
		}
		days, files, rest := nightlyBackups(t, folder)
		if strings.Join(days, " ") != step.want || !slices.Equal(rest, others) {
			t.Errorf("%s: %v and %v, want %v and %v", step.when, days, rest, step.want, others)
		}
		for day, file := range files {
			if was := before[day]; was != nil && !os.SameFile(was, file) {
				t.Errorf("%s: the backup of 2026-11-%s was made again", step.when, day)
			}
		}
		before = files
	}
	_, err := store.Inspect(t.Context(), filepath.Join(folder, "rowbell-2026-11-28.db"))
	ok(t, err)
}

// With public keys in the configuration the next nightly backup is encrypted. Older ones are counted, compared,
// accepted and removed as before, whether they are encrypted or not.
//
//revive:disable-next-line:function-length most of it is the table of the nights
func TestNightlyBackupsGetEncrypted(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(t.Context(), db, store.Options{})
	ok(t, err)
	defer s.Close()
	ok(t, s.InTx(t.Context(), func(tx *store.Tx) error {
		for i := range 4 {
			l, err := tx.Ledger(grower(i), 0)
			if err == nil {
				err = l.Consent("en", "v", "ussd")
			}
			if err != nil {
				return err
			}
		}
		return nil
	}))
	two := 2
	c := config.Config{DB: db, Backup: &config.Backup{Folder: t.TempDir(), Keep: &two}}
	const key = "age19m2w7nlyf96s6pgvjj9wck7ncet6yu385lyl0rdy0x6jjdn50d5ssm7a3e" // made for the tests
	for i, step := range []struct {
		encrypts, accept bool
		growers          int64 // as many as the backup of the day is taken to have
		want             string
	}{
		{growers: 4, want: "01.db"},
		{encrypts: true, growers: 4, want: "01.db 02.db.age"},
		{encrypts: true, growers: 1, want: "01.db 02.db.age 03-shrunken.db.age"},
		{encrypts: true, growers: 4, accept: true, want: "03.db.age 04.db.age"},
		{growers: 4, want: "04.db.age 05.db"},
	} {
		now := time.Date(2026, 6, 1+i, 5, 0, 0, 0, time.UTC)
		if step.accept {
			names, err := AcceptShrunken(c)
			ok(t, err)
			if strings.Join(names, " ") != "rowbell-2026-06-03.db.age" {
				t.Errorf("accepted %v", names)
			}
		}
		c.Backup.Recipients = nil
		if step.encrypts {
			c.Backup.Recipients = []string{key}
		}
		growers := func(context.Context) (int64, error) { return step.growers, nil }
		n := newNightly(c, clock.New(now), growers) // as after a restart
		for _, again := range []bool{false, true} {
			_, done, err := n.run(t.Context(), now, time.UTC)
			ok(t, err)
			if done == again {
				t.Errorf("day %d: made %v", i+1, done)
			}
		}
		entries, err := os.ReadDir(c.Backup.Folder)
		ok(t, err)
		var names []string
		for _, e := range entries {
			names = append(names, strings.TrimPrefix(e.Name(), "rowbell-2026-06-"))
		}
		if got := strings.Join(names, " "); got != step.want {
			t.Errorf("day %d: %s, want %s", i+1, got, step.want)
		}
		shrunken := strings.Contains(step.want, "shrunken")
		if newest, err := n.state(); err != nil || newest.Equal(now) == shrunken {
			t.Errorf("day %d: the newest is of %v, %v", i+1, newest, err)
		}
	}
}

// A backup that was made while the clock was ahead has a date in the future. It does not count as a retained backup, so
// no other backup is removed because of it.
func TestNightlyAfterTheClockWasAhead(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(t.Context(), db, store.Options{})
	ok(t, err)
	defer s.Close()
	one := 1
	at := time.Date(2026, 6, 1, 4, 0, 0, 0, time.UTC)
	n := newNightly(config.Config{DB: db, Backup: &config.Backup{Folder: t.TempDir(), Keep: &one}}, clock.New(at),
		func(context.Context) (int64, error) { return 0, nil })
	for _, now := range []time.Time{at.AddDate(9, 0, 0), at, at.Add(time.Hour), at.AddDate(0, 0, 1)} {
		_, _, err := n.run(t.Context(), now, time.UTC)
		ok(t, err)
		if _, err := os.Stat(n.file(engine.DayOf(now, time.UTC))); err != nil {
			t.Errorf("at %v: %v", now, err)
		}
		if newest, _ := n.state(); newest.After(now) {
			t.Errorf("at %v the newest is of %v", now, newest)
		}
	}
	// Two backups must remain although keep is 1: that of 2 June 2026, and that of 2035, which is not counted.
	if days, _ := Backups(n.Folder, n.db); len(days) != 2 {
		t.Errorf("retained: %v", days)
	}
}

// asked is a clock that notes the ticks that were asked for and not ended.
type asked struct {
	*clock.Manual
	ticks []time.Duration
	open  int
}

func (c *asked) Every(d time.Duration) (<-chan time.Time, func()) {
	c.ticks = append(c.ticks, d)
	c.open++
	return nil, func() { c.open-- }
}

// A backup gets the ticks at which its file is synced from the clock of the service, as long as it is made.
func TestNightlyTicks(t *testing.T) {
	db := filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(t.Context(), db, store.Options{})
	ok(t, err)
	defer s.Close()
	now := time.Date(2026, 6, 1, 4, 0, 0, 0, time.UTC)
	c := &asked{Manual: clock.New(now)}
	n := newNightly(config.Config{DB: db, Backup: &config.Backup{Folder: t.TempDir()}}, c,
		func(context.Context) (int64, error) { return 0, nil })
	_, done, err := n.run(t.Context(), now, time.UTC)
	ok(t, err)
	if !done || !slices.Equal(c.ticks, []time.Duration{store.SyncEvery}) || c.open != 0 {
		t.Errorf("made %v; asked for ticks every %v, %d not ended", done, c.ticks, c.open)
	}
}
