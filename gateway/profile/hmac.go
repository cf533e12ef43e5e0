package profile

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/fault"
)

// HMACSpec has the settings of the table trust for by = "hmac": an HMAC-SHA256 (RFC 2104) in a header that the
// network chooses.
type HMACSpec struct {
	Header     string `toml:"header"`      // HTTP header that carries the signature
	Coding     string `toml:"coding"`      // how the signature is written: hex, base64; default hex
	Prefix     string `toml:"prefix"`      // what stands before the signature in the header
	Signs      string `toml:"signs"`       // what is signed, see newSignedParts; default {{.Body}}
	TimeHeader string `toml:"time_header"` // HTTP header that carries the time of the call; "" = calls have no time
	Time       string `toml:"time"`        // how that time is written: unix, unix-ms, rfc3339; default unix
}

// Signed are the parts of a call that a signature may cover.
type Signed struct {
	Method string
	Path   string // /in/NAME/KIND, also if a proxy has removed something before it
	Query  string // as sent, without the question mark
	Header http.Header
	Body   []byte
}

// hmacRule is an HMACSpec after its values were checked and parsed.
type hmacRule struct {
	header, prefix   string
	base64           bool
	timeHeader       string
	layout           string
	parts            []signedPart
	body, query      bool // the signature covers the body, the query
	path, at         bool // the signature covers the path, the time
	missing, badTime error
}

// signedPart is a piece of what is signed: a value of the call, or literal text.
type signedPart struct{ value, text string }

// maxHMACTolerance bounds the tolerance of by = "hmac". The time of a call may be early or late by the tolerance, so a
// copy of a call is accepted for up to twice the tolerance. That must not be longer than the hour for which package
// gateway recognises a repeated call by its step.
const maxHMACTolerance = 30 * time.Minute

// hmacLayouts are the values of the setting time. In each of them a time has a fixed form.
var hmacLayouts = []string{layoutUnix, layoutUnixMS, layoutRFC3339}

func (s HMACSpec) build() (*hmacRule, error) {
	var m fault.List
	r := &hmacRule{header: http.CanonicalHeaderKey(s.Header), prefix: s.Prefix, base64: s.Coding == "base64",
		timeHeader: http.CanonicalHeaderKey(s.TimeHeader)}
	m.Refuse(s.Header == "", "header", "name the header that carries the signature")
	m.Refuse(s.Header != "" && !headerName.MatchString(s.Header), "header", "%q is not the name of a header", s.Header)
	m.Refuse(!slices.Contains([]string{"", "hex", "base64"}, s.Coding),
		"coding", "%q is not hex or base64", s.Coding)
	m.Refuse(strings.TrimLeft(s.Prefix, " \t") != s.Prefix || strings.ContainsFunc(s.Prefix, notInHeader),
		"prefix", "it has characters that a header cannot have there")
	m.Refuse(s.TimeHeader != "" && (!headerName.MatchString(s.TimeHeader) || r.timeHeader == r.header),
		"time_header", "%q is not the name of another header", s.TimeHeader)
	m.Refuse(s.Time != "" && s.TimeHeader == "", "time", "name the time_header that carries it")
	layout := cmp.Or(s.Time, layoutUnix)
	m.Refuse(!slices.Contains(hmacLayouts, layout), "time", "%q is not one of unix, unix-ms, rfc3339", s.Time)
	var err error
	r.layout, err = newLayout(layout)
	m.Add("time", err)
	r.parts, err = newSignedParts(cmp.Or(s.Signs, "{{.Body}}"))
	m.Add("signs", err)
	for _, p := range r.parts {
		r.body = r.body || p.value == "Body"
		r.query = r.query || p.value == "Query"
		r.path = r.path || p.value == "Path"
		r.at = r.at || p.value == "Time"
	}
	if err != nil { // then nothing else is said about what is signed
		r.body, r.query, r.at = true, true, s.TimeHeader != ""
	}
	m.Refuse(r.at != (s.TimeHeader != ""), "signs",
		`a time_header and {{.Time}} go together, as in "{{.Time}}.{{.Body}}": only a signed time proves something`)
	r.missing = CallError("The header " + r.header + " must be there once, with the signature in it.")
	r.badTime = CallError("The header " + r.timeHeader + " must be there once, with the time of the call in it.")
	return r, m.Err()
}

// notInHeader reports whether a header's value cannot have this character (RFC 9110 section 5.5).
func notInHeader(r rune) bool { return r < ' ' && r != '\t' || r > '~' }

// signedValue matches a value in the setting signs.
var signedValue = regexp.MustCompile(`\{\{ *\.([A-Za-z]+) *\}\}`)

var signedValues = []string{"Time", "Method", "Path", "Query", "Body"}

