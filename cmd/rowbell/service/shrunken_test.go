package service

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
	"rowbell/store"
	"rowbell/store/testrun"
)

// backupNames lists the nightly backups by day, shrunken ones with an s.
func backupNames(t *testing.T, folder, db string) string {
	t.Helper()
	days, err := Backups(folder, db)
	ok(t, err)
	shrunken, err := ShrunkenBackups(folder, db)
	ok(t, err)
	var names []string
	for d := engine.Date(2026, 11, 1); d < engine.Date(2026, 12, 1); d++ {
		for mark, list := range map[string][]engine.Day{"": days, "s": shrunken} {
			for _, day := range list {
				if d == day {
					names = append(names, strings.TrimPrefix(d.String(), "2026-11-")+mark)
				}
			}
		}
	}
	return strings.Join(names, " ")
}

// shrunkenNights are the nights of TestShrunkenBackups.
var shrunkenNights = []struct {
	day, growers int
	accept       bool   // the operator accepts the shrunken backups before the night
	away         bool   // the last backup cannot be read
	want         string // days of November that have a backup, the shrunken ones with an s
}{
	{day: 1, want: "01"}, // no growers yet
	{day: 2, growers: 6, want: "01 02"},
	{day: 3, growers: 3, want: "02 03"}, // a half
	{day: 4, growers: 1, want: "02 03 04s"},
	{day: 5, growers: 1, want: "02 03 04s 05s"},
	{day: 6, growers: 1, want: "02 03 05s 06s"},
	{day: 7, growers: 2, want: "03 05s 06s 07"}, // enough are back
	{day: 8, growers: 4, want: "07 08"},         // shrunken ones are not kept longer than others
	{day: 9, growers: 1, want: "07 08 09s"},
	{day: 10, growers: 1, accept: true, want: "09 10"},
	{day: 11, growers: 0, want: "09 10 11s"},
	{day: 12, growers: 1, want: "10 11s 12"},
	{day: 13, growers: 6, want: "12 13"},
	{day: 14, growers: 2, away: true, want: "13 14"}, // compared with the newest that can be read
}

// While backups have fewer than half of the growers of the last one, no older backup is removed, until an operator
// accepts them or the growers are back. A backup with half of the growers is not shrunken.
func TestShrunkenBackups(t *testing.T) {
	folder := t.TempDir()
	c := configtest.Fresh(t, fmt.Sprintf("backup = {folder = %q, keep = 2, hour = 0}\n", folder))
	if testrun.OnServer() {
		c.DB = testrun.EmptyDatabase(t)
	}
	at := func(day int) time.Time { return time.Date(2026, 11, day, 1, 0, 0, 0, time.UTC) }
	s := start(t, c, at(1))
	growers := 0
	for _, step := range shrunkenNights {
		for ; growers < step.growers; growers++ {
			s.register(grower(growers), 3)
		}
		for ; growers > step.growers; growers-- {
			s.records(func(tx *store.Tx, now int64) error {
				l, err := tx.Ledger(grower(growers-1), now)
				if err != nil {
					return err
				}
				return l.Erase()
			})
		}
		if step.accept {
			names, err := AcceptShrunken(c)
			ok(t, err)
			if strings.Join(names, " ") != BackupName(c.DB, "2026-11-09") {
				t.Errorf("accepted: %v", names)
			}
			if since, is := s.shrunken(); is {
				t.Errorf("still shrunken since %v", since)
			}
		}
		if step.away {
			ok(t, os.WriteFile(filepath.Join(folder, BackupName(c.DB, "2026-11-13")), []byte("no records"), 0o600))
		}
		s.clock.Set(at(step.day))
		s.log.Reset()
		s.keepUp()
		s.keepUp() // the next hour makes and removes nothing more
		if got := backupNames(t, folder, c.DB); got != step.want {
			t.Errorf("on day %d with %d growers: %s, want %s", step.day, step.growers, got, step.want)
		}
		newest := strings.HasSuffix(step.want, "s")
		if _, is := s.shrunken(); is != newest || strings.Contains(s.log.String(), "--accept-shrunken") != newest ||
			strings.Contains(strings.Join(s.notes(), "\n"), "--accept-shrunken") != newest {
			t.Errorf("on day %d: shrunken %v\n%s%s", step.day, is, s.log, s.notes())
		}
		if at, err := s.nightly.state(); err != nil || newest == at.Equal(s.clock.Now()) {
			t.Errorf("on day %d the newest is of %v, %v", step.day, at, err)
		}
	}
}

func grower(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900100+int64(n))) }
