package gateway_test

import (
	"fmt"
	"strings"
	"testing"
)

// Requests that are wrong as requests, whatever they say. Clauses are of RFC
// 9110 (semantics) and RFC 9112 (HTTP/1.1).
func TestHostileRequests(t *testing.T) {
	body := encode(call(m{"event": "begin"}))
	const bearer = "Authorization: Bearer " + token
	line := func(lines ...string) string { return strings.Join(lines, "\r\n") + "\r\n\r\n" }
	length := fmt.Sprintf("Content-Length: %d", len(body))
	// What follows a request and must not be taken for one of its own: the
	// text would be seen in the records.
	smuggled := encode(m{"id": "smuggled", "phone": "+447700900111", "text": "menu"})
	second := says("/in/local/sms", smuggled)
	chunk := func(s string) string { return fmt.Sprintf("%x\r\n%s\r\n0\r\n\r\n", len(s), s) }
	f := openFort(t)
	f.besiege([]hostile{
		// Framing: where one request ends and the next begins.
		{"length and chunks, chunks shorter (9112, 6.3)", line("POST /in/nobody/sms HTTP/1.1", "Host: x", bearer, typeJSON,
			fmt.Sprintf("Content-Length: %d", len(second)+5), "Transfer-Encoding: chunked") + "0\r\n\r\n" + second, 404, "No network", false},
		{"length and chunks, length shorter", line("POST /in/nobody/sms HTTP/1.1", "Host: x", bearer, typeJSON,
			"Content-Length: 4", "Transfer-Encoding: chunked") + chunk(second), 404, "No network", false},
		{"two lengths", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: 0", length) + body, 400, "", false},
		{"two lengths in one line", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: 0, 5") + body, 400, "", false},
		{"a length with a plus", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: +5") + body, 400, "", false},
		{"a length below 0", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: -5") + body, 400, "", false},
		{"a length past all bounds", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: 99999999999999999999") + body, 400, "", false},
		{"a huge length", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length: 99999999999", "Connection: close") + body, 413, "64 KiB", false},
		{"chunks twice", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: chunked", "Transfer-Encoding: chunked") + chunk(body), 501, "", false},
		{"chunks by another name", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: xchunked") + chunk(body), 501, "", false},
		{"chunks and another coding", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: gzip, chunked") + chunk(body), 501, "", false},
		{"chunks after a tab", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding:\x0bchunked") + chunk(body), 400, "", false},
		{"a chunk of no size", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: chunked") + "zz\r\n" + body + "\r\n0\r\n\r\n", 400, "broke off", false},
		{"a chunk past all bounds", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: chunked") + "fffffffffffffffff\r\n" + body, 400, "broke off", false},
		{"chunks without end", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: chunked") + strings.Repeat("1\r\n \r\n", 330_000), 413, "64 KiB", false},
		{"chunks that say more than they hold", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Transfer-Encoding: chunked") + "5;" + strings.Repeat("x", 90_000) + "\r\n", 400, "broke off", false},
		{"space before the colon (9112, 5.1)", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "Content-Length : 5") + body, 400, "", false},
		{"a folded line (9112, 5.2)", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, length, "X-Long: a", " b: c", "Connection: close") + body, 200, "more", false},
		{"a first header that is folded", line("POST /in/local/ussd HTTP/1.1", " Host: x", bearer) + body, 400, "", false},
		{"bare line feeds (9112, 2.2)", "POST /in/local/ussd HTTP/1.1\nHost: x\n" + bearer + "\n" + typeJSON + "\n" + length + "\nConnection: close\n\n" + body, 200, "more", false},
		{"a bare carriage return in a header", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "X-A: a\rContent-Length: 0", length) + body, 400, "", false},
		{"NUL in a header", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, typeJSON, "X-A: a\x00b", length) + body, 400, "", false},
		{"a header without a name", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, ": x", length) + body, 400, "", false},
		{"no host (9112, 3.2)", line("POST /in/local/ussd HTTP/1.1", bearer, typeJSON, length) + body, 400, "", false},
		{"two hosts", line("POST /in/local/ussd HTTP/1.1", "Host: x", "Host: y", bearer, typeJSON, length) + body, 400, "", false},
		{"a body that is shorter than it says", line("POST /in/local/ussd HTTP/1.0", bearer, typeJSON, "Content-Length: 5") + body, 400, "not a JSON object", false},
		{"HTTP/1.0", line("POST /in/local/ussd HTTP/1.0", bearer, typeJSON, length) + body, 200, "more", false},
		{"HTTP/0.9", "GET /healthz\r\n\r\n", 400, "", false},
		{"HTTP/3.0", line("GET /healthz HTTP/3.0", "Host: x"), 505, "", false},
		{"HTTP/2 in clear, without asking", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 404, "", false},
		{"another protocol", "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 400, "", false},
		{"nothing but line feeds", strings.Repeat("\r\n", 9_000), 400, "", false},

		// Size.
		{"a header too large", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, "X-A: "+strings.Repeat("x", 32<<10)), 431, "", false},
		{"headers too many", line("POST /in/local/ussd HTTP/1.1", "Host: x", bearer, "Connection: close", strings.Repeat("X-A: \r\n", 200)+"X-B: ") + body, 431, "more than 100 headers", false},
		{"a path too large", line("POST /in/local/"+strings.Repeat("x", 32<<10)+" HTTP/1.1", "Host: x"), 431, "", false},
		{"a body too large", says("/in/local/ussd", `{"entry":"`+strings.Repeat("x", 64<<10)+`"}`), 413, "64 KiB", false},

		// Codings and expectations.
		{"a packed body", with("POST", "/in/local/ussd", []string{typeJSON, "Content-Encoding: gzip"}, "\x1f\x8b\x08"), 415, "without Content-Encoding", false},
		{"a body packed twice", with("POST", "/in/local/ussd", []string{typeJSON, "Content-Encoding: identity", "Content-Encoding: br"}, body), 415, "without Content-Encoding", false},
		{"a body that says it is not packed", with("POST", "/in/local/ussd", []string{typeJSON, "Content-Encoding: identity"}, body), 200, "more", false},
		{"an expectation that nobody knows (9110, 10.1.1)", with("POST", "/in/local/ussd", []string{typeJSON, "Expect: miracles"}, body), 417, "", false},
		{"an expectation before a refusal", with("POST", "/in/nobody/ussd", []string{typeJSON, "Expect: 100-continue"}, body), 404, "No network", false},
		{"an upgrade", with("POST", "/in/local/ussd", []string{typeJSON, "Upgrade: h2c", "HTTP2-Settings: AAMAAABkAAQCAAAAAAIAAAAA"}, body), 200, "more", false},
		{"another charset", with("POST", "/in/local/ussd", []string{"Content-Type: application/json; charset=utf-16"}, "\xff\xfe{\x00}\x00"), 400, "not UTF-8", false},
		{"no type", with("POST", "/in/local/ussd", nil, body), 415, "application/json", false},
		{"a type with a line feed", with("POST", "/in/local/ussd", []string{"Content-Type: application/json\n;x"}, body), 400, "", false},
		{"parts", with("POST", "/in/local/ussd", []string{"Content-Type: multipart/form-data; boundary=x"}, "--x--"), 415, "application/json", false},

		// Targets.
		{"a whole address as target (9112, 3.2.2)", with("POST", "http://elsewhere.example/in/local/ussd", []string{typeJSON}, body), 200, "more", false},
		{"two slashes", says("//in/local/ussd", body), 404, "nothing under this path", false},
		{"a slash at the end", says("/in/local/ussd/", body), 404, "nothing under this path", false},
		{"up and down", says("/in/nobody/../local/ussd", body), 404, "nothing under this path", false},
		{"up and down, encoded", says("/in/nobody/%2e%2e/local/ussd", body), 404, "nothing under this path", false},
		{"a file as gateway", says("/in/..%2f..%2fetc%2fpasswd/ussd", body), 404, "No network", false},
		{"an encoded slash as gateway", says("/in/local%2Fussd/ussd", body), 404, "No network", false},
		{"NUL in the gateway", says("/in/local%00/ussd", body), 404, "No network", false},
		{"an encoded letter in the gateway", says("/in/%6cocal/ussd", body), 404, "No network", false},
		{"a gateway in capitals", says("/in/LOCAL/ussd", body), 404, "No network", false},
		{"a gateway with a line feed", says("/in/local%0d%0aX-A:%20b/ussd", body), 404, "No network", false},
		{"SQL as gateway", says("/in/';DROP%20TABLE%20grower;--/ussd", body), 404, "No network", false},
		{"a bad percent", says("/in/%zz/ussd", body), 400, "", false},
		{"only a star", line("OPTIONS * HTTP/1.1", "Host: x", "Connection: close"), 200, "", true},
		{"a name for a tunnel", line("CONNECT local:80 HTTP/1.1", "Host: x", "Connection: close"), 404, "", false},

		// Methods.
		{"GET", with("GET", "/in/local/ussd?phone=%2B447700900123&session=s&event=begin", nil, ""), 405, "Use POST", false},
		{"HEAD", with("HEAD", "/in/local/ussd", nil, ""), 405, "", false},
		{"PUT", with("PUT", "/in/local/ussd", []string{typeJSON}, body), 405, "Use POST", false},
		{"TRACE", with("TRACE", "/in/local/ussd", nil, ""), 405, "Use POST", false},
		{"a method of one's own", with("WEED", "/in/local/ussd", nil, ""), 405, "", false},
		{"a method in small letters", with("post", "/in/local/ussd", []string{typeJSON}, body), 405, "", false},
		{"POST with GET over it", with("GET", "/in/local/ussd", []string{"X-HTTP-Method-Override: POST", typeJSON}, body), 405, "Use POST", false},
		{"the probe by POST", says("/healthz", body), 405, "Use GET", false},
		{"values in the query of a POST", says("/in/local/ussd?phone=%2B447700900123&session=s&event=begin", "{}"), 400, "/phone", false},

		// Who calls.
		{"no token", strings.Replace(says("/in/local/ussd", body), bearer+"\r\n", "", 1), 401, "token", false},
		{"a wrong token", strings.Replace(says("/in/local/ussd", body), token, "wrong", 1), 401, "token", false},
		{"a token cut short", strings.Replace(says("/in/local/ussd", body), token, token[:len(token)-1], 1), 401, "token", false},
		{"a token and more", strings.Replace(says("/in/local/ussd", body), token, token+", "+token, 1), 401, "token", false},
		{"another network's token", says("/in/other/ussd", body), 401, "token", false},
		{"another scheme", strings.Replace(says("/in/local/ussd", body), "Bearer", "Basic", 1), 401, "token", false},
		{"two tokens, the first wrong", says("/in/other/ussd", body, "Authorization: Bearer other-token"), 401, "token", false},
		{"the token in the query", strings.Replace(says("/in/local/ussd?token="+token, body), bearer+"\r\n", "", 1), 401, "token", false},
		{"as this machine", strings.Replace(says("/in/local/ussd", body, "X-Forwarded-For: 127.0.0.1", "X-Real-IP: ::1", "Forwarded: for=127.0.0.1"), bearer+"\r\n", "", 1), 401, "token", false},
		{"a network that nobody set up", says("/in/nobody/ussd", body), 404, "No network", false},
	})
	assertLog(t, f)
}

// assertLog wants nothing of what was sent in the log, and each line whole.
func assertLog(t *testing.T, f *fort) {
	t.Helper()
	log := f.h.log.String()
	for _, never := range []string{"panic", "7700900", token, "DROP", "passwd", "smuggled", "{{", "WEED", "=cmd"} {
		if strings.Contains(log, never) {
			t.Errorf("%q is in the log", never)
		}
	}
	for line := range strings.Lines(log) {
		if !strings.HasPrefix(line, "{") || !strings.HasSuffix(line, "}\n") {
			t.Errorf("a broken line in the log: %q", line)
		}
	}
}
