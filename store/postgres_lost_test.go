package store

import (
	"errors"
	"io"
	"net"
	"net/url"
	"strings"
	"sync"
	"testing"

	"rowbell/store/testrun"
)

// wire passes connections on to a server until it is cut.
type wire struct {
	net.Listener
	to    string
	mu    sync.Mutex
	conns []net.Conn
}

// wired returns the address of a new database behind a wire.
func wired(t *testing.T) (*wire, string) {
	t.Helper()
	serverOnly(t)
	u, err := url.Parse(testrun.Database(t, migrateAt))
	ok(t, err)
	w := &wire{to: u.Host}
	w.Listener, err = net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	t.Cleanup(func() { w.Close(); w.cut() })
	go w.accept()
	u.Host = w.Addr().String()
	return w, u.String()
}

func (w *wire) accept() {
	for {
		in, err := w.Accept()
		if err != nil {
			return
		}
		out, err := net.Dial("tcp", w.to)
		if err != nil {
			in.Close()
			continue
		}
		w.mu.Lock()
		w.conns = append(w.conns, in, out)
		w.mu.Unlock()
		go func() { _, _ = io.Copy(out, in); out.Close() }()
		go func() { _, _ = io.Copy(in, out); in.Close() }()
	}
}

// cut ends the connections that there are. New ones get through.
func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.conns {
		c.Close()
	}
	w.conns = nil
}

// A connection that is lost is a fault that passes, at whatever point it is lost. A write that surely was not committed
// begins again on a new connection, without its caller.
func TestLostConnection(t *testing.T) {
	w, address := wired(t)
	s, err := Open(ctx, address, Options{})
	ok(t, err)
	t.Cleanup(func() { ok(t, s.Close()) })
	query := func(tx *Tx) error { return second(column[int64](tx, "SELECT 1", nil)) }

	unavailable := func(what string, err error) {
		t.Helper()
		errorIf(t, !Unavailable(err), "%s: %v is no fault that passes", what, err)
		errorIf(t, !strings.Contains(Advice(err), "cannot be reached"), "%s: %v: advice %q", what, err, Advice(err))
	}
	runs := 0
	unavailable("each run of a write", s.InTx(ctx, func(tx *Tx) error { runs++; w.cut(); return query(tx) }))
	equal(t, runs, maxRuns, "runs")
	unavailable("a view", s.View(ctx, func(tx *Tx) error { w.cut(); return query(tx) }))
	unavailable("the commit", s.InTx(ctx, func(tx *Tx) error { err := query(tx); w.cut(); return err }))

	runs = 0
	ok(t, s.InTx(ctx, func(tx *Tx) error {
		if runs++; runs == 1 {
			w.cut()
		}
		return query(tx)
	}))
	equal(t, runs, 2, "runs of a write that lost its connection once")

	var unknown *UnknownError
	err = s.InTx(ctx, func(tx *Tx) error { err := query(tx); w.cut(); return err })
	errorIf(t, !errors.As(err, &unknown), "a commit without an answer: %v", err)
	ok(t, s.View(ctx, query))
}
