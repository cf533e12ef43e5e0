package gateway_test

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/menu"
)

// hostile is a request as sent on the wire, and what must come back: the status of
// the only response and, after a space, a part of it. A refused request must leave
// the records unchanged; so must one that wants "same" before the status.
type hostile struct{ name, raw, want string }

// wireFixture is the gateway behind a TCP listener, with the real menu and real records.
type wireFixture struct {
	*testing.T
	h    *fixture
	db   *sql.DB
	addr string
	n    int // ordinary calls so far
}

func openWire(t *testing.T, change ...func(*gateway.Options)) *wireFixture {
	t.Helper()
	twoNetworks := func(o *gateway.Options) {
		other := profile.Default("other")
		other.Token = profile.HashToken("other-token")
		o.Menu, o.Networks = realMenu(t, menu.Options{DialCode: "*123#"}, "en"), append(o.Networks, other)
	}
	f := &wireFixture{T: t, h: open(t, append([]func(*gateway.Options){twoNetworks}, change...)...)}
	f.db = must(sql.Open("sqlite3", "file:"+f.h.db+"?mode=ro"))
	t.Cleanup(func() { f.db.Close() })
	l := must(net.Listen("tcp", "127.0.0.1:0"))
	f.addr = l.Addr().String()
	serve(t, f.h.g, l)
	return f
}

// serve runs the gateway's server on a listener until the test ends.
func serve(t *testing.T, h http.Handler, l net.Listener) {
	server := gateway.NewServer("", h)
	over := make(chan error)
	go func() { over <- server.Serve(l) }()
	t.Cleanup(func() {
		if err := errors.Join(server.Close(), <-over); !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	})
}

// records is a hash of all rows of all tables.
func (f *wireFixture) records() string {
	f.Helper()
	sum := sha256.New()
	for _, table := range f.rows(`SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name`) {
		fmt.Fprintln(sum, table[0], f.rows(`SELECT * FROM `+fmt.Sprint(table[0])))
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// rows returns all rows of a query.
func (f *wireFixture) rows(query string) (all [][]any) {
	f.Helper()
	rows := must(f.db.QueryContext(f.Context(), query))
	defer rows.Close()
	for rows.Next() {
		values := make([]any, len(must(rows.Columns())))
		to := make([]any, len(values))
		for i := range values {
			to[i] = &values[i]
		}
		ok(f, rows.Scan(to...))
		all = append(all, values)
	}
	ok(f, rows.Err())
	return all
}

var statusLine = regexp.MustCompile(`(?m)^HTTP/1\.[01] ([0-9]{3}) `)

// send writes raw and reads until the server closes the connection. It returns the
// number of responses, the first status, and all that was read.
func (f *wireFixture) send(raw string) (answers, status int, said string) {
	f.Helper()
	conn := must(net.Dial("tcp", f.addr))
	defer conn.Close()
	go io.WriteString(conn, raw) // the server may stop listening before the end
	b, err := io.ReadAll(conn)
	if err != nil && !errors.Is(err, syscall.ECONNRESET) {
		f.Fatal(err)
	}
	said = string(b)
	found := statusLine.FindAllStringSubmatch(said, -1)
	if len(found) > 0 {
		fmt.Sscan(found[0][1], &status)
	}
	return len(found), status, said
}

// ordinaryCall checks that the service is healthy and that another grower's call works.
func (f *wireFixture) ordinaryCall() {
	f.Helper()
	f.n++
	for _, path := range []string{"/healthz", "/readyz"} {
		w := httptest.NewRecorder()
		if f.h.g.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil)); w.Code != 200 {
			f.Fatalf("%s: %d %s", path, w.Code, w.Body)
		}
	}
	other := &handset{h: f.h, phone: "+447700900199", session: fmt.Sprint("ordinary ", f.n)}
	if said := other.dial(); !strings.HasPrefix(said, "rowbell texts you when to weed") {
		f.Fatalf("an ordinary call: %q", said)
	}
}

// sendEach sends each request on its own connection, and checks after each that an ordinary call works.
func (f *wireFixture) sendEach(rows []hostile) {
	whole := f.T
	seen := map[string]bool{}
	for _, row := range rows {
		if seen[row.name] {
			f.Errorf("two rows are called %q", row.name)
		}
		seen[row.name] = true
		want, unchanged := strings.CutPrefix(row.want, "same ")
		code, says, _ := strings.Cut(want, " ")
		f.Run(row.name, func(t *testing.T) {
			f.T, f.h.t = t, t
			before := f.records()
			answers, status, said := f.send(row.raw)
			if answers != 1 || fmt.Sprint(status) != code || !strings.Contains(said, says) {
				t.Errorf("%d answers, %d, want %s with %q:\n%s", answers, status, code, says, said)
			}
			if (unchanged || status >= 400) && f.records() != before {
				t.Error("the records have changed")
			}
			f.ordinaryCall()
		})
		f.T, f.h.t = whole, whole
	}
}

// with is a raw request with the token, a Content-Length, Connection: close, and these header lines.
func with(method, path string, lines []string, body string) string {
	all := slices.Concat([]string{
		method + " " + path + " HTTP/1.1", "Host: rowbell.example", "Authorization: Bearer " + token,
		"Connection: close",
		fmt.Sprintf("Content-Length: %d", len(body)),
	}, lines)
	return strings.Join(all, "\r\n") + "\r\n\r\n" + body
}

const typeJSON = "Content-Type: application/json"

// bare is with without a token.
func bare(method, path string, lines []string, body string) string {
	return swap(with(method, path, lines, body), "Authorization: Bearer "+token+"\r\n", "")
}

// says is a call in JSON; asks is one in a form.
func says(path, body string, lines ...string) string {
	return with("POST", path, append(lines, typeJSON), body)
}

func asks(path, body string) string {
	return with("POST", path, []string{"Content-Type: application/x-www-form-urlencoded"}, body)
}

// encode formats a value as JSON.
func encode(v any) string {
	return string(must(json.Marshal(v)))
}

// swap replaces the first old in s by new.
func swap(s, old, new string) string { return strings.Replace(s, old, new, 1) }
