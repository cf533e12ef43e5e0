package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // makes every run of the property tests draw the same random values
	"rowbell/store/testrun"
)

var ctx = context.Background()

// In most tests the time is noon (UTC) of the day day0.
var (
	day0 = engine.Date(2026, time.June, 1)
	noon = day0.At(12, time.UTC).Unix()
)

const (
	ana  Phone = "+447700900001"
	ben  Phone = "+447700900002"
	cleo Phone = "+447700900003"
	day        = 24 * 60 * 60 // a day in seconds
)

// tester is the set of methods that *testing.T, *testing.B and *rapid.T all have.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

func open(t testing.TB) *Store { return openNew(t, Options{}) }

// openWithPlot opens a new store in which each phone has one open plot.
func openWithPlot(t testing.TB, phones ...Phone) *Store {
	t.Helper()
	s := open(t)
	withPlot(t, s, phones...)
	return s
}

// openWithTwoPlots opens a new store in which the phone of ana has two open plots.
func openWithTwoPlots(t testing.TB) *Store {
	t.Helper()
	s := open(t)
	withTwoPlots(t, s, ana)
	return s
}

func openNew(t testing.TB, o Options) *Store {
	t.Helper()
	if testrun.OnServer() {
		return openWith(t, testrun.Database(t, migrateAt), o)
	}
	path := filepath.Join(t.TempDir(), "rowbell.db")
	file, err := migrated()
	ok(t, err)
	ok(t, os.WriteFile(path, file, 0o600))
	return openWith(t, path, o)
}

// sqliteOnly skips a test that is about files, if the tests run on a server.
func sqliteOnly(t testing.TB) {
	t.Helper()
	if testrun.OnServer() {
		t.Skip("about a file")
	}
}

// serverOnly skips a test that is about a server, if the tests run on files.
func serverOnly(t testing.TB) {
	t.Helper()
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./store")
	}
}

// migrateAt migrates an empty database on a server.
func migrateAt(address string) error {
	conf, conns, err := parseAddress(address)
	if err != nil {
		return err
	}
	db := connect(conf, conns)
	return errors.Join(migrateServer(ctx, db), db.Close())
}

// migrated returns a database file with the current schema and no rows. Most tests begin with a copy of this file,
// because the migrations take longer than most tests.
var migrated = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "rowbell-store-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "rowbell.db")
	db := openPool(path, writerDSN, hardening+"; "+writerTune, 1)
	_, err = db.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID))
	if err = errors.Join(err, migrate(ctx, db), db.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func openAt(t testing.TB, path string) *Store {
	t.Helper()
	return openWith(t, path, Options{})
}

// parallel contains the tests that openWith has already made parallel.
var parallel sync.Map

// addresses contains where each open store is: the path of its file, or its address.
var addresses sync.Map

// openWith opens a store until the end of the test. It makes the test parallel, because the tests mostly wait for the
// disk.
func openWith(t testing.TB, path string, o Options) *Store {
	t.Helper()
	if test, ok := t.(*testing.T); ok {
		if _, is := parallel.LoadOrStore(test, true); !is {
			test.Parallel()
		}
	}
	s, err := Open(ctx, path, o)
	ok(t, err)
	addresses.Store(s, path)
	t.Cleanup(func() { s.Close() })
	return s
}

// openAgain closes a store and opens its file with other options.
func openAgain(t testing.TB, s *Store, o Options) *Store {
	t.Helper()
	return openWith(t, shut(t, s), o)
}

func shut(t testing.TB, s *Store) (path string) {
	t.Helper()
	closed(t, s)
	return addressOf(s)
}

func addressOf(s *Store) string {
	place, _ := addresses.Load(s)
	return place.(string)
}

func closed(t testing.TB, c io.Closer) {
	t.Helper()
	ok(t, c.Close())
}

func intact(t testing.TB, s *Store) {
	t.Helper()
	err := s.IntegrityCheck(ctx)
	errorIf(t, err != nil, "%v", err)
}

// write runs fn in a transaction that must succeed. fn runs on the writer's goroutine, so it must call Errorf, not
// Fatalf.
func write(t tester, s *Store, fn func(*Tx) error) {
	t.Helper()
	ok(t, s.InTx(ctx, fn))
}

func view(t tester, s *Store, fn func(*Tx) error) {
	t.Helper()
	ok(t, s.View(ctx, fn))
}

// ok ends the test if err is not nil.
func ok(t tester, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func writeFile(t tester, path string, content []byte) {
	t.Helper()
	ok(t, os.WriteFile(path, content, 0o600))
}

// get returns the result of fn, which runs in a write transaction that must succeed.
func get[T any](t tester, s *Store, fn func(*Tx) (T, error)) (v T) {
	t.Helper()
	write(t, s, func(tx *Tx) (err error) { v, err = fn(tx); return err })
	return v
}

// lookUp is like get, for a function that also returns whether it found anything.
func lookUp[T any](t tester, s *Store, fn func(*Tx) (T, bool, error)) (v T, there bool) {
	t.Helper()
	write(t, s, func(tx *Tx) (err error) { v, there, err = fn(tx); return err })
	return v, there
}

func execSQL(t tester, s *Store, query string, a ...any) {
	t.Helper()
	write(t, s, func(tx *Tx) error { return second(tx.exec(query, a...)) })
}

// try runs fn in a transaction on the ledger of a phone at the instant at, and returns the error.
func try(s *Store, p Phone, at int64, fn func(*Ledger) error) error {
	return s.InTx(ctx, func(tx *Tx) error {
		l, err := tx.Ledger(p, at)
		if err != nil {
			return err
		}
		return fn(l)
	})
}

// ledger is like try, but fn must succeed.
func ledger(t tester, s *Store, p Phone, at int64, fn func(*Ledger) error) {
	t.Helper()
	ok(t, try(s, p, at, fn))
}

// read returns the result of fn on the ledger of a phone, on a connection that cannot write.
func read[T any](t tester, s *Store, p Phone, at int64, fn func(*Ledger) (T, error)) (v T) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		l, err := tx.Ledger(p, at)
		if err == nil {
			v, err = fn(l)
		}
		return err
	})
	return v
}

