package doctor

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/gateway"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// checkRecords reports whether the database is undamaged and readable by its owner only. If its schema is that of this
// program, checkRecords also reports the texts that wait.
func (c *checkup) checkRecords() {
	const area = "records"
	db := c.conf.DB
	if store.OnServer(db) {
		c.checkServer()
		return
	}
	info, err := os.Stat(db)
	switch {
	case errors.Is(err, fs.ErrNotExist), err == nil && store.Empty(info):
		if c.vanished(store.Contents{}) {
			return
		}
		c.note(area, "Nothing, if the service has not run yet; else give the right file with --db.",
			"there is no %s: rowbell serve makes it", db)
		return
	case err != nil:
		c.wrong(area, "Check who may read the file.", "%v", err)
		return
	case info.IsDir():
		c.wrong(area, "Give the path of the file with --db.", "%s is a directory", db)
		return
	}
	found, err := store.Examine(c.ctx, db)
	if err != nil {
		var refused *store.OpenError // whose advice is about a backup
		if errors.As(err, &refused) {
			err = fmt.Errorf("%s: %w", refused.Path, refused.Err)
		}
		c.wrong(area, "Stop the service, and put a backup back with rowbell restore.", "%v", err)
		return
	}
	c.vanished(found)
	c.ok(area, "%s: %d growers, %d open plots, %s, whole", db, found.Growers, found.OpenPlots, Megabytes(found.Size))
	if info.Mode().Perm()&0o077 != 0 {
		c.wrong(area, "chmod 600 "+db, "others than its owner may read %s, which holds phone numbers", db)
	}
	if wal, err := os.Stat(db + "-wal"); err == nil && wal.Size() > max(found.Size, 256<<20) {
		c.note(area, "Look whether some program has it open for long; the service empties it hourly.",
			"its write-ahead log has grown to %s", Megabytes(wal.Size()))
	}
	if found.Free > max(found.Size/2, 10e6) {
		c.note(area, "rowbell compact, if the disk needs the room.",
			"%s of the file hold no records any more", Megabytes(found.Free))
	}
	if newest := time.Unix(found.Newest, 0); newest.After(c.now.Add(5 * time.Minute)) {
		c.wrong("clock", "Set the clock of this machine right before the service runs on.",
			"it is behind the records, which were last written on %s", utc(found.Newest))
	}
	if c.outdated = found.Schema != store.Schema(); c.outdated {
		c.note(area, "Nothing: rowbell serve brings them up to date. Make a backup before.",
			"they are of an older version of this program")
		return
	}
	var refused *store.OpenError
	switch err := c.checkSending(); {
	case errors.As(err, &refused):
		c.wrong(area, refused.Try+".", "%s: %v", refused.Path, refused.Err)
	case err != nil:
		c.wrong(area, "Look at the log of the service.", "%v", err)
	}
}

// checkServer reports whether the records on a server can be used, and the texts that wait.
func (c *checkup) checkServer() {
	const area = "records"
	err := c.checkSending()
	var e *store.OpenError
	switch {
	case errors.Is(err, store.ErrNoRecords):
		c.note(area, "Nothing, if the service has not run yet; else give the right address with --db.",
			"there are none at %s: rowbell serve makes them", store.DisplayName(c.conf.DB))
	case errors.As(err, &e):
		c.wrong(area, e.Try+".", "%s: %v", e.Path, e.Err)
	case err != nil:
		c.wrong(area, "Look at the log of the service.", "%v", err)
	default:
		c.ok(area, "%s answers", store.DisplayName(c.conf.DB))
	}
}

// vanished reports that there are no growers although something says that there were some, and returns whether that is
// so.
func (c *checkup) vanished(found store.Contents) bool {
	err := store.Vanished(c.ctx, c.conf.DB, found, service.AllBackups(c.conf))
	var e *store.OpenError
	if errors.As(err, &e) {
		c.wrong("records", e.Try+".", "%v", e.Err)
	}
	return err != nil
}

