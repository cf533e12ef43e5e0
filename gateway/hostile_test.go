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
	"rowbell/store/testrun"
)

// hostile is a request as sent on the wire (raw) and the expected response (want): the status and, after a space, a
// part of the response. A refused request must leave the records unchanged. If want begins with "same", the request is
// accepted and must leave the records unchanged too.
type hostile struct{ name, raw, want string }

// wireFixture is the gateway behind a TCP listener, with the real menu and real records.
type wireFixture struct {
	*testing.T
	h    *fixture
	db   *sql.DB
	addr string
	n    int // number of ordinary calls so far
}

func openWire(t *testing.T, change ...func(*gateway.Options)) *wireFixture {
	t.Helper()
	twoNetworks := func(o *gateway.Options) {
		other := profile.Default("other")
		other.Token = profile.HashToken("other-token")
		o.Menu, o.Networks = realMenu(t, menu.Options{DialCode: "*123#"}, "en"), append(o.Networks, other)
	}
	f := &wireFixture{T: t, h: open(t, append([]func(*gateway.Options){twoNetworks}, change...)...)}
	f.db = f.h.database()
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

// records returns a hash of all rows of all tables, but for early receipts: a receipt about no text that is known waits
// there for its text, for an hour.
func (f *wireFixture) records() string {
	f.Helper()
	sum := sha256.New()
	tables := `SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name`
	if testrun.OnServer() {
		tables = `SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'
			ORDER BY relname`
	}
	for _, table := range f.rows(tables) {
		if fmt.Sprint(table[0]) == "early_receipt" {
			continue
		}
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

// send sends raw and reads until the server closes the connection. It returns the number of responses, the
// first status, and all that was read.
func (f *wireFixture) send(raw string) (answers, status int, said string) {
	f.Helper()
	conn := must(net.Dial("tcp", f.addr))
	defer conn.Close()
	// The error is ignored, because the server may close the connection before it has read everything.
	go io.WriteString(conn, raw)
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

// ordinaryCall checks that the service is healthy and that a call of another grower is answered.
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

// sendEach sends each request on a connection of its own, and checks the response and the records. After each request
// an ordinary call must be answered.
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

// with returns a raw request with the token, a Content-Length, the header Connection: close, and these header lines.
func with(method, path string, lines []string, body string) string {
	all := slices.Concat([]string{
		method + " " + path + " HTTP/1.1", "Host: rowbell.example", "Authorization: Bearer " + token,
		"Connection: close",
		fmt.Sprintf("Content-Length: %d", len(body)),
	}, lines)
	return strings.Join(all, "\r\n") + "\r\n\r\n" + body
}

const typeJSON = "Content-Type: application/json"

// bare returns a raw request like that of with, but without the token.
func bare(method, path string, lines []string, body string) string {
	return swap(with(method, path, lines, body), "Authorization: Bearer "+token+"\r\n", "")
}

// says returns a raw POST of a JSON body. asks returns a raw POST of a form.
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

// swap replaces the first occurrence of old in s by new.
func swap(s, old, new string) string { return strings.Replace(s, old, new, 1) }

// These requests are malformed HTTP, or their callers are not authenticated. Where a row's name has a number such as
// 9112, 6.3, it cites the section of RFC 9110 (HTTP semantics) or RFC 9112 (HTTP/1.1) that the row checks.
//
//revive:disable-next-line:function-length the rows of one table
func TestHostileRequests(t *testing.T) {
	t.Parallel()
	body := encode(call(m{"event": "begin"}))
	const ussd, bearer = "/in/local/ussd", "Authorization: Bearer " + token
	const first, chunked = "POST " + ussd + " HTTP/1.1", "Transfer-Encoding: chunked"
	const shut, coding = "Connection: close", "Content-Encoding: "
	line := func(lines ...string) string { return strings.Join(lines, "\r\n") + "\r\n\r\n" }
	length := fmt.Sprintf("Content-Length: %d", len(body))
	// The bytes of second follow a request. If the server read them as a second request, the text smuggled would be in
	// the records.
	smuggled := encode(m{"id": "smuggled", "phone": "+447700900111", "text": "menu"})
	second := says("/in/local/sms", smuggled)
	post := func(lines ...string) string {
		return line(slices.Concat([]string{first, "Host: x", bearer, typeJSON}, lines)...)
	}
	bareLF := func(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }
	chunk := func(s string) string { return fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(s), s) }
	f := openWire(t)
	f.sendEach([]hostile{
		// In these requests it is unclear where one request ends and the next begins. The server and a proxy might
		// disagree, so the server must never read a second request from the same bytes.
		{"length and chunks, chunks shorter (9112, 6.3)",
			line("POST /in/nobody/sms HTTP/1.1", "Host: x", bearer, typeJSON,
				fmt.Sprintf("Content-Length: %d", len(second)+5), chunked) +
				"0\r\n\r\n" + second, "404 No network"},
		{"length and chunks, length shorter", line("POST /in/nobody/sms HTTP/1.1", "Host: x", bearer, typeJSON,
			"Content-Length: 4", chunked) + chunk(second), "404 No network"},
		{"two lengths", post("Content-Length: 0", length) + body, "400"},
		{"two lengths in one line", post("Content-Length: 0, 5") + body, "400"},
		{"a length with a plus", post("Content-Length: +5") + body, "400"},
		{"a length below 0", post("Content-Length: -5") + body, "400"},
		{"a length past all bounds", post("Content-Length: 99999999999999999999") + body, "400"},
		{"a huge length", post("Content-Length: 99999999999", "Connection: close") + body, "413 64 KiB"},
		{"chunks twice", post(chunked, chunked) + chunk(body), "501"},
		{"chunks by another name", post("Transfer-Encoding: xchunked") + chunk(body), "501"},
		{"chunks and another coding", post("Transfer-Encoding: gzip, chunked") + chunk(body), "501"},
		{"chunks after a tab", post("Transfer-Encoding:\x0bchunked") + chunk(body), "400"},
		{"a chunk of no size", post(chunked) + "zz\r\n" + body + "\r\n0\r\n\r\n", "400 broke off"},
		{"a chunk past all bounds", post(chunked) + "fffffffffffffffff\r\n" + body, "400 broke off"},
		{"chunks without end", post(chunked) + strings.Repeat("1\r\n \r\n", 330_000), "413 64 KiB"},
		{"a chunk that never ends", post(chunked) + "5;" + strings.Repeat("x", 90_000) + "\r\n", "400 broke off"},
		{"space before the colon (9112, 5.1)", post("Content-Length : 5") + body, "400"},
		{"a folded line (9112, 5.2)", post(length, "X-Long: a", " b: c", "Connection: close") + body, "200 more"},
		{"a first header that is folded", line(first, " Host: x", bearer) + body, "400"},
		{"bare line feeds (9112, 2.2)", bareLF(post(length, shut)) + body, "200 more"},
		{"a bare carriage return in a header", post("X-A: a\rContent-Length: 0", length) + body, "400"},
		{"NUL in a header", post("X-A: a\x00b", length) + body, "400"},
		{"a header without a name", line(first, "Host: x", bearer, ": x", length) + body, "400"},
		{"no host (9112, 3.2)", line(first, bearer, typeJSON, length) + body, "400"},
		{"two hosts", line(first, "Host: x", "Host: y", bearer, typeJSON, length) + body, "400"},
		{"a body that is shorter than it says",
			line("POST /in/local/ussd HTTP/1.0", bearer, typeJSON, "Content-Length: 5") + body,
			"400 not a JSON object"},
		{"HTTP/1.0", line("POST /in/local/ussd HTTP/1.0", bearer, typeJSON, length) + body, "200 more"},
		{"HTTP/0.9", "GET /healthz\r\n\r\n", "400"},
		{"HTTP/3.0", line("GET /healthz HTTP/3.0", "Host: x"), "505"},
		{"HTTP/2 in clear, without asking", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", "404"},
		{"another protocol", "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", "400"},
		{"nothing but line feeds", strings.Repeat("\r\n", 9_000), "400"},

		// These requests are too large.
		{"a header too large", line(first, "Host: x", bearer, "X-A: "+strings.Repeat("x", 32<<10)), "431"},
		{"headers too many", post(shut, strings.Repeat("X-A: \r\n", 200)+"X-B: ") + body, "431 more than 100 headers"},
		{"a path too large", line("POST /in/local/"+strings.Repeat("x", 32<<10)+" HTTP/1.1", "Host: x"), "431"},
		{"a body too large", says(ussd, `{"entry":"`+strings.Repeat("x", 64<<10)+`"}`), "413 64 KiB"},

		// These requests have an encoded body or an Expect header.
		{"a packed body", says(ussd, "\x1f\x8b\x08", "Content-Encoding: gzip"), "415 without Content-Encoding"},
		{"a body packed twice", says(ussd, body, coding+"identity", coding+"br"), "415 without Content-Encoding"},
		{"a body that says it is not packed", says(ussd, body, "Content-Encoding: identity"), "200 more"},
		{"an expectation that nobody knows (9110, 10.1.1)", says(ussd, body, "Expect: miracles"), "417"},
		{"an expectation before a refusal", says("/in/nobody/ussd", body, "Expect: 100-continue"), "404 No network"},
		{"an upgrade", says(ussd, body, "Upgrade: h2c", "HTTP2-Settings: AAMAAABkAAQCAAAAAAIAAAAA"), "200 more"},
		{"UTF-16", swap(says(ussd, "\xff\xfe{\x00}\x00"), typeJSON, typeJSON+"; charset=utf-16"), "400 not UTF-8"},
		{"no type", with("POST", ussd, nil, body), "415 application/json"},
		{"a type with a line feed", with("POST", ussd, []string{"Content-Type: application/json\n;x"}, body), "400"},
		{"parts",
			with("POST", ussd, []string{"Content-Type: multipart/form-data; boundary=x"}, "--x--"),
			"415 application/json"},

		// These requests have unusual targets (paths). The server must not clean a path up into the path of a route.
		{"a whole address as target (9112, 3.2.2)", says("http://elsewhere.example/in/local/ussd", body), "200 more"},
		{"two slashes", says("//in/local/ussd", body), "404 nothing under this path"},
		{"a slash at the end", says("/in/local/ussd/", body), "404 nothing under this path"},
		{"up and down", says("/in/nobody/../local/ussd", body), "404 nothing under this path"},
		{"up and down, encoded", says("/in/nobody/%2e%2e/local/ussd", body), "404 nothing under this path"},
		{"a file as gateway", says("/in/..%2f..%2fetc%2fpasswd/ussd", body), "404 No network"},
		{"an encoded slash as gateway", says("/in/local%2Fussd/ussd", body), "404 No network"},
		{"NUL in the gateway", says("/in/local%00/ussd", body), "404 No network"},
		{"an encoded letter in the gateway", says("/in/%6cocal/ussd", body), "404 No network"},
		{"a gateway in capitals", says("/in/LOCAL/ussd", body), "404 No network"},
		{"a gateway with a line feed", says("/in/local%0d%0aX-A:%20b/ussd", body), "404 No network"},
		{"SQL as gateway", says("/in/';DROP%20TABLE%20grower;--/ussd", body), "404 No network"},
		{"a bad percent", says("/in/%zz/ussd", body), "400"},
		{"only a star", line("OPTIONS * HTTP/1.1", "Host: x", "Connection: close"), "same 200"},
		{"a name for a tunnel", line("CONNECT local:80 HTTP/1.1", "Host: x", "Connection: close"), "404"},

		// These requests use methods that the route does not allow.
		{"GET", with("GET", ussd+"?phone=%2B447700900123&session=s&event=begin", nil, ""), "405 Use POST"},
		{"HEAD", with("HEAD", ussd, nil, ""), "405"},
		{"PUT", with("PUT", ussd, []string{typeJSON}, body), "405 Use POST"},
		{"TRACE", with("TRACE", ussd, nil, ""), "405 Use POST"},
		{"a method of one's own", with("WEED", ussd, nil, ""), "405"},
		{"a method in small letters", with("post", ussd, []string{typeJSON}, body), "405"},
		{"POST with GET over it",
			with("GET", ussd, []string{"X-HTTP-Method-Override: POST", typeJSON}, body), "405 Use POST"},
		{"the probe by POST", says("/healthz", body), "405 Use GET"},
		{"values in a POST's query", says(ussd+"?phone=%2B447700900123&session=s&event=begin", "{}"), "400 /phone"},

		// These callers are not authenticated.
		{"no token", bare("POST", ussd, []string{typeJSON}, body), "401 token"},
		{"a wrong token", swap(says(ussd, body), token, "wrong"), "401 token"},
		{"a token cut short", swap(says(ussd, body), token, token[:len(token)-1]), "401 token"},
		{"a token and more", swap(says(ussd, body), token, token+", "+token), "401 token"},
		{"another network's token", says("/in/other/ussd", body), "401 token"},
		{"another scheme", swap(says(ussd, body), "Bearer", "Basic"), "401 token"},
		{"two tokens, the first wrong", says("/in/other/ussd", body, "Authorization: Bearer other-token"), "401 token"},
		{"the token in the query", bare("POST", ussd+"?token="+token, []string{typeJSON}, body), "401 token"},
		{"as this machine", bare("POST", ussd,
			[]string{typeJSON, "X-Forwarded-For: 127.0.0.1", "X-Real-IP: ::1", "Forwarded: for=127.0.0.1"}, body),
			"401 token"},
		{"a network that nobody set up", says("/in/nobody/ussd", body), "404 No network"},
	})
	assertLog(t, f)
}

// assertLog checks that each line of the log is one JSON object, and that the log contains nothing that was sent and
// none of these secrets.
func assertLog(t *testing.T, f *wireFixture, secrets ...string) {
	t.Helper()
	log := f.h.log.String()
	words := []string{"panic", "7700900", token, "DROP", "passwd", "smuggled", "{{", "WEED", "=cmd"}
	for line := range strings.Lines(log) {
		for _, never := range append(words, secrets...) {
			if strings.Contains(testrun.WithoutChance(line), never) {
				t.Errorf("%q is in the log: %s", never, line)
			}
		}
		if !strings.HasPrefix(line, "{") || !strings.HasSuffix(line, "}\n") {
			t.Errorf("not a whole line in the log: %q", line)
		}
	}
}
