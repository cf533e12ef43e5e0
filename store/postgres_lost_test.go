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

// proxy passes connections on to a server until it is cut.
type proxy struct {
	net.Listener
	to    string
	mu    sync.Mutex
	conns []net.Conn
}

// behindProxy returns the address of a new database behind a proxy.
func behindProxy(t *testing.T) (*proxy, string) {
	t.Helper()
	serverOnly(t)
	u, err := url.Parse(testrun.Database(t, migrateAt))
	ok(t, err)
	p := &proxy{to: u.Host}
	p.Listener, err = net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	t.Cleanup(func() { p.Close(); p.cut() })
	go p.accept()
	u.Host = p.Addr().String()
	return p, u.String()
}

func (p *proxy) accept() {
	for {
		in, err := p.Accept()
		if err != nil {
			return
		}
		out, err := net.Dial("tcp", p.to)
		if err != nil {
			in.Close()
			continue
		}
		p.mu.Lock()
		p.conns = append(p.conns, in, out)
		p.mu.Unlock()
		go func() { _, _ = io.Copy(out, in); out.Close() }()
		go func() { _, _ = io.Copy(in, out); in.Close() }()
	}
}

// cut ends the connections that there are. New ones get through.
func (p *proxy) cut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, c := range p.conns {
		c.Close()
	}
	p.conns = nil
}

// A lost connection is a temporary error, wherever it is lost. A write that surely was not committed runs again on a
// new connection; its caller does not notice.
func TestLostConnection(t *testing.T) {
	p, address := behindProxy(t)
	s, err := Open(ctx, address, Options{})
	ok(t, err)
	t.Cleanup(func() { ok(t, s.Close()) })
	query := func(tx *Tx) error { return second(column[int64](tx, "SELECT 1", nil)) }

	unavailable := func(what string, err error) {
		t.Helper()
		errorIf(t, !Unavailable(err), "%s: %v is not temporary", what, err)
		errorIf(t, !strings.Contains(Advice(err), "cannot be reached"), "%s: %v: advice %q", what, err, Advice(err))
	}
	runs := 0
	unavailable("each run of a write", s.InTx(ctx, func(tx *Tx) error { runs++; p.cut(); return query(tx) }))
	equal(t, runs, maxRuns, "runs")
	unavailable("a view", s.View(ctx, func(tx *Tx) error { p.cut(); return query(tx) }))
	unavailable("the commit", s.InTx(ctx, func(tx *Tx) error { err := query(tx); p.cut(); return err }))

	runs = 0
	ok(t, s.InTx(ctx, func(tx *Tx) error {
		if runs++; runs == 1 {
			p.cut()
		}
		return query(tx)
	}))
	equal(t, runs, 2, "runs of a write that lost its connection once")

	var unknown *UnknownError
	err = s.InTx(ctx, func(tx *Tx) error { err := query(tx); p.cut(); return err })
	errorIf(t, !errors.As(err, &unknown), "a commit without an answer: %v", err)
	ok(t, s.View(ctx, query))
	p.cut() // while the connection is idle
	ok(t, s.View(ctx, query))
	p.cut()
	ok(t, s.InTx(ctx, query))
}