// checkSending reports an operator hold, texts and plots that are late, and texts that a limit defers.
func (c *checkup) checkSending() (err error) {
	const area = "sending"
	s, err := store.Open(c.ctx, c.conf.DB, store.Options{ReadConns: 1, Existing: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	hold, on, undecided := store.SendingHold{}, false, int64(0)
	err = s.View(c.ctx, func(tx *store.Tx) error {
		if hold, on, err = tx.SendingHeld(); err == nil {
			undecided, err = tx.UndecidedCount(c.now.Unix())
		}
		return err
	})
	if err != nil {
		return err
	}
	if on {
		c.note(area, "rowbell sending go lets them out.",
			"an operator holds all texts since %s: %s", utc(hold.Since), hold.Why)
	}
	if undecided > 0 {
		c.note(area, "rowbell sending unknown shows them, sends them again or leaves them.",
			"texts that a network may have taken and did not say: %d", undecided)
	}
	waits, err := s.CountWaits(c.ctx, c.now.Unix())
	if err != nil {
		return err
	}
	for _, q := range waits.Texts {
		age := c.now.Sub(time.Unix(q.Oldest, 0)).Round(time.Minute)
		switch {
		case q.What == "due" && age > time.Hour && !on:
			c.wrong(area, "See that the service runs, and in its log why texts do not go out.",
				"texts that are due: %d, the first for %s", q.Texts, age)
		case q.What == "held":
			c.note(area, "rowbell sending shows what was spent; raise the limit if that is right.",
				"texts that are deferred by a limit: %d", q.Texts)
		}
	}
	late, err := s.CountDuePlots(c.ctx, c.now.Add(-2*time.Hour).Unix())
	// Plots that became due in the night are planned in the morning, so none is reported before 9:00 UTC.
	if err == nil && late > 0 && c.now.Hour() >= 9 {
		c.note("bell", "See that the service runs.", "%d plots should have been planned two hours ago", late)
	}
	return err
}

// checkDisk reports the free disk space for the records and the backups, and whether /readyz counts it as too little.
func (c *checkup) checkDisk() {
	const area = "disk"
	check := func(what, folder string) {
		if err := config.CheckFolder(folder); err != nil {
			c.wrong(area, "Make the folder, or correct its name.", "%s: %v", what, err)
			return
		}
		switch free, total, ok := meter.DiskSpace(folder); {
		case !ok:
			c.note(area, "Watch it by other means.", "the free space for the %s is not known on this system", what)
		case gateway.LowOnSpace(free, total):
			c.wrong(area, "Make room.", "%s are free for the %s: too little to go on", Megabytes(free), what)
		default:
			c.ok(area, "%s free for the %s", Megabytes(free), what)
		}
	}
	if !store.OnServer(c.conf.DB) {
		check("records", filepath.Dir(c.conf.DB))
	}
	if c.conf.Backup != nil {
		check("backups", c.conf.Backup.Folder)
	}
}

// checkBackups reports how many nightly backups there are, and whether the newest is more than three days old.
func (c *checkup) checkBackups() {
	const area = "backup"
	if c.conf.Backup == nil {
		c.note(area, "Set [backup] folder, on another disk.", "no nightly backup is made")
		return
	}
	days, err := service.Backups(c.conf.Backup.Folder, c.conf.DB)
	switch {
	case err != nil:
		c.wrong(area, "Make the folder, or correct its name.", "%v", err)
		return
	case len(days) == 0:
		c.note(area, "Wait for the night, or make one now with rowbell backup.",
			"there is no backup in %s yet", c.conf.Backup.Folder)
		return
	}
	if since, ok, err := service.Shrunken(c.conf.Backup.Folder, c.conf.DB); err == nil && ok {
		c.wrong(area, "Look first: "+service.ShrunkenAdvice+".", "since %s the nightly backups have fewer than "+
			"half of the growers of the one before, and none is removed", since)
		return
	}
	newest := days[len(days)-1]
	if c.now.Sub(newest.At(0, time.UTC)) > 72*time.Hour {
		c.wrong(area, "Look in the log of the service why none is made.", "the newest backup is of %s", newest)
		return
	}
	c.ok(area, "%d retained, the newest of %s", len(days), newest)
	if len(c.conf.Backup.Recipients) == 0 {
		return
	}
	if plain, err := service.PlainBackups(c.conf.Backup.Folder, c.conf.DB); err == nil && len(plain) > 0 {
		c.note(area, "Delete them when an encrypted one was restored once.",
			"%d backups of the time before [backup] recipients are not encrypted", len(plain))
	}
}

func utc(at int64) string { return time.Unix(at, 0).UTC().Format("2006-01-02 15:04:05 UTC") }

// Megabytes formats a size in bytes in MB, or from 10 GB on in GB.
func Megabytes(n int64) string {
	if n >= 10e9 {
		return fmt.Sprintf("%.0f GB", float64(n)/1e9)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}