func season(t tester, s *Store, p Phone, no int) engine.Season {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (engine.Season, error) { return l.Season(no) })
}

func stopped(t tester, s *Store, p Phone) bool {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil })
}

// setLook sets when the bell (the reminder job) next looks at an open plot.
func setLook(t tester, s *Store, p Phone, no int, at int64) {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) error {
		id, err := l.PlotID(no)
		return errors.Join(err, l.tx.SetLook(id, at))
	})
}

// number returns the integer that a query selects.
func number(t tester, s *Store, query string, a ...any) int64 {
	t.Helper()
	var n int64
	view(t, s, func(tx *Tx) error { return second(tx.one(query, a, &n)) })
	return n
}

func wantNumber(t tester, s *Store, want int64, query string, a ...any) {
	t.Helper()
	equal(t, number(t, s, query, a...), want, "%s %v", query, a)
}

// wantRows compares numbers of rows. A key of want is a table name, with a WHERE clause if needed.
func wantRows(t tester, s *Store, want map[string]int64) {
	t.Helper()
	for table, n := range want {
		wantNumber(t, s, n, "SELECT count(*) FROM "+table)
	}
}

// The following functions return changes of a phone's records, for use in test tables.
func see(no int, x engine.Sighting) func(*Ledger) error {
	return func(l *Ledger) error { return l.See(no, x) }
}

func logPass(no int, p engine.Pass) func(*Ledger) error {
	return func(l *Ledger) error { return l.LogPass(no, p) }
}

func closePlot(no int) func(*Ledger) error { return func(l *Ledger) error { return l.ClosePlot(no) } }

func addPlot(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) }

func consent(l *Ledger) error { return l.Consent("en", "2026-1", "ussd") }

func aPlot() engine.Plot {
	return engine.Plot{Label: "by the well", Method: engine.Transplanted, Planted: day0 - 10, Puddled: day0 - 11,
		SeedlingAgeDays: 15, SeedlingsPerHill: 2, RowSpacingCM: 25, HillSpacingCM: 25.5, AreaM2: 1200.25,
		Flood: engine.FloodMoist, DurationDays: 115}
}

func aTool() engine.Tool { return engine.Tool{WidthCM: 15, MaxWidthCM: 18} }

// withPlot stores the consent of each phone and adds one open plot for each phone.
func withPlot(t tester, s *Store, phones ...Phone) {
	t.Helper()
	for _, p := range phones {
		ledger(t, s, p, noon, func(l *Ledger) error { return errors.Join(consent(l), addPlot(l)) })
	}
}

func withTwoPlots(t tester, s *Store, p Phone) {
	t.Helper()
	withPlot(t, s, p)
	ledger(t, s, p, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), engine.Tool{})) })
}

func putPlace(t tester, s *Store, p Place) (id int64) {
	t.Helper()
	return get(t, s, func(tx *Tx) (int64, error) { return tx.PutPlace(p) })
}

// anotherPlace creates a place in a time zone, and moves the growers with these phones to the new place.
func anotherPlace(t tester, s *Store, name, zone string, phones ...Phone) (id int64) {
	t.Helper()
	p := defaultPlace()
	p.Name, p.Zone = name, zone
	id = putPlace(t, s, p)
	for _, phone := range phones {
		execSQL(t, s, "UPDATE grower SET place_id = $1 WHERE phone = $2", id, phone.E164())
	}
	return id
}

