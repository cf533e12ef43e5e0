package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/store"
)

// backupCmd is rowbell backup. The service may be running.
type backupCmd struct {
	To      string `help:"The file that is made, or its folder (default: beside the records, with date and time in its name)." placeholder:"FILE"`
	Replace bool   `help:"Replace a backup of this name."`
	recordsFlags
	TestClock time.Time `hidden:"" help:"The instant of the backup, for tests."`
}

// Run makes the backup and says what it holds.
func (c *backupCmd) Run(w *world) error {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	db := cmp.Or(c.DB, conf.DB)
	if err := recordsExist(db); err != nil {
		return err
	}
	now := present(w, c.TestClock)
	to := cmp.Or(c.To, filepath.Dir(db))
	if info, err := os.Stat(to); err == nil && info.IsDir() {
		to = filepath.Join(to, service.BackupName(db, now.UTC().Format("2006-01-02-150405")))
	}
	made, err := store.Backup(w.ctx, db, to, c.Replace)
	if err != nil {
		return fmt.Errorf("no backup was made: %w", err)
	}
	fmt.Fprintf(w.out, "Backup: %s, %s, checked whole.\n%s.\n", to, megabytes(made.Size), holds(made))
	_, err = fmt.Fprintln(w.out, "There are phone numbers in it: keep it where nobody else can read it, and not on this disk alone.")
	return err
}

// holds says what is in a file of records.
func holds(c store.Contents) string {
	s := fmt.Sprintf("It holds %s (%d stopped) and %s", counted(c.Growers, "grower"), c.Stopped, counted(c.OpenPlots, "open plot"))
	if c.Newest > 0 {
		s += "; its newest entry is of " + stamp(c.Newest)
	}
	return s
}

// counted is a number of things, of which there may be one.
func counted[T int | int64](n T, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}

func stamp(at int64) string { return time.Unix(at, 0).UTC().Format("2006-01-02 15:04:05 UTC") }

func megabytes(n int64) string {
	if n >= 10e9 {
		return fmt.Sprintf("%.0f GB", float64(n)/1e9)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}
