// Package manygrowers fills a new database file with invented growers, from a thousand to a million, for benchmarks and
// tests. It writes what years of use leave behind: plots with passes, sightings and told reminders, ended texts,
// replies to callbacks, sessions that are over, places with weather.
//
//	path, err := manygrowers.File(ctx, folder, 1_000_000, day)
//
// It writes plain SQL for SQLite, because a million growers would take half an hour through a Ledger. What it writes
// must pass every check of the store and be readable by a Ledger: its test holds that. Only tests import this package.
package manygrowers

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	_ "github.com/mattn/go-sqlite3" // the driver "sqlite3"

	"rowbell/engine"
	"rowbell/store"
)

const (
	// OtherPlaces is the number of places other than the default place, at which half of the growers are.
	OtherPlaces = 31
	// TextsEach is the number of texts to each grower.
	TextsEach = 6
	// hour is the hour (UTC) of the instant of the records: at all places it is between morning and quiet hours.
	hour = 8
	// weatherDays is for how many days before the instant of the records the weather was measured.
	weatherDays = 400
	// form counts the changes of what File writes, so that a file of an older form is not used.
	form = 3
)

// At returns the instant of the records of a day, in Unix seconds. The clock of a service on them begins then.
func At(day engine.Day) int64 { return int64(day)*24*60*60 + hour*60*60 }

// Phone returns the number of the i-th grower, who has the id i+1. More growers than the thousand numbers that are
// reserved for fiction need numbers with too many digits to belong to anybody.
func Phone(i int) store.Phone { return store.Phone(fmt.Sprintf("%s%06d", phones, i)) }

var phones = fmt.Sprintf("+44%d", 7700900)

// Calls reports whether the i-th grower may call in a benchmark. A hundredth of the growers were not heard of for so
// long that upkeep erases them a year later.
func Calls(i int) bool { return i%100 != 99 }

// Groups is the number of groups of plots that MakeDue makes due. Each has a tenth of the growers.
const Groups = 2

// File returns a file in the folder with the records of so many growers, and makes it if it is not there. The file must
// not be opened as a store, but copied.
func File(ctx context.Context, folder string, growers int, day engine.Day) (string, error) {
	path := filepath.Join(folder, fmt.Sprintf("growers-%d-%s-schema%d-form%d.db", growers, day, store.Schema(), form))
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	part := path + ".part"
	if err := errors.Join(remove(part), Fill(ctx, part, growers, day)); err != nil {
		return "", errors.Join(err, remove(part))
	}
	return path, errors.Join(os.Rename(part, path), remove(part))
}

func remove(path string) error {
	for _, suffix := range []string{"", "-wal", "-shm", "-lock"} {
		if err := os.Remove(path + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// Fill makes the file at path, which must not exist, and fills it. Afterwards it has no write-ahead log.
func Fill(ctx context.Context, path string, growers int, day engine.Day) error {
	s, err := store.Open(ctx, path, store.Options{ReadConns: 1})
	if err != nil {
		return err
	}
	err = s.InTx(ctx, func(tx *store.Tx) error { return putPlaces(tx, day) })
	if err = errors.Join(err, s.Close()); err != nil {
		return err
	}
	// Nobody else knows the file, and a broken one is thrown away: no journal is needed.
	db, err := sql.Open("sqlite3", "file:"+path+"?_journal_mode=OFF&_synchronous=OFF&_cache_size=-256000")
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	return fill(ctx, db, growers, day)
}

// putPlaces adds the other places, and measured weather at every second place.
func putPlaces(tx *store.Tx, day engine.Day) error {
	zones := []string{"Asia/Kolkata", "Asia/Manila", "Africa/Nairobi", "Asia/Dhaka"}
	first, _, err := tx.PlaceByName(store.DefaultPlace)
	if err != nil {
		return err
	}
	ids := []int64{first.ID}
	for i := range OtherPlaces {
		p := first
		p.Name, p.Zone = fmt.Sprintf("Valley %d", i+1), zones[i%len(zones)]
		p.Latitude += float64(i%7) - 3
		for m := range p.Normals {
			p.Normals[m].MinC += float64(i%5)/2 - 1
			p.Normals[m].MaxC += float64(i%5)/2 - 1
		}
		id, err := tx.PutPlace(p)
		if err != nil {
			return err
		}
		ids = append(ids, id)
	}
	for i := 0; i < len(ids); i += 2 {
		if err := tx.PutWeather(ids[i], weather(day, float64(i%5)), At(day)); err != nil {
			return err
		}
	}
	return nil
}

func weather(day engine.Day, warmer float64) []store.WeatherDay {
	var list []store.WeatherDay
	for d := day - weatherDays; d < day; d++ {
		wave := math.Sin(2 * math.Pi * float64(d) / 11)
		m := engine.Measured{MinC: 23 + wave, MaxC: 31 + wave + warmer/2, RainMM: math.Max(0, 12*wave)}
		list = append(list, store.WeatherDay{On: d, Measured: m})
	}
	return list
}

// fill runs the statements in one transaction.
func fill(ctx context.Context, db *sql.DB, growers int, day engine.Day) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	for i, query := range statements {
		_, err := tx.ExecContext(ctx, query, sql.Named("growers", growers), sql.Named("phones", phones),
			sql.Named("at", At(day)), sql.Named("today", int64(day)), sql.Named("due", dueAge),
			sql.Named("other", OtherPlaces), sql.Named("texts", TextsEach),
			sql.Named("version", store.ConsentVersion("en", consentWords)), sql.Named("words", consentWords))
		if err != nil {
			return fmt.Errorf("manygrowers: statement %d: %w", i+1, err)
		}
	}
	return tx.Commit()
}

// MakeDue makes the plots of a group due at an instant, at most limit of them, in the file at path, which a service may
// use meanwhile. About each of these plots there is a text to write. It returns how many there are.
func MakeDue(ctx context.Context, path string, group, limit int, at int64) (plots int64, err error) {
	return change(ctx, path, `UPDATE plot SET look_at = $1 WHERE id IN (SELECT p.id FROM plot p
		WHERE `+ofMakeDue+` AND p.id % 10 = $2 AND p.look_at IS NOT NULL LIMIT $3)`, at, 1+group*10/Groups, limit)
}

// Unlearn makes the weed rate of the default place slow, so that it moves when the place learns again: most sightings
// of the records are of fast weeds.
func Unlearn(ctx context.Context, path string) error {
	_, err := change(ctx, path, `UPDATE place SET weed_rate = 0.9, learned_n = 0 WHERE id = 1`)
	return err
}

// change runs a statement in the file at path, which a service may use meanwhile. It returns how many rows changed.
func change(ctx context.Context, path, query string, args ...any) (rows int64, err error) {
	db, err := sql.Open("sqlite3", "file:"+path+"?_busy_timeout=10000&_txlock=immediate")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	r, err := db.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// CopyFile copies a file and waits until the copy is on the disk.
func CopyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
