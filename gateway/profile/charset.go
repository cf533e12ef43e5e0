package profile

import (
	"errors"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/htmlindex"
)

// Charset is how characters become octets; the zero Charset is UTF-8.
type Charset struct {
	name string
	enc  encoding.Encoding // nil: UTF-8
}

// newCharset finds a charset by its name, as the WHATWG Encoding Standard
// lists them: its latin-1 is windows-1252, which holds all that latin-1 does.
func newCharset(name string) (Charset, error) {
	if name == "" {
		return Charset{}, nil
	}
	enc, err := htmlindex.Get(name)
	if err != nil {
		return Charset{}, errors.New("there is no charset of this name")
	}
	canonical, err := htmlindex.Name(enc)
	if err != nil || canonical == "replacement" {
		return Charset{}, errors.New("this charset is not safe to read")
	}
	if canonical == "utf-8" {
		return Charset{}, nil
	}
	return Charset{strings.ToLower(name), enc}, nil
}

// String is the name for a content type.
func (c Charset) String() string {
	if c.enc == nil {
		return "utf-8"
	}
	return c.name
}

// is reports that a name is this charset's, or that of its part US-ASCII.
func (c Charset) is(name string) bool {
	if strings.EqualFold(name, "us-ascii") {
		return true
	}
	other, err := newCharset(name)
	return err == nil && other.enc == c.enc
}

// decode turns octets into a string; it fails for octets that mean nothing.
func (c Charset) decode(s string) (string, error) {
	if c.enc == nil {
		if !utf8.ValidString(s) {
			return "", errCharset
		}
		return s, nil
	}
	out, err := c.enc.NewDecoder().String(s)
	if err != nil || strings.ContainsRune(out, utf8.RuneError) {
		return "", errCharset
	}
	return out, nil
}

// encode turns a string into octets. What the charset lacks becomes what instead
// makes of it.
func (c Charset) encode(s string, instead func(rune) string) string {
	if c.enc == nil {
		return s
	}
	e := c.enc.NewEncoder()
	if out, err := e.String(s); err == nil {
		return out
	}
	var b strings.Builder
	for _, r := range s {
		e.Reset()
		out, err := e.String(string(r))
		if err != nil {
			e.Reset()
			out, _ = e.String(instead(r))
		}
		b.WriteString(out)
	}
	return b.String()
}
