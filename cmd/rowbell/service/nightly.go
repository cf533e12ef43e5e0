package service

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/store"
	"rowbell/store/agefile"
)

// nightly makes one backup a day and removes old ones. It is safe for concurrent use; a nil *nightly makes none.
type nightly struct {
	config.Backup
	db      string                               // path of the database file, or address
	growers func(context.Context) (int64, error) // returns the number of growers in the open records
	clock   clock.Clock

	mu     sync.Mutex
	newest time.Time // time of the newest backup; zero if there is no backup
	err    error     // of the last attempt to make a backup
}

func newNightly(c config.Config, at clock.Clock, growers func(context.Context) (int64, error)) *nightly {
	if c.Backup == nil {
		return nil
	}
	return &nightly{Backup: *c.Backup, db: c.DB, growers: growers, clock: at}
}

// state returns the time of the newest backup (zero without one) and the error of the last attempt. For a backup of an
// earlier run of the program, state returns the hour at which that backup was due.
func (n *nightly) state() (newest time.Time, err error) {
	if n == nil {
		return time.Time{}, nil
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.newest, n.err
}

// run makes the backup of the day if it is due and missing, and removes old backups. done reports whether it made a
// backup.
func (n *nightly) run(ctx context.Context, now time.Time, zone *time.Location) (
	made store.Contents, done bool, err error) {
	var days, shrunken []engine.Day
	defer func() {
		n.mu.Lock()
		defer n.mu.Unlock()
		n.err = err
		if err == nil && n.newest.After(now) { // the backup was made while the clock was ahead
			n.newest = time.Time{}
		}
		if done && slices.Contains(days, engine.DayOf(now, zone)) {
			n.newest = now
		} else if len(days) > 0 { // the backup may have been made before the program started, or been accepted since
			if due := days[len(days)-1].At(n.DueHour(), zone); n.newest.Before(due) {
				n.newest = due
			}
		}
	}()
	if err := config.CheckFolder(n.Folder); err != nil {
		return made, false, err
	}
	if days, err = Backups(n.Folder, n.db); err != nil {
		return made, false, err
	}
	if shrunken, err = ShrunkenBackups(n.Folder, n.db); err != nil {
		return made, false, err
	}
	today := engine.DayOf(now, zone)
	// A later date was written while the clock was ahead. Such a backup does not count as retained: otherwise a backup
	// with a correct date would be removed too early.
	future := func(d engine.Day) bool { return d > today }
	days, shrunken = slices.DeleteFunc(days, future), slices.DeleteFunc(shrunken, future)
	if !slices.Contains(days, today) && !slices.Contains(shrunken, today) {
		if now.Before(today.At(n.DueHour(), zone)) {
			return made, false, nil
		}
		keys, err := n.Keys()
		if err != nil {
			return made, false, err
		}
		list, file := &days, n.file(today)
		if shrinks, err := n.shrinks(ctx, days); err != nil {
			return made, false, err
		} else if shrinks {
			list, file = &shrunken, filepath.Join(n.Folder, shrunkenName(n.db, today))
		}
		if len(keys) > 0 {
			file += agefile.Suffix
		}
		ticks, stop := n.clock.Every(store.SyncEvery)
		made, err = store.Backup(ctx, n.db, file, store.BackupOptions{Recipients: keys, Ticks: ticks})
		stop()
		if err != nil {
			return made, false, err
		}
		done = true
		*list = append(*list, today)
	}
	return made, done, n.prune(days, shrunken)
}

func (n *nightly) file(day engine.Day) string {
	return filepath.Join(n.Folder, BackupName(n.db, day.String()))
}

// bothNames returns the two names that a backup may have: file if it is plain, with a suffix if it is encrypted.
func bothNames(file string) []string { return []string{file, file + agefile.Suffix} }

// Backups lists the days of the nightly backups of db in the folder, encrypted or not, earliest first, without shrunken
// ones.
func Backups(folder, db string) ([]engine.Day, error) { return backupDays(folder, db, "") }

// PlainBackups lists the days of the nightly backups that are not encrypted, without shrunken ones.
func PlainBackups(folder, db string) ([]engine.Day, error) {
	return daysOf(folder, BackupName(db, "\x00"))
}

// backupDays lists the days of the nightly backups whose names have this mark after the day.
func backupDays(folder, db, mark string) (days []engine.Day, err error) {
	for _, name := range bothNames(BackupName(db, "\x00"+mark)) {
		more, err := daysOf(folder, name)
		if err != nil {
			return nil, err
		}
		days = append(days, more...)
	}
	slices.Sort(days)
	return slices.Compact(days), nil
}

// daysOf lists the days in the names of files. In the pattern of the names, the octet 0 stands for the day.
func daysOf(folder, pattern string) ([]engine.Day, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	head, tail, _ := strings.Cut(pattern, "\x00")
	var days []engine.Day
	for _, e := range entries {
		name, ok := strings.CutPrefix(e.Name(), head)
		name, also := strings.CutSuffix(name, tail)
		day, err := engine.ParseDay(name)
		if ok && also && err == nil && day.String() == name && e.Type().IsRegular() {
			days = append(days, day)
		}
	}
	return days, nil
}

// BackupName returns the file name of a backup, such as rowbell-2026-11-25.db, or rowbell-2026-11-25.records of records
// on a server.
func BackupName(db, when string) string {
	base := store.FileBase(db)
	ext := filepath.Ext(base)
	return strings.TrimSuffix(base, ext) + "-" + when + ext
}

// backup makes the nightly backup. A failure is logged, and the next upkeep tries again.
func (s *Service) backup(ctx context.Context) {
	if s.nightly == nil {
		return
	}
	var made store.Contents
	var done bool
	zone, err := s.firstZone(ctx)
	if err == nil {
		err = s.store.CheckFile() // the backup opens the file by its path, which must not be another file
	}
	if err == nil {
		made, done, err = s.nightly.run(ctx, s.clock.Now(), zone)
	}
	if since, shrunken := s.shrunken(); shrunken {
		s.log.Error().Stringer("since", since).Msg("backup: the newest backup has fewer than half of the growers " +
			"of the last one, so none is removed; " + ShrunkenAdvice)
	}
	if done {
		s.log.Info().Str("file", filepath.Base(made.Path)).Int64("bytes", made.Size).Int64("growers", made.Growers).
			Msg("backup: the records were copied and the copy was checked")
	}
	if err != nil && ctx.Err() == nil {
		s.log.Error().Err(err).Msg("backup: the nightly backup failed; check that the folder in [backup] exists, " +
			"can be written and has room; it is tried again within the hour")
	}
}

// firstZone returns the time zone of the first place; UTC without a place.
func (s *Service) firstZone(ctx context.Context) (zone *time.Location, err error) {
	zone = time.UTC
	err = s.store.View(ctx, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(store.DefaultPlace)
		if err != nil || !ok {
			return err
		}
		zone, err = time.LoadLocation(p.Zone)
		return err
	})
	return zone, err
}
