package desk_test

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// client sends requests to the desk as a program does that knows all paths. It has the cookie of one session.
type client struct {
	v       *valley
	account string       // "" = none
	cookie  *http.Cookie // nil: not logged in
}

// answer is what the desk answers.
type answer struct {
	status   int
	location string // of a redirect
	kind     string // media type
	header   http.Header
	body     string
}

// as returns a client with a new session of an account; "" = none.
func (v *valley) as(account string) *client {
	v.t.Helper()
	c := &client{v: v, account: account}
	if account == "" {
		return c
	}
	if got := c.post("/desk/login", "name", account, "password", password); got.status != http.StatusSeeOther {
		v.t.Fatalf("%s cannot log in: %d\n%s", account, got.status, got.body)
	}
	return c
}

func (c *client) get(path string) answer { c.v.t.Helper(); return c.send("GET", path, "", nil) }

// post posts a form: names and values in turn.
func (c *client) post(path string, fields ...string) answer {
	c.v.t.Helper()
	return c.send("POST", path, form(fields...).Encode(), nil)
}

func form(fields ...string) url.Values {
	values := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		values.Add(fields[i], fields[i+1])
	}
	return values
}

// longest is how long an answer may take before it is taken for a stream, whose first part is the answer.
const longest = 10 * time.Second

// send sends a request and follows no redirect. Of a stream of events it reads the beginning only.
func (c *client) send(method, path, body string, header http.Header) answer {
	c.v.t.Helper()
	ctx, stop := context.WithTimeout(c.v.t.Context(), longest)
	defer stop()
	r, err := http.NewRequestWithContext(ctx, method, c.v.url+path, strings.NewReader(body))
	must(c.v.t, err)
	if method == "POST" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for name, values := range header {
		r.Header[name] = values
	}
	if c.cookie != nil {
		r.AddCookie(c.cookie)
	}
	got, err := http.DefaultTransport.RoundTrip(r)
	must(c.v.t, err)
	defer got.Body.Close()
	for _, cookie := range got.Cookies() {
		c.cookie = cookie
	}
	a := answer{got.StatusCode, got.Header.Get("Location"), got.Header.Get("Content-Type"), got.Header, ""}
	if strings.HasPrefix(a.kind, "text/event-stream") {
		return a
	}
	octets, err := io.ReadAll(got.Body)
	if err != nil && !errors.Is(err, context.DeadlineExceeded) {
		c.v.t.Fatal(err)
	}
	a.body = string(octets)
	return a
}
