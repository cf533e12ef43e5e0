package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/gateway"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// records looks at the database file, and at what it says of the service, if
// this program may read it as it is.
func (c *checkup) records() {
	const area = "records"
	info, err := os.Stat(c.conf.DB)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		c.note(area, "Nothing, if the service has not run yet; else give the right file with --db.", "there is no %s: rowbell serve makes it", c.conf.DB)
		return
	case err != nil:
		c.wrong(area, "Check who may read the file.", "%v", err)
		return
	}
	held, err := store.Inspect(c.ctx, c.conf.DB)
	if err != nil {
		c.wrong(area, "Stop the service, and put a backup back with rowbell restore.", "%v", err)
		return
	}
	c.well(area, "%s: %d growers, %d open plots, %s, whole", c.conf.DB, held.Growers, held.OpenPlots, megabytes(held.Size))
	if info.Mode().Perm()&0o077 != 0 {
		c.wrong(area, "chmod 600 "+c.conf.DB, "others than its owner may read %s, which holds phone numbers", c.conf.DB)
	}
	if wal, err := os.Stat(c.conf.DB + "-wal"); err == nil && wal.Size() > max(held.Size, 256<<20) {
		c.note(area, "Look whether some program has it open for long; the service empties it hourly.", "its log has grown to %s", megabytes(wal.Size()))
	}
	if newest := time.Unix(held.Newest, 0); newest.After(c.now.Add(5 * time.Minute)) {
		c.wrong("clock", "Set the clock of this machine right before the service runs on.", "it is behind the records, which were last written on %s", stamp(held.Newest))
	}
	if held.Schema != store.Schema() {
		c.note(area, "Nothing: rowbell serve brings them up to date. Make a backup before.", "they are of an older version of this program")
		return
	}
	if err := c.outbox(); err != nil {
		c.wrong(area, "Look at the log of the service.", "%v", err)
	}
}

// outbox looks at what waits to be sent and at what holds it.
func (c *checkup) outbox() (err error) {
	const area = "sending"
	s, err := openRecords(c.ctx, c.conf.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	return s.View(c.ctx, func(tx *store.Tx) error {
		hold, held, err := tx.SendingHeld()
		if err != nil {
			return err
		}
		if held {
			c.note(area, "rowbell sending go lets them out.", "an operator holds all texts since %s: %s", stamp(hold.Since), hold.Why)
		}
		waiting, err := tx.Waiting(c.now.Unix())
		if err != nil {
			return err
		}
		for _, q := range waiting {
			age := c.now.Sub(time.Unix(q.Oldest, 0)).Round(time.Minute)
			switch {
			case q.What == "due" && age > time.Hour && !held:
				c.wrong(area, "See that the service runs, and in its log why texts do not go out.", "due and waiting: %s, the first for %s", counted(q.Texts, "text"), age)
			case q.What == "held":
				c.note(area, "rowbell sending shows what was spent; raise the limit if that is right.", "%d texts are held by a limit", q.Texts)
			}
		}
		stats, err := tx.Stats(c.now.Add(-2 * time.Hour).Unix())
		if err == nil && stats.DuePlots > 0 && c.now.Hour() >= 9 { // what is due by night waits for the morning
			c.note("bell", "See that the service runs.", "%d plots should have been looked at two hours ago", stats.DuePlots)
		}
		return err
	})
}

// disk looks at the room there is, by the same measure as /readyz.
func (c *checkup) disk() {
	const area = "disk"
	look := func(what, folder string) {
		if err := config.CheckFolder(folder); err != nil {
			c.wrong(area, "Make the folder, or correct its name.", "%s: %v", what, err)
			return
		}
		switch free, total, ok := meter.DiskSpace(folder); {
		case !ok:
			c.note(area, "Watch it by other means.", "how much room there is for the %s cannot be told here", what)
		case gateway.LowOnSpace(free, total):
			c.wrong(area, "Make room.", "%s are free for the %s: too little to go on", megabytes(free), what)
		default:
			c.well(area, "%s free for the %s", megabytes(free), what)
		}
	}
	look("records", filepath.Dir(c.conf.DB))
	if c.conf.Backup == nil {
		c.note("backup", "Set [backup] folder, on another disk.", "no nightly backup is made")
		return
	}
	look("backups", c.conf.Backup.Folder)
	days, err := service.Backups(c.conf)
	switch {
	case err != nil:
		c.wrong("backup", "Make the folder, or correct its name.", "%v", err)
	case len(days) == 0:
		c.note("backup", "Wait for the night, or make one now with rowbell backup.", "there is no backup in %s yet", c.conf.Backup.Folder)
	default:
		newest := days[len(days)-1]
		if age := c.now.Sub(newest.At(0, time.UTC)); age > 72*time.Hour {
			c.wrong("backup", "Look in the log of the service why none is made.", "the newest backup is of %s", newest)
			return
		}
		c.well("backup", "%d kept, the newest of %s", len(days), newest)
	}
}

// clock looks at whether this machine's clock is kept right.
func (c *checkup) clock() {
	const area = "clock"
	now := c.now.Format("2 Jan 2006 15:04:05 UTC")
	if clockUnset() {
		c.note(area, "Run a time service, such as chrony or systemd-timesyncd.", "it is %s; nothing on this machine keeps it right", now)
		return
	}
	c.well(area, "it is %s", now)
}

// kept looks at for how long what is over is kept.
func (c *checkup) kept() {
	var list []string
	for _, k := range c.conf.Keep.Retention().Kinds() {
		switch {
		case k.Name != "" && k.Days == 0:
			c.note("keeping", "Set keep."+k.Name+", if the law here asks for an end.", "%s are kept for ever", k.What)
		case k.Name != "":
			list = append(list, fmt.Sprintf("%s %d", k.Name, k.Days))
		}
	}
	c.well("keeping", "%s", strings.Join(list, ", "))
}
