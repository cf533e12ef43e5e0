package config

import (
	"rowbell/gateway/fault"
	"rowbell/store"
	"rowbell/store/agefile"
)

// Keep has the fields of store.Retention: for how many days data of each kind is stored after its end.
type Keep struct {
	Callbacks  int `toml:"callbacks_days"`
	LooseTexts int `toml:"loose_texts_days"`
	Texts      int `toml:"texts_days"`
	Seasons    int `toml:"seasons_days"`
	Growers    int `toml:"growers_days"`
}

// Retention converts the retention periods to the type of package store.
func (c Keep) Retention() store.Retention { return store.Retention(c) }

func (c *Keep) check() error {
	var l fault.List
	for _, wrong := range c.Retention().Validate() {
		l.Refuse(true, wrong.Name, "%s", wrong.What)
	}
	return l.Err()
}

// Backup are the settings of the nightly backup.
type Backup struct {
	// The folder must exist: a missing folder may mean that the backup disk is not mounted. Nil in the other fields
	// means the default.
	Folder string `toml:"folder"`
	Keep   *int   `toml:"keep"`
	Hour   *int   `toml:"hour"`
	// Recipients are public keys. With any, backups are encrypted to all of them.
	Recipients []string `toml:"recipients"`
}

const (
	defaultBackupNights = 7
	defaultBackupHour   = 3
)

// Nights returns how many nightly backups are retained.
func (c *Backup) Nights() int { return valueOr(c.Keep, defaultBackupNights) }

// DueHour returns the hour, in the time zone of the first place, from which the backup of a day is made.
func (c *Backup) DueHour() int { return valueOr(c.Hour, defaultBackupHour) }

// Keys returns the public keys to which backups are encrypted, none for backups that are not encrypted.
func (c *Backup) Keys() ([]agefile.Recipient, error) {
	if c == nil {
		return nil, nil
	}
	return agefile.Recipients(c.Recipients)
}

func (c *Backup) check() error {
	if c == nil {
		return nil
	}
	var l fault.List
	l.Refuse(c.Folder == "", "folder", "say where the backups go")
	l.Refuse(c.Nights() < 1 || c.Nights() > 1000, "keep", "%d is not a number of nights from 1 to 1000", c.Nights())
	l.Refuse(c.DueHour() < 0 || c.DueHour() > 23, "hour", "%d is not an hour from 0 to 23", c.DueHour())
	_, err := c.Keys()
	l.Add("recipients", err)
	return l.Err()
}
