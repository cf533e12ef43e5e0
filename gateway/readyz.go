package gateway

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/gateway/meter"
	"rowbell/store"
)

// Health configures what /readyz checks besides the database. Only QuietHour must be set.
type Health struct {
	Disks     []meter.Disk // file systems that need free space
	QuietHour int          // local hour at which quiet hours begin; the bell need not run in quiet hours
	// Backup returns when the newest backup was made; the zero time = never. If Backup is nil, no backups are
	// configured.
	Backup func() (time.Time, error)
	// Notes returns sentences for the operator, without a number, text or path, such as that texts are deferred. They
	// do not make the service unready. Notes may be nil.
	Notes func() []string
}

// check is the result of one check.
type check struct {
	Name   string `json:"name"`
	OK     bool   `json:"ok"`
	Reason string `json:"reason,omitempty"` // what is wrong, and what to do
}

// readiness is the response of /readyz. Anybody may read it, so it contains nothing about growers.
type readiness struct {
	Ready  bool     `json:"ready"`
	Checks []check  `json:"checks"`
	Notes  []string `json:"notes,omitempty"`
}

// text formats the readiness as lines: first the verdict, then a line for each check and a line for each note.
func (r readiness) text() []byte {
	var b bytes.Buffer
	b.WriteString(map[bool]string{true: "ready\n", false: "not ready\n"}[r.Ready])
	for _, c := range r.Checks {
		result := "ok"
		if !c.OK {
			result = c.Reason
		}
		fmt.Fprintf(&b, "%s: %s\n", c.Name, result)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	return b.Bytes()
}

// healthy serves /healthz, which answers 200 as long as the process can answer.
func (g *Gateway) healthy(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n"))
}

// ready serves /readyz: status 200 if callbacks can be handled, else 503. The body has the result of each check, as
// JSON if the caller accepts JSON, otherwise as text.
func (g *Gateway) ready(w http.ResponseWriter, r *http.Request) {
	// Callers that ask at the same time share one run of the checks, because each run writes to the disk.
	result := g.readyChecks.DoChan("", func() (any, error) {
		return g.runChecks(context.WithoutCancel(r.Context())), nil
	})
	var found readiness
	select {
	case run := <-result:
		found = run.Val.(readiness)
	case <-r.Context().Done(): // the caller has disconnected
		return
	}
	contentType, body := "text/plain; charset=utf-8", found.text()
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		contentType = "application/json"
		var err error
		if body, err = json.Marshal(found); err != nil {
			panic("gateway: " + err.Error()) // strings and booleans always encode
		}
	}
	w.Header().Set("Content-Type", contentType)
	if !found.Ready {
		setRetryAfter(w, 10*time.Second)
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	_, _ = w.Write(body)
}

// runChecks runs all checks. The checks must end within the deadline of a callback.
func (g *Gateway) runChecks(ctx context.Context) (found readiness) {
	ctx, cancel := context.WithTimeout(ctx, Deadline)
	defer cancel()
	defer func() { // singleflight runs the checks on another goroutine, where a panic would end the process
		if v := recover(); v != nil {
			logPanic(g.o.Log.Error().Str("route", "/readyz"), v, debug.Stack())
			found = readiness{Checks: []check{newCheck("program", "something is broken here: the log says where")}}
		}
	}()
	found = readiness{Ready: true, Checks: g.checks(ctx)}
	for _, c := range found.Checks {
		found.Ready = found.Ready && c.OK
	}
	if g.o.Health.Notes != nil {
		found.Notes = g.o.Health.Notes()
	}
	return found
}

// A check fails if its value is beyond the bound listed here.
const (
	// The records and their backups need free space to grow: 100 MB, or a twentieth of the file system's size if that
	// is less.
	minFreeBytes = 100 << 20
	minFreeShare = 20
	// The bell (the reminder loop) looks for due plots every minute. If a plot that is due has waited for two hours in
	// the daytime, the bell is taken to be stuck.
	maxBellLag = 2 * time.Hour
	// A time server corrects a clock by seconds, so a larger step of the clock is a mistake.
	maxClockStep = 5 * time.Minute
	// A backup is made each night. The check allows two failures in a row, so that the operator has time to correct the
	// cause of the first.
	maxBackupAge = 3 * 24 * time.Hour
)

// checks runs all checks. A check that fails does not stop the others.
func (g *Gateway) checks(ctx context.Context) []check {
	now := g.o.Clock.Now()
	list := []check{newCheck("records", g.checkRecords(ctx, now))}
	for _, d := range g.o.Health.Disks {
		list = append(list, newCheck("disk of the "+d.Name, checkDisk(d)))
	}
	list = append(list,
		newCheck("bell", g.checkBell(ctx, now)),
		newCheck("clock", g.checkClock(ctx, now)),
		newCheck("places", g.checkPlaces(ctx)))
	if g.o.Health.Backup != nil {
		list = append(list, newCheck("backup", g.checkBackup(now)))
	}
	return list
}

// newCheck returns the result of a check. reason says why the check failed; "" = the check passed.
func newCheck(name, reason string) check { return check{Name: name, OK: reason == "", Reason: reason} }

// checkRecords tests whether the records can be read and written.
func (g *Gateway) checkRecords(ctx context.Context, now time.Time) string {
	err := g.o.Store.View(ctx, func(tx *store.Tx) error {
		_, _, err := tx.PlaceByName(store.DefaultPlace)
		return err
	})
	if err != nil {
		return "they cannot be read: " + reasonOf(err)
	}
	if err := g.write(ctx, func(tx *store.Tx) error { return tx.MarkWritable(now.Unix()) }); err != nil {
		return "they cannot be written: " + reasonOf(err)
	}
	return ""
}

// reasonOf describes an error of the store and what to do, without a path or anything that a caller sent.
func reasonOf(err error) string {
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "it takes too long: the disk or the server may be slow, or another program may lock the records"
	case errors.Is(err, store.ErrClosed):
		return "the service is stopping"
	}
	return cmp.Or(store.Advice(err), "the log says why")
}

