package service

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// A nightly backup with fewer than half of the growers of the last one is a shrunken backup: growers may have been
// lost. Its name says so, such as rowbell-2026-11-25-shrunken.db. While the newest backup is a shrunken one, no older
// backup is removed, until AcceptShrunken gives it the name of any other backup.
const shrunkenMark = "-shrunken"

func shrunkenName(db string, day engine.Day) string { return BackupName(db, day.String()+shrunkenMark) }

// ShrunkenBackups lists the days of the shrunken backups of db in the folder, earliest first.
func ShrunkenBackups(folder, db string) ([]engine.Day, error) {
	return backupDays(folder, db, shrunkenMark)
}

// Shrunken returns the first day since which the nightly backups are shrunken ones, up to the newest. The result ok is
// false if the newest backup is not a shrunken one.
func Shrunken(folder, db string) (since engine.Day, ok bool, err error) {
	days, err := Backups(folder, db)
	if err != nil {
		return 0, false, err
	}
	shrunken, err := ShrunkenBackups(folder, db)
	since, ok = shrunkenSince(days, shrunken)
	return since, ok, err
}

func shrunkenSince(days, shrunken []engine.Day) (since engine.Day, ok bool) {
	for _, d := range shrunken {
		if len(days) == 0 || d > days[len(days)-1] {
			return d, true
		}
	}
	return 0, false
}

// shrinks reports whether a backup made now would be a shrunken one. Of the earlier backups, the newest that can be
// read counts.
func (n *nightly) shrinks(ctx context.Context, days []engine.Day) (bool, error) {
	for _, day := range slices.Backward(days) {
		for _, file := range bothNames(n.file(day)) {
			last, err := store.Describe(ctx, file)
			if err != nil {
				continue
			}
			rows, err := n.growers(ctx)
			return rows < (last.Rows+1)/2, err
		}
	}
	return false, nil
}

// prune removes old backups. Of the shrunken ones, it removes those that are older than all others, and beyond the
// number to keep.
func (n *nightly) prune(days, shrunken []engine.Day) error {
	var files []string
	if _, pending := shrunkenSince(days, shrunken); !pending {
		old := days[:max(0, len(days)-n.Nights())]
		for _, day := range old {
			files = append(files, bothNames(n.file(day))...)
		}
		days = days[len(old):]
	}
	for i, day := range shrunken {
		if i < len(shrunken)-n.Nights() || len(days) > 0 && day < days[0] {
			files = append(files, bothNames(filepath.Join(n.Folder, shrunkenName(n.db, day)))...)
		}
	}
	for _, file := range files {
		if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("an old one cannot be removed: %w", err)
		}
	}
	return nil
}

// AcceptShrunken renames the shrunken backups, so that older backups are removed again. It returns the new names.
func AcceptShrunken(c config.Config) (names []string, err error) {
	days, err := ShrunkenBackups(c.Backup.Folder, c.DB)
	if err != nil {
		return nil, err
	}
	for _, day := range days {
		accepted := bothNames(filepath.Join(c.Backup.Folder, BackupName(c.DB, day.String())))
		for i, from := range bothNames(filepath.Join(c.Backup.Folder, shrunkenName(c.DB, day))) {
			if _, err := os.Lstat(from); errors.Is(err, fs.ErrNotExist) {
				continue
			}
			to := accepted[i]
			if _, err := os.Lstat(to); err == nil {
				return names, fmt.Errorf("there is a backup %s beside %s: remove the one that is wrong", to, from)
			}
			if err := os.Rename(from, to); err != nil {
				return names, err
			}
			names = append(names, filepath.Base(to))
		}
	}
	return names, nil
}

// shrunken reports whether the newest nightly backup is a shrunken one. The folder is read each time, so that a change
// by hand counts at once. An error of the folder is reported by another check.
func (s *Service) shrunken() (since engine.Day, ok bool) {
	if s.nightly == nil {
		return 0, false
	}
	since, ok, err := Shrunken(s.nightly.Folder, s.nightly.db)
	return since, ok && err == nil
}

// ShrunkenAdvice says what an operator should do about shrunken backups.
const ShrunkenAdvice = "if growers are missing, stop the service and run rowbell restore with an older backup; " +
	"if they are right, run rowbell backup --accept-shrunken"

func (s *Service) growers(ctx context.Context) (n int64, err error) {
	err = s.store.View(ctx, func(tx *store.Tx) error {
		n, err = tx.Growers()
		return err
	})
	return n, err
}
