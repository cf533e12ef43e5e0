package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/doctor"
	"rowbell/cmd/rowbell/plan"
	"rowbell/cmd/rowbell/service"
	"rowbell/store"
	"rowbell/store/agefile"
)

// backupCmd is rowbell backup: it copies the records to a file. The service may be running during the backup.
type backupCmd struct {
	To      string `help:"The file, or its folder (default: the folder of the records or this)." placeholder:"FILE"`
	Replace bool   `help:"Replace a backup of this name."`
	Accept  bool   `name:"accept-shrunken" help:"Make no backup: say that backups with few growers are right."`

	Recipient []string `help:"Encrypt it to this public key instead of those in [backup]." placeholder:"KEY"`
	Plain     bool     `help:"Do not encrypt it, whatever [backup] says."`
	recordsFlags
}

// Run writes the backup file and prints what the file contains.
func (c *backupCmd) Run(w *world) error {
	conf, err := c.load()
	if err != nil {
		return err
	}
	if c.Accept {
		return c.accept(w, conf)
	}
	db := conf.DB
	if err := recordsExist(w.ctx, db); err != nil {
		return err
	}
	keys, err := c.keys(conf)
	if err != nil {
		return err
	}
	to := c.To
	switch {
	case to != "":
	case store.OnServer(db):
		to = "."
	default:
		to = filepath.Dir(db)
	}
	if info, err := os.Stat(to); err == nil && info.IsDir() {
		to = filepath.Join(to, service.BackupName(db, w.now().UTC().Format(fileStamp)))
		if len(keys) > 0 {
			to += agefile.Suffix
		}
	}
	p := w.progress("copying and checking the records")
	ticks := time.NewTicker(store.SyncEvery)
	made, err := store.Backup(w.ctx, db, to, store.BackupOptions{Replace: c.Replace, Recipients: keys, Ticks: ticks.C})
	ticks.Stop()
	p.stop()
	if err != nil {
		return fmt.Errorf("no backup was made: %w", err)
	}
	fmt.Fprintf(w.out, "Backup written and checked: %s, %s.\n%s.\n", to, doctor.Megabytes(made.Size), contents(made))
	care := "There are phone numbers in it: keep it where nobody else can read it, and not only on this disk."
	if len(keys) > 0 {
		care = "It is encrypted: without the private key nobody can read or restore it. Keep it not only on this disk."
	}
	_, err = fmt.Fprintln(w.out, care)
	return err
}

// accept renames shrunken nightly backups, which then count like all others.
func (c *backupCmd) accept(w *world, conf config.Config) error {
	switch {
	case c.To != "" || c.Replace || c.Plain || len(c.Recipient) > 0:
		return &usageError{errors.New("--accept-shrunken makes no backup: leave the other flags of a backup out"),
			"rowbell backup --accept-shrunken"}
	case conf.Backup == nil:
		return errors.New("no nightly backups are made: [backup] folder is not set")
	}
	names, err := service.AcceptShrunken(conf)
	if len(names) > 0 {
		fmt.Fprintf(w.out, "Accepted: %s. Older backups are removed again, as [backup] keep says.\n",
			strings.Join(names, ", "))
	} else if err == nil {
		fmt.Fprintln(w.out, "There is no shrunken backup.")
	}
	return err
}

// keys returns the public keys to which the backup is encrypted.
func (c *backupCmd) keys(conf config.Config) ([]agefile.Recipient, error) {
	if c.Plain && len(c.Recipient) > 0 {
		return nil, &usageError{errors.New("give --recipient or --plain, not both"), "rowbell backup --help"}
	}
	if c.Plain {
		return nil, nil
	}
	if len(c.Recipient) == 0 {
		return conf.Backup.Keys()
	}
	keys, err := agefile.Recipients(c.Recipient)
	if err != nil {
		return nil, &usageError{fmt.Errorf("--recipient: %w", err), "rowbell backup --help"}
	}
	return keys, nil
}

// fileStamp is the layout of a time in the name of a backup or of a replaced database file.
const fileStamp = "2006-01-02-150405"

func contents(c store.Contents) string {
	s := fmt.Sprintf("It contains %s (%d stopped) and %s", plan.Count(c.Growers, "grower", "growers"), c.Stopped,
		plan.Count(c.OpenPlots, "open plot", "open plots"))
	if c.Newest > 0 {
		s += "; its newest entry is of " + stamp(c.Newest)
	}
	return s
}

func stamp(at int64) string { return time.Unix(at, 0).UTC().Format("2006-01-02 15:04:05 UTC") }
