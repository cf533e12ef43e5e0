package store

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"rowbell/engine"
)

// noon of day0 in UTC is the instant at which most tests happen.
var (
	day0 = engine.Date(2026, time.June, 1)
	noon = day0.At(12, time.UTC).Unix()
)

const (
	ana Phone = "+447700900001"
	ben Phone = "+447700900002"
)

func open(t testing.TB) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "rowbell.db"))
}

func openAt(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(context.Background(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// write runs fn in a transaction that must succeed. fn runs on the writer's
// goroutine: it reports with Errorf, not Fatalf.
func write(t testing.TB, s *Store, fn func(*Tx) error) {
	t.Helper()
	if err := s.InTx(context.Background(), fn); err != nil {
		t.Fatal(err)
	}
}

// keep runs fn on the ledger of a phone at an instant.
func keep(t testing.TB, s *Store, p Phone, at int64, fn func(*Ledger) error) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		l, err := tx.Ledger(p, at)
		if err != nil {
			return err
		}
		return fn(l)
	})
}

// read returns what fn finds in the ledger of a phone, on a reading connection.
func read[T any](t testing.TB, s *Store, p Phone, at int64, fn func(*Ledger) (T, error)) T {
	t.Helper()
	var v T
	err := s.View(context.Background(), func(tx *Tx) error {
		l, err := tx.Ledger(p, at)
		if err == nil {
			v, err = fn(l)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// number reads one integer with a query.
func number(t testing.TB, s *Store, query string, a ...any) int64 {
	t.Helper()
	var n int64
	err := s.View(context.Background(), func(tx *Tx) error {
		_, err := tx.one(query, a, &n)
		return err
	})
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return n
}

func consent(l *Ledger) error { return l.Consent("en", "2026-1", "ussd") }

func aPlot() engine.Plot {
	return engine.Plot{Label: "by the well", Method: engine.Transplanted, Planted: day0 - 10, Puddled: day0 - 11,
		SeedlingAgeDays: 15, SeedlingsPerHill: 2, RowSpacingCM: 25, HillSpacingCM: 25.5, AreaM2: 1200.25,
		Flood: engine.FloodMoist, DurationDays: 115}
}

func aTool() engine.Tool { return engine.Tool{WidthCM: 15, MaxWidthCM: 18} }

// withPlot gives a phone consent and one open plot.
func withPlot(t testing.TB, s *Store, p Phone) {
	t.Helper()
	keep(t, s, p, noon, func(l *Ledger) error {
		if err := consent(l); err != nil {
			return err
		}
		_, err := l.AddPlot(aPlot(), aTool())
		return err
	})
}

func text(key string, to Phone, at int64) Message {
	return Message{Key: key, To: to, Note: "reply", Text: "hello", CreatedAt: at, DueAt: at, UsefulUntil: at + 3600}
}

// local is the network called local, which takes up to n texts of any number
// for a minute.
func local(n int) Claimant {
	return Claimant{Gateway: "local", RoutePrefixes: []string{""}, Max: n, Lease: time.Minute}
}

// enqueue queues a message that must be fresh, and returns its id.
func enqueue(t testing.TB, s *Store, m Message) int64 {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		fresh, err := tx.Enqueue(m)
		if err == nil && !fresh {
			t.Errorf("message %s is not fresh", m.Key)
		}
		return err
	})
	return number(t, s, "SELECT id FROM message WHERE key = $1", m.Key)
}

func stateOf(t testing.TB, s *Store, id int64) State {
	t.Helper()
	var st string
	err := s.View(context.Background(), func(tx *Tx) error {
		_, err := tx.one("SELECT state FROM message WHERE id = $1", args(id), &st)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return State(st)
}
