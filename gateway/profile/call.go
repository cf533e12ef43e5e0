package profile

import (
	"errors"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// AcceptsType reports whether a call may have this value of the header Content-Type. "" = the call has no such header;
// only the project's own format requires the header.
func (c Call) AcceptsType(contentType string) bool {
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
	if c.Format == Query {
		return true // the values are in the query of the URL, so the content type of the body does not matter
	}
	k, err := newSyntax(media)
	accepted := map[Format][]syntax{JSON: {jsonString, plainText}, XML: {xmlText, plainText}, Form: {formValue},
		Text: {plainText}}
	return err == nil && slices.Contains(accepted[c.Format], k)
}

// TypeHint says to a caller which content types are accepted.
func (c Call) TypeHint() string {
	if c.Format == Ours {
		return "Send application/json, or the same names as application/x-www-form-urlencoded."
	}
	media := map[Format]string{JSON: "application/json", XML: "application/xml", Form: formMedia}[c.Format]
	if media == "" {
		media = "text/plain"
	}
	return "Send " + media + " in " + c.Charset.String() + "."
}

const formMedia = "application/x-www-form-urlencoded"

// Read parses a call. The errors are of type CallError.
func (c Call) Read(h http.Header, rawQuery string, body []byte) (*Document, error) {
	if c.Format == Ours {
		media, _, err := mime.ParseMediaType(h.Get("Content-Type"))
		if err != nil || media != formMedia {
			return Parse(Ours, Charset{}, body)
		}
		form, err := parseForm(string(body), "body", maxFields)
		return &Document{form: form}, err
	}
	fields := maxFields
	if c.Batch() {
		fields = maxBatch
	}
	query, err := parseForm(rawQuery, "query", fields)
	if err != nil {
		return nil, err
	}
	if c.Format == Query {
		return &Document{format: Query, charset: c.Charset, form: query, query: query, header: h}, nil
	}
	d, err := parse(c.Format, c.Charset, body, fields)
	if err != nil {
		return nil, err
	}
	d.query, d.header = query, h
	return d, nil
}

// ParseTime reads a time in the network's layout. It returns the zero time if s is not such a time.
func (c Call) ParseTime(s string) time.Time { return parseTime(c.layout, s) }

func parseTime(layout, s string) time.Time {
	switch layout {
	case layoutUnix, layoutUnixMS:
		whole, fraction, _ := strings.Cut(s, ".")
		if strings.Trim(fraction, "0123456789") != "" {
			return time.Time{}
		}
		n, err := strconv.ParseInt(whole, 10, 64)
		switch {
		case err != nil || n <= 0 || n > maxUnix*1000:
			return time.Time{}
		case layout == layoutUnixMS:
			return time.UnixMilli(n)
		}
		return time.Unix(n, 0)
	}
	t, _ := time.Parse(layout, s)
	return t
}

// Names for layouts of times that package time cannot express: whole seconds or milliseconds since 1970.
const (
	layoutUnix    = "unix"
	layoutUnixMS  = "unix-ms"
	layoutRFC3339 = "rfc3339"    // another name of time.RFC3339
	maxUnix       = 253402300799 // the last second of the year 9999
)

// newLayout checks how a network writes times: "rfc3339", "unix", "unix-ms", or a layout of package time.
func newLayout(s string) (string, error) {
	switch s {
	case "", layoutRFC3339:
		return time.RFC3339, nil
	case layoutUnix, layoutUnixMS:
		return s, nil
	}
	// A layout must have year, month and day: a day that is written with it must be read back as the same day.
	at := time.Date(2027, 11, 23, 0, 0, 0, 0, time.UTC)
	got, err := time.Parse(s, at.Format(s))
	if err != nil || !got.Equal(at) {
		return "", errors.New("this is not rfc3339, unix, unix-ms or a layout of Go's such as 2006-01-02 15:04:05")
	}
	return s, nil
}

func formatTime(layout string, t time.Time) string {
	switch layout {
	case layoutUnix:
		return strconv.FormatInt(t.Unix(), 10)
	case layoutUnixMS:
		return strconv.FormatInt(t.UnixMilli(), 10)
	}
	return t.UTC().Format(layout)
}
