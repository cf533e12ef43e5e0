package main

import (
	"errors"
	"fmt"
)

// backupConfig is [backup]: a copy of the records every night.
type backupConfig struct {
	Folder string `toml:"folder"` // must be there: a disk that is not mounted is not written over
	Keep   *int   `toml:"keep"`   // nights
	Hour   *int   `toml:"hour"`   // in the default place's time zone
}

const (
	defaultBackupKeep = 7
	defaultBackupHour = 3
)

func (c *backupConfig) keep() int { return or(c.Keep, defaultBackupKeep) }
func (c *backupConfig) hour() int { return or(c.Hour, defaultBackupHour) }

func (c *backupConfig) validate() error {
	switch {
	case c == nil:
		return nil
	case c.Folder == "":
		return errors.New("backup.folder: say where the backups go")
	case c.keep() < 1 || c.keep() > 1000:
		return fmt.Errorf("backup.keep: %d is not a number of nights from 1 to 1000", c.keep())
	case c.hour() < 0 || c.hour() > 23:
		return fmt.Errorf("backup.hour: %d is not an hour from 0 to 23", c.hour())
	}
	return nil
}