// newSignedParts parses what is signed: literal text with the values {{.Time}}, {{.Method}}, {{.Path}}, {{.Query}} and
// {{.Body}}. It is no text/template, because nothing but these values is needed.
//
// No two calls may give the same octets. Time, method and path have a fixed form, so they cannot be mistaken for what
// stands beside them. Query and body may hold anything, but a query holds no line break and no blank, so one of these
// must stand between the two.
func newSignedParts(s string) (parts []signedPart, err error) {
	if len(s) > 256 {
		return nil, errors.New("it is longer than 256 characters")
	}
	unknown := func(name string) error {
		return fmt.Errorf("there is no %s here; there are {{.%s}}", name, strings.Join(signedValues, "}}, {{."))
	}
	end := 0
	for _, at := range signedValue.FindAllStringSubmatchIndex(s, -1) {
		parts = append(parts, signedPart{text: s[end:at[0]]}, signedPart{value: s[at[2]:at[3]]})
		end = at[1]
	}
	parts = append(parts, signedPart{text: s[end:]})
	seen := map[string]bool{}
	free, between := false, "" // free: a query or a body has come, and between is what followed it
	for _, p := range parts {
		between += p.text
		switch {
		case strings.Contains(p.text, "{{") || strings.Contains(p.text, "}}"):
			return nil, unknown("such value")
		case p.value == "":
			continue
		case !slices.Contains(signedValues, p.value):
			return nil, unknown("." + p.value)
		case seen[p.value]:
			return nil, fmt.Errorf("{{.%s}} stands there twice", p.value)
		}
		seen[p.value] = true
		if p.value == "Query" || p.value == "Body" {
			if free && !strings.ContainsAny(between, "\n ") {
				return nil, errors.New("between {{.Query}} and {{.Body}} there must be a line break or a blank, " +
					"so that no part of one can be moved into the other")
			}
			free, between = true, ""
		}
	}
	if !free {
		return nil, errors.New("neither {{.Body}} nor {{.Query}} is in it: what a call says would not be signed")
	}
	return parts, nil
}

// content returns what is signed of a call. stamp is the value of the header with the time.
func (r *hmacRule) content(c Signed, stamp string) (content []byte) {
	for _, p := range r.parts {
		content = append(content, p.text...)
		switch p.value {
		case "Time":
			content = append(content, stamp...)
		case "Method":
			content = append(content, c.Method...)
		case "Path":
			content = append(content, c.Path...)
		case "Query":
			content = append(content, c.Query...)
		case "Body":
			content = append(content, c.Body...)
		}
	}
	return content
}

func hmacSHA256(key, content []byte) []byte {
	m := hmac.New(sha256.New, key)
	m.Write(content)
	return m.Sum(nil)
}

// verify checks the signature of a call against all keys. once is an id of the signed call, which only a copy of the
// call has; it is "" if calls have no time, because then two calls with equal values have equal signatures.
func (r *hmacRule) verify(keys [][]byte, c Signed, now time.Time, tolerance time.Duration) (once string, err error) {
	given, ok := r.signature(c.Header)
	if !ok {
		return "", r.missing
	}
	stamp, at := "", time.Time{}
	if r.at {
		if values := c.Header.Values(r.timeHeader); len(values) == 1 {
			stamp = values[0]
		}
		if at = exactTime(r.layout, stamp); at.IsZero() {
			return "", r.badTime
		}
	}
	content, good := r.content(c, stamp), false
	for _, key := range keys {
		good = hmac.Equal(given, hmacSHA256(key, content)) || good
	}
	if !good {
		return "", errSignature
	}
	if !r.at {
		return "", nil
	}
	if at.Sub(now).Abs() > tolerance { // neither Sub nor Abs overflows
		return "", CallError("The time in the header " + r.timeHeader + " is too far from the time it is here.")
	}
	return hex.EncodeToString(given), nil
}

// signature reads the signature from its header. ok is false if the header is missing or there twice. A value that
// cannot be decoded is a signature that is wrong.
func (r *hmacRule) signature(h http.Header) (sum []byte, ok bool) {
	values := h.Values(r.header)
	if len(values) != 1 {
		return nil, false
	}
	value, found := strings.CutPrefix(values[0], r.prefix)
	decode := hex.DecodeString // takes small and capital letters
	if r.base64 {
		decode = base64.StdEncoding.DecodeString
	}
	sum, err := decode(value)
	if err != nil || !found {
		return nil, true
	}
	return sum, true
}

// exactTime reads a time in one of hmacLayouts. It returns the zero time for a number that is not written as formatTime
// writes it, for example with a leading zero or a sign: otherwise a digit could be moved between the time and the text
// beside it, and the signature would still be right.
func exactTime(layout, stamp string) time.Time {
	t := parseTime(layout, stamp)
	if layout != time.RFC3339 && formatTime(layout, t) != stamp {
		return time.Time{}
	}
	return t
}
