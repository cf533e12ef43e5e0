package gateway_test

import (
	"errors"
	"io"
	"net"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// wire is a listener of in-memory connections, because the fake time of synctest works with them but not with
// real connections.
type wire struct {
	conns chan net.Conn
	done  chan struct{}
}

func (w *wire) Accept() (net.Conn, error) {
	select {
	case c := <-w.conns:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wire) Close() error   { close(w.done); return nil }
func (w *wire) Addr() net.Addr { return &net.TCPAddr{} }

// dribble sends one byte of s each second until the server closes the connection. It returns what the server
// sent, and after how many seconds the server closed the connection.
func dribble(t *testing.T, conn net.Conn, s string) (said string, seconds int) {
	t.Helper()
	var heard strings.Builder
	b := make([]byte, 4096)
	for began := time.Now(); ; {
		if s != "" {
			// The error is ignored here, because Read reports it if the server has closed the connection.
			_ = conn.SetWriteDeadline(time.Now().Add(time.Second))
			if _, err := conn.Write([]byte(s[:1])); err == nil {
				s = s[1:]
			}
		}
		_ = conn.SetReadDeadline(time.Now().Add(time.Second))
		n, err := conn.Read(b)
		heard.Write(b[:n])
		switch {
		case errors.Is(err, io.EOF) || errors.Is(err, io.ErrClosedPipe):
			return heard.String(), int(time.Since(began) / time.Second)
		case err != nil && !errors.Is(err, os.ErrDeadlineExceeded):
			t.Fatal(err)
		case time.Since(began) > 5*time.Minute:
			t.Fatalf("the connection is still open; the server sent %q", heard.String())
		}
	}
}

// The server's timeouts disconnect a slow caller, whichever part of a request is slow.
func TestSlowCallers(t *testing.T) {
	const start = "POST /in/local/ussd HTTP/1.1\r\nHost: x\r\n"
	const head = start + "Authorization: Bearer " + token + "\r\nContent-Type: application/json\r\n"
	const slow = "HTTP/1.1 408 Request Timeout"
	for _, tt := range []struct {
		name         string
		whole, drops string // whole is sent at once, then drops is sent one byte a second
		said         string
		// most is the longest time in seconds: the server's timeout, and one second more because bytes are sent
		// once a second.
		most int
	}{
		{"says nothing", "", "", "", 7},
		{"a slow request line", "", "POST /in/local/ussd HTTP/1.1\r\n", "HTTP/1.1 400 Bad Request", 7},
		{"a slow header", start, "X-Slow: " + strings.Repeat("x", 99), "HTTP/1.1 400 Bad Request", 7},
		{"a slow body", head + "Content-Length: 200\r\n\r\n", strings.Repeat("x", 200), slow, 12},
		{"slow chunks", head + "Transfer-Encoding: chunked\r\n\r\n", strings.Repeat("1\r\nx\r\n", 50), slow, 12},
		{"nothing after a request", "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n", "", "HTTP/1.1 200 OK", 62},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				h := open(t)
				w := &wire{make(chan net.Conn), make(chan struct{})}
				serve(t, h.g, w)
				mine, theirs := net.Pipe()
				w.conns <- theirs
				if _, err := io.WriteString(mine, tt.whole); err != nil {
					t.Fatal(err)
				}
				said, seconds := dribble(t, mine, tt.drops)
				status, _, _ := strings.Cut(said, "\r\n")
				if status != tt.said || seconds > tt.most {
					t.Errorf("%q after %d s; want %q within %d s", status, seconds, tt.said, tt.most)
				}
				h.steps()
				mine.Close()
			})
		})
	}
}