func text(key string, to Phone, at int64) Message {
	return Message{Key: key, To: to, Note: "reply", Text: "hello", CreatedAt: at, DueAt: at, UsefulUntil: at + 3600}
}

// reminder returns the text m, changed to a reminder.
func reminder(m Message, kind engine.Kind, grower int64, plots ...int64) Message {
	m.Reminder, m.Note, m.GrowerID, m.PlotIDs = kind, "", grower, plots
	return m
}

// enqueue puts a new text in the outbox and returns its id. The outbox must not have a text with the same key.
func enqueue(t tester, s *Store, m Message) int64 {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		fresh, err := tx.Enqueue(m)
		errorIf(t, err == nil && !fresh, "message %s is not fresh", m.Key)
		return err
	})
	return number(t, s, "SELECT id FROM message WHERE key = $1", m.Key)
}

// local is the network "local", which claims at most n texts with a lease of one minute.
func local(n int) Claimant {
	c := network("local", "")
	c.Max = n
	return c
}

func network(name string, prefixes ...string) Claimant {
	return Claimant{Gateway: name, RoutePrefixes: prefixes, Max: 100, Lease: time.Minute}
}

// handOver claims due texts for a network, and returns their keys and the texts.
func handOver(t tester, s *Store, at int64, c Claimant) (keys []string, list []Message) {
	t.Helper()
	for ended := true; ended; {
		claims := get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(at, c) })
		list, ended = append(list, claims.Texts...), claims.Ended
	}
	for _, m := range list {
		keys = append(keys, m.Key)
	}
	return keys, list
}

func wantClaim(t tester, s *Store, at int64, c Claimant, keys ...string) {
	t.Helper()
	got, _ := handOver(t, s, at, c)
	errorIf(t, !slices.Equal(got, keys), "%s claimed %q, want %q", c.Gateway, got, keys)
}

func settle(t tester, s *Store, at int64, list ...Settlement) {
	t.Helper()
	write(t, s, func(tx *Tx) error { return tx.Settle(at, list...) })
}

func wantState(t tester, s *Store, id int64, want State) {
	t.Helper()
	wantStates(t, s, map[int64]State{id: want})
}

func wantStates(t tester, s *Store, want map[int64]State) {
	t.Helper()
	for id, state := range want {
		equal(t, stateOf(t, s, id), state, "message %d", id)
	}
}

func stateOf(t tester, s *Store, id int64) (st State) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		return second(tx.one("SELECT state FROM message WHERE id = $1", args(id), (*string)(&st)))
	})
	return st
}

// errorIf reports a formatted test error if failed is true.
func errorIf(t tester, failed bool, format string, a ...any) {
	t.Helper()
	if failed {
		t.Errorf(format, a...)
	}
}

// fatalIf is like errorIf, but also ends the test.
func fatalIf(t tester, failed bool, format string, a ...any) {
	t.Helper()
	if failed {
		t.Fatalf(format, a...)
	}
}

// equal reports an error unless got and want are deeply equal. The error begins with the formatted text.
func equal[T any](t tester, got, want T, format string, a ...any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s: got %+v, want %+v", fmt.Sprintf(format, a...), got, want)
	}
}

// wantErr reports an error unless err wraps want. The error begins with the formatted text.
func wantErr(t tester, err, want error, format string, a ...any) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("%s: error %v, want %v", fmt.Sprintf(format, a...), err, want)
	}
}

// SetLook sets when the bell (the reminder job) next looks at a plot.
func (tx *Tx) SetLook(plotID, at int64) error {
	return second(tx.WriteRounds(0, []Round{{Looks: []NextLook{{plotID, at}}}}))
}

// Supersede withdraws the waiting texts about a plot as WriteRounds does.
func (tx *Tx) Supersede(plotID, now int64, zone *time.Location, again int64) error {
	var to Phone
	const query = "SELECT phone FROM grower WHERE id = (SELECT grower_id FROM plot WHERE id = $1)"
	_, err := tx.one(query, args(plotID), &to)
	w := roundWriter{tx: tx, now: now,
		superseded: []superseded{{plotID, to, &Round{Zone: zone, Morning: again}, false}}}
	return errors.Join(err, w.supersede())
}

// Tell records that a plot's grower was reminded, and reports whether the reminder was not yet recorded for that day or
// a later one.
func (tx *Tx) Tell(plotID int64, told engine.Told) (fresh bool, err error) {
	const query = "SELECT coalesce(sum(t.day), 0), count(*) FROM told t"
	var was, is [2]int64
	_, err = tx.one(query, nil, &was[0], &was[1])
	w := roundWriter{tx: tx}
	w.addRound(&Round{Texts: []RoundText{{News: []News{{PlotID: plotID, Told: told}}}}})
	err = errors.Join(err, w.told.write(tx, sqlTell))
	_, err2 := tx.one(query, nil, &is[0], &is[1])
	return was != is, errors.Join(err, err2)
}
