package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// nightly makes a backup a day, named by the day, and removes those that are
// older than the newest few. nil makes none.
type nightly struct {
	config.Backup
	db string

	mu     sync.Mutex
	newest time.Time
	err    error
}

func newNightly(c config.Config) *nightly {
	if c.Backup == nil {
		return nil
	}
	return &nightly{Backup: *c.Backup, db: c.DB}
}

// state is when the newest backup was made, zero if there is none, and why the
// last try failed, nil if it did not. After a restart the instant is the hour
// at which that day's was due.
func (n *nightly) state() (newest time.Time, err error) {
	if n == nil {
		return time.Time{}, nil
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.newest, n.err
}

// run makes the day's backup if its hour has come and there is none yet. It is
// false where nothing was to do.
func (n *nightly) run(ctx context.Context, now time.Time, zone *time.Location) (made store.Contents, done bool, err error) {
	defer func() {
		n.mu.Lock()
		defer n.mu.Unlock()
		if n.err = err; done {
			n.newest = now
		}
	}()
	if info, err := os.Stat(n.Folder); err != nil {
		return made, false, err
	} else if !info.IsDir() {
		return made, false, fmt.Errorf("%s is not a folder", n.Folder)
	}
	days, err := n.days()
	if err != nil {
		return made, false, err
	}
	today := engine.DayOf(now, zone)
	// One of a day to come was made when the clock was ahead: it must not push
	// out those of the days that are.
	days = slices.DeleteFunc(days, func(d engine.Day) bool { return d > today })
	n.mu.Lock()
	if n.newest.After(now) {
		n.newest = time.Time{}
	}
	if len(days) > 0 && n.newest.IsZero() {
		n.newest = days[len(days)-1].At(n.DueHour(), zone)
	}
	n.mu.Unlock()
	if !slices.Contains(days, today) {
		if now.Before(today.At(n.DueHour(), zone)) {
			return made, false, nil
		}
		if made, err = store.Backup(ctx, n.db, n.file(today), false); err != nil {
			return made, false, err
		}
		done = true
		days = append(days, today)
		slices.Sort(days)
	}
	for _, day := range days[:max(0, len(days)-n.Nights())] {
		if err := os.Remove(n.file(day)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return made, done, fmt.Errorf("an old one cannot be removed: %w", err)
		}
	}
	return made, done, nil
}

func (n *nightly) file(day engine.Day) string {
	return filepath.Join(n.Folder, backupName(n.db, day.String()))
}

// days are those of which there is a backup, in order.
func (n *nightly) days() ([]engine.Day, error) {
	entries, err := os.ReadDir(n.Folder)
	if err != nil {
		return nil, err
	}
	head, tail, _ := strings.Cut(backupName(n.db, "\x00"), "\x00")
	var days []engine.Day
	for _, e := range entries {
		name, ok := strings.CutPrefix(e.Name(), head)
		name, also := strings.CutSuffix(name, tail)
		day, err := engine.ParseDay(name)
		if ok && also && err == nil && day.String() == name && e.Type().IsRegular() {
			days = append(days, day)
		}
	}
	slices.Sort(days)
	return days, nil
}

// backupName is what a backup of the records is called: rowbell-2026-11-25.db.
func backupName(db, when string) string {
	base := filepath.Base(db)
	ext := filepath.Ext(base)
	return strings.TrimSuffix(base, ext) + "-" + when + ext
}

// backup makes the night's backup. A try that failed is made again an hour
// later: nothing else depends on it.
func (s *service) backup(ctx context.Context) {
	if s.nightly == nil {
		return
	}
	zone := time.UTC
	err := s.store.View(ctx, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(store.DefaultPlace)
		if err != nil || !ok {
			return err
		}
		zone, err = time.LoadLocation(p.Zone)
		return err
	})
	var made store.Contents
	var done bool
	if err == nil {
		made, done, err = s.nightly.run(ctx, s.clock.Now(), zone)
	}
	if done {
		s.log.Info().Str("file", filepath.Base(made.Path)).Int64("bytes", made.Size).Int64("growers", made.Growers).Msg("backup: the records were copied and the copy checked")
	}
	if err != nil && ctx.Err() == nil {
		s.log.Error().Err(err).Msg("backup: the night's backup is not as it should be; see that the folder in [backup] is there, can be written and has room; it is tried again within the hour")
	}
}