// LowOnSpace reports whether a file system of total bytes has too few free bytes for the records to grow.
func LowOnSpace(free, total int64) bool { return free < min(minFreeBytes, total/minFreeShare) }

// checkDisk fails if the file system has too little free space. If the free space is unknown, checkDisk passes.
func checkDisk(d meter.Disk) string {
	free, total, ok := meter.DiskSpace(d.Path)
	if !ok || !LowOnSpace(free, total) {
		return ""
	}
	return fmt.Sprintf("%s of %s are free: make room", formatBytes(free), formatBytes(total))
}

func formatBytes(n int64) string {
	switch {
	case n >= 10<<30:
		return fmt.Sprintf("%d GB", n>>30)
	case n >= 10<<20:
		return fmt.Sprintf("%d MB", n>>20)
	}
	return fmt.Sprintf("%d KB", n>>10)
}

// checkBell fails if a plot that is due has waited for the bell (the reminder loop) for maxBellLag and it is day at the
// plot's place; at night the bell writes no texts there. In the first maxBellLag after the service started the check
// passes, because the bell first has to handle the plots that were due before.
func (g *Gateway) checkBell(ctx context.Context, now time.Time) string {
	var behind []store.OverduePlace
	err := g.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		behind, err = tx.OverduePlaces(now.Add(-maxBellLag).Unix())
		return err
	})
	if err != nil {
		return "the plots that are due cannot be read: " + reasonOf(err)
	}
	longest := time.Duration(0)
	for _, b := range behind {
		zone, err := time.LoadLocation(b.Zone)
		if err != nil {
			continue // checkPlaces reports the unknown time zone
		}
		today := engine.DayOf(now, zone)
		night := today.At(g.o.Health.QuietHour, zone)
		if now.Before(today.At(b.MorningHour, zone)) || !now.Before(night) {
			continue
		}
		if waits := now.Sub(time.Unix(b.Oldest, 0)); min(waits, now.Sub(g.began)) >= maxBellLag {
			longest = max(longest, waits)
		}
	}
	if longest == 0 {
		return ""
	}
	return fmt.Sprintf("a plot that is due has waited %s for the bell: the log says why; "+
		"if it says nothing, restart the service", formatHours(longest))
}

func formatHours(d time.Duration) string {
	if d >= 48*time.Hour {
		return fmt.Sprintf("%d days", d/(24*time.Hour))
	}
	if d >= 2*time.Hour {
		return fmt.Sprintf("%d hours", d/time.Hour)
	}
	return fmt.Sprintf("%d minutes", d/time.Minute)
}

// checkClock fails if the clock is more than maxClockStep behind the newest instant in the records.
func (g *Gateway) checkClock(ctx context.Context, now time.Time) string {
	newest := int64(0)
	err := g.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		newest, err = tx.Newest()
		return err
	})
	if err != nil {
		return "it cannot be compared with the records: " + reasonOf(err)
	}
	if back := time.Unix(newest, 0).Sub(now); back > maxClockStep {
		return fmt.Sprintf("it is %s behind the newest entry of the records: set it; if it is right now, "+
			"it was ahead before, and this check passes when it has caught up", formatHours(back))
	}
	return ""
}

// checkPlaces fails if a place has a value that this machine cannot use, such as an unknown time zone.
func (g *Gateway) checkPlaces(ctx context.Context) string {
	err := g.o.Store.View(ctx, func(tx *store.Tx) error {
		_, err := tx.Places()
		return err
	})
	if err == nil {
		return ""
	}
	if store.Advice(err) != "" || ctx.Err() != nil || errors.Is(err, store.ErrClosed) {
		return "they cannot be read: " + reasonOf(err)
	}
	return "the time zone or another value of a place cannot be used: " +
		"look at [place] and [[places]]; rowbell place shows which"
}

// checkBackup fails if the newest backup is older than maxBackupAge. If there is no backup, it fails when the service
// has run for longer than maxBackupAge.
func (g *Gateway) checkBackup(now time.Time) string {
	newest, err := g.o.Health.Backup()
	if err != nil {
		return "the folder of the backups cannot be read: look at [backup] folder, its owner and rights"
	}
	since, format := newest, "the newest is %s old"
	if newest.IsZero() {
		since, format = g.began, "none was made in the %s since the start"
	}
	if age := now.Sub(since); age > maxBackupAge {
		return fmt.Sprintf(format, formatHours(age)) + ": the log says why; rowbell backup makes one now"
	}
	return ""
}
