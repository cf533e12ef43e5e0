package gateway_test

import (
	"bytes"
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
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// hostile is one thing that somebody may send, as it goes over the wire, and
// what comes back. Where it is refused the records must be as they were.
type hostile struct {
	name   string
	raw    string
	status int    // of the first answer; 0: the connection is closed without one
	says   string // in its body
	same   bool   // the records stay as they were although it is taken
}

// fort is the whole service behind a real connection: real menu, real records.
type fort struct {
	*testing.T
	h    *house
	path string
	db   *sql.DB
	addr string
	n    int

	begun bool // the grower has dialled
}

func openFort(t *testing.T, change ...func(*gateway.Options)) *fort {
	t.Helper()
	f := &fort{T: t, path: filepath.Join(t.TempDir(), "rowbell.db")}
	s, err := store.Open(t.Context(), f.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	if cat, err = cat.Only("en"); err != nil {
		t.Fatal(err)
	}
	m, err := menu.New(cat, menu.Options{DialCode: "*123#"})
	if err != nil {
		t.Fatal(err)
	}
	local := profile.Default("local")
	local.Token = profile.HashToken(token)
	local.CountryCode = "44"
	other := profile.Default("other")
	other.Token = profile.HashToken("other-token")
	f.h = &house{t: t, store: s, clock: clock.New(morning), log: new(bytes.Buffer)}
	o := gateway.Options{
		Store: s, Menu: m, Clock: f.h.clock, Log: zerolog.New(zerolog.SyncWriter(f.h.log)), Networks: []profile.Profile{local, other},
		Health: gateway.Health{QuietHour: 20},
	}
	for _, c := range change {
		c(&o)
	}
	if f.h.g, err = gateway.New(o); err != nil {
		t.Fatal(err)
	}
	if f.db, err = sql.Open("sqlite3", "file:"+f.path+"?mode=ro"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.db.Close() })
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	f.addr = l.Addr().String()
	server := gateway.NewServer("", f.h.g)
	over := make(chan error)
	go func() { over <- server.Serve(l) }()
	t.Cleanup(func() {
		if err := server.Close(); err != nil {
			t.Error(err)
		}
		if err := <-over; !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	})
	return f
}

// records is a sum of all that is kept, table by table.
func (f *fort) records() string {
	f.Helper()
	query := func(q string, row func(*sql.Rows)) {
		rows, err := f.db.QueryContext(f.Context(), q)
		if err != nil {
			f.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			row(rows)
		}
		if err := rows.Err(); err != nil {
			f.Fatal(err)
		}
	}
	var tables []string
	query(`SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name`, func(r *sql.Rows) {
		var name string
		if err := r.Scan(&name); err != nil {
			f.Fatal(err)
		}
		tables = append(tables, name)
	})
	sum := sha256.New()
	for _, name := range tables {
		query(`SELECT * FROM `+name, func(r *sql.Rows) {
			columns, err := r.Columns()
			if err != nil {
				f.Fatal(err)
			}
			values, at := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				at[i] = &values[i]
			}
			if err := r.Scan(at...); err != nil {
				f.Fatal(err)
			}
			fmt.Fprintln(sum, name, values)
		})
	}
	return fmt.Sprint(len(tables), " tables ", hex.EncodeToString(sum.Sum(nil)))
}

var statusLine = regexp.MustCompile(`(?m)^HTTP/1\.[01] ([0-9]{3}) `)

// send writes raw and reads until the server hangs up; it returns how often
// the server answered, the first status and all that it said.
func (f *fort) send(raw string) (answers, status int, said string) {
	f.Helper()
	conn, err := net.Dial("tcp", f.addr)
	if err != nil {
		f.Fatal(err)
	}
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

// ordinary wants the service healthy and an ordinary grower's call to work.
func (f *fort) ordinary() {
	f.Helper()
	f.n++
	for _, path := range []string{"/healthz", "/readyz"} {
		w := httptest.NewRecorder()
		if f.h.g.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil)); w.Code != 200 {
			f.Fatalf("%s: %d %s", path, w.Code, w.Body)
		}
	}
	said := f.ussd("+447700900199", fmt.Sprint("ordinary ", f.n), "")
	if !strings.HasPrefix(said, "rowbell texts you when to weed") {
		f.Fatalf("an ordinary call: %q", said)
	}
}

// ussd dials with an empty entry and else answers the screen; it returns the
// next one.
func (f *fort) ussd(phone, session, entry string) string {
	f.Helper()
	c := m{"phone": phone, "session": session, "event": "entry", "entry": entry}
	if entry == "" {
		c = m{"phone": phone, "session": session, "event": "begin", "dialled": "*123#"}
	}
	w := f.h.post("/in/local/ussd", c)
	var screen struct{ Text string }
	if err := json.Unmarshal(w.Body.Bytes(), &screen); err != nil || w.Code != 200 {
		f.Fatalf("%v: %d %s", c, w.Code, w.Body)
	}
	return screen.Text
}

// besiege sends each row, and looks after each that nothing is broken.
func (f *fort) besiege(rows []hostile) {
	whole := f.T
	seen := map[string]bool{}
	for _, row := range rows {
		if seen[row.name] {
			f.Errorf("two rows are called %q", row.name)
		}
		seen[row.name] = true
		f.Run(row.name, func(t *testing.T) {
			f.T, f.h.t = t, t
			before := f.records()
			answers, status, said := f.send(row.raw)
			if status != row.status || !strings.Contains(said, row.says) || answers > 1 || (answers == 1) != (row.status != 0) {
				t.Errorf("%d answers, %d, want %d with %q:\n%s", answers, status, row.status, row.says, said)
			}
			if (row.same || status >= 400) && f.records() != before {
				t.Error("the records have changed")
			}
			f.ordinary()
		})
		f.T, f.h.t = whole, whole
	}
}

// with is a request with the token and these header lines; its length is told
// and its connection closes after it.
func with(method, path string, lines []string, body string) string {
	all := slices.Concat([]string{
		method + " " + path + " HTTP/1.1", "Host: rowbell.example", "Authorization: Bearer " + token, "Connection: close",
		fmt.Sprintf("Content-Length: %d", len(body)),
	}, lines)
	return strings.Join(all, "\r\n") + "\r\n\r\n" + body
}

const typeJSON = "Content-Type: application/json"

// says is a call in JSON; asks is one in a form.
func says(path, body string, lines ...string) string {
	return with("POST", path, append(lines, typeJSON), body)
}

func asks(path, body string) string {
	return with("POST", path, []string{"Content-Type: application/x-www-form-urlencoded"}, body)
}

// encode is a value in JSON.
func encode(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}
