package gateway

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"rowbell/engine"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// Bounds of what is still well.
const (
	// The records and what a backup makes of them need room to grow: 100 MB,
	// and on a small disk a twentieth of it.
	floorBytes = 100 << 20
	floorShare = 20
	// The bell looks every minute; two hours later the morning is over.
	bellBehind = 2 * time.Hour
	// Clocks are put right by seconds; what is more jumped.
	clockBehind = 5 * time.Minute
	// One night may fail, and be seen to, and fail again.
	backupOld = 3 * 24 * time.Hour
)

// checks looks at everything, each for itself.
func (g *Gateway) checks(ctx context.Context) []check {
	now := g.o.Clock.Now()
	list := []check{verdict("records", g.lookRecords(ctx, now))}
	for _, d := range g.o.Health.Disks {
		list = append(list, verdict("disk of the "+d.Name, lookDisk(d)))
	}
	list = append(list,
		verdict("bell", g.lookBell(ctx, now)),
		verdict("clock", g.lookClock(ctx, now)),
		verdict("places", g.lookPlaces(ctx)))
	if g.o.Health.Backup != nil {
		list = append(list, verdict("backup", g.lookBackup(now)))
	}
	return list
}

// verdict is a check that found this reason to complain, "" for none.
func verdict(name, reason string) check { return check{Name: name, OK: reason == "", Reason: reason} }

// lookRecords reads and writes.
func (g *Gateway) lookRecords(ctx context.Context, now time.Time) string {
	err := g.o.Store.View(ctx, func(tx *store.Tx) error {
		_, _, err := tx.PlaceByName(store.DefaultPlace)
		return err
	})
	if err != nil {
		return "they cannot be read: " + why(err)
	}
	if err := g.write(ctx, func(tx *store.Tx) error { return tx.Mark(now.Unix()) }); err != nil {
		return "they take no write: " + why(err)
	}
	return ""
}

// why is an error of the store in words that an operator can act on. They hold
// no path and nothing that a caller sent.
func why(err error) string {
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "it takes too long: the disk may be slow, or another program may hold the records"
	case errors.Is(err, store.ErrClosed):
		return "the service is stopping"
	}
	return cmp.Or(store.Trouble(err), "the log says why")
}

// Cramped reports that a file system of total bytes has too few free ones to
// go on.
func Cramped(free, total int64) bool { return free < min(floorBytes, total/floorShare) }

// lookDisk wants room. Where it cannot be told there is room enough.
func lookDisk(d meter.Disk) string {
	free, total, ok := meter.Room(d.Path)
	if !ok || !Cramped(free, total) {
		return ""
	}
	return fmt.Sprintf("%s of %s are left: make room", bytesInWords(free), bytesInWords(total))
}

func bytesInWords(n int64) string {
	switch {
	case n >= 10<<30:
		return fmt.Sprintf("%d GB", n>>30)
	case n >= 10<<20:
		return fmt.Sprintf("%d MB", n>>20)
	}
	return fmt.Sprintf("%d KB", n>>10)
}

// lookBell wants no plot to wait for long. By night none is looked at.
func (g *Gateway) lookBell(ctx context.Context, now time.Time) string {
	var behind []store.Behind
	err := g.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		behind, err = tx.Behind(now.Add(-bellBehind).Unix())
		return err
	})
	if err != nil {
		return "plots cannot be looked at: " + why(err)
	}
	late := time.Duration(0)
	for _, b := range behind {
		zone, err := time.LoadLocation(b.Zone)
		if err != nil {
			continue // the places tell
		}
		today := engine.DayOf(now, zone)
		if now.Before(today.At(b.MorningHour, zone)) || !now.Before(today.At(cmp.Or(g.o.Health.QuietHour, 20), zone)) {
			continue
		}
		// After an outage the bell has as long to catch up.
		if waits := now.Sub(time.Unix(b.Oldest, 0)); min(waits, now.Sub(g.began)) >= bellBehind {
			late = max(late, waits)
		}
	}
	if late == 0 {
		return ""
	}
	return fmt.Sprintf("a plot has waited %s to be looked at: the log says why; if it says nothing, start the service anew", hoursInWords(late))
}

func hoursInWords(d time.Duration) string {
	if d >= 48*time.Hour {
		return fmt.Sprintf("%d days", d/(24*time.Hour))
	}
	if d >= 2*time.Hour {
		return fmt.Sprintf("%d hours", d/time.Hour)
	}
	return fmt.Sprintf("%d minutes", d/time.Minute)
}

// lookClock wants the clock not to stand before what has happened.
func (g *Gateway) lookClock(ctx context.Context, now time.Time) string {
	newest := int64(0)
	err := g.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		newest, err = tx.Newest()
		return err
	})
	if err != nil {
		return "it cannot be compared with the records: " + why(err)
	}
	if back := time.Unix(newest, 0).Sub(now); back > clockBehind {
		return fmt.Sprintf("it stands %s before the newest of the records: set it; if it is right now it was ahead then, and this ends when it has caught up", hoursInWords(back))
	}
	return ""
}

// lookPlaces wants every place to be usable, with its time zone.
func (g *Gateway) lookPlaces(ctx context.Context) string {
	err := g.o.Store.View(ctx, func(tx *store.Tx) error {
		_, err := tx.Places()
		return err
	})
	if err == nil {
		return ""
	}
	if said := store.Trouble(err); said != "" || ctx.Err() != nil || errors.Is(err, store.ErrClosed) {
		return "they cannot be read: " + why(err)
	}
	return "the time zone or another value of a place cannot be used: look at [place] and [[places]]; rowbell place shows which"
}

// lookBackup wants a backup that is not old. One that is to be made first has
// as long, from the start of the service.
func (g *Gateway) lookBackup(now time.Time) string {
	newest, err := g.o.Health.Backup()
	if err != nil {
		return "the folder of the backups cannot be read: look at [backup] folder, its owner and rights"
	}
	since, said := newest, "the newest is %s old"
	if newest.IsZero() {
		since, said = g.began, "none was made in the %s since the start"
	}
	if old := now.Sub(since); old > backupOld {
		return fmt.Sprintf(said, hoursInWords(old)) + ": the log says why; rowbell backup makes one now"
	}
	return ""
}
