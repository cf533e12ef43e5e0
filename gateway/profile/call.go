package profile

import (
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// Takes reports whether a content type is one that the call may have. A
// network of its own description need not name one.
func (c Call) Takes(contentType string) bool {
	if contentType == "" {
		return c.Format != Ours
	}
	media, params, err := mime.ParseMediaType(contentType)
	if err != nil {
		return false
	}
	if c.Format == Ours {
		return media == "application/json" || media == formMedia
	}
	if name, ok := params["charset"]; ok && !c.Charset.is(name) {
		return false
	}
	switch c.Format {
	case JSON:
		return media == "application/json" || media == "text/plain" || strings.HasSuffix(media, "+json")
	case XML:
		return media == "application/xml" || media == "text/xml" || media == "text/plain" || strings.HasSuffix(media, "+xml")
	case Form:
		return media == formMedia
	case Text:
		return media == "text/plain"
	}
	return true // nobody looks at the body
}

// Wants says in a sentence which content type would do.
func (c Call) Wants() string {
	switch c.Format {
	case Ours:
		return "Send application/json, or the same names as application/x-www-form-urlencoded."
	case JSON:
		return "Send application/json in " + c.Charset.String() + "."
	case XML:
		return "Send application/xml in " + c.Charset.String() + "."
	case Form:
		return "Send application/x-www-form-urlencoded in " + c.Charset.String() + "."
	}
	return "Send text/plain in " + c.Charset.String() + "."
}

const formMedia = "application/x-www-form-urlencoded"

// Read takes a call apart. The errors are of type Wrong.
func (c Call) Read(h http.Header, rawQuery string, body []byte) (*Document, error) {
	format := c.Format
	if format == Ours {
		if media, _, err := mime.ParseMediaType(h.Get("Content-Type")); err == nil && media == formMedia {
			form, err := parseForm(string(body), "body")
			if err != nil {
				return nil, err
			}
			return &Document{form: form}, nil
		}
		return Parse(Ours, Charset{}, body)
	}
	query, err := parseForm(rawQuery, "query")
	if err != nil {
		return nil, err
	}
	if format == Query {
		return &Document{format: Query, charset: c.Charset, form: query, query: query, header: h}, nil
	}
	d, err := Parse(format, c.Charset, body)
	if err != nil {
		return nil, err
	}
	d.query, d.header = query, h
	return d, nil
}

// Instant reads a time in the network's layout; the zero time where it cannot.
func (c Call) Instant(s string) time.Time {
	switch c.clock {
	case clockUnix, clockUnixMS:
		n, err := strconv.ParseInt(s, 10, 64)
		switch {
		case err != nil || n <= 0 || n > maxInstant*1000:
			return time.Time{}
		case c.clock == clockUnixMS:
			return time.UnixMilli(n)
		}
		return time.Unix(n, 0)
	}
	t, _ := time.Parse(c.clock, s)
	return t
}

// Names of the layouts that are no layouts of Go's.
const (
	clockUnix   = "unix"
	clockUnixMS = "unix-ms"
	maxInstant  = 253402300799 // the last second of the year 9999
)

// instant writes a time in a layout.
func instant(clock string, t time.Time) string {
	switch clock {
	case clockUnix:
		return strconv.FormatInt(t.Unix(), 10)
	case clockUnixMS:
		return strconv.FormatInt(t.UnixMilli(), 10)
	}
	return t.UTC().Format(clock)
}
