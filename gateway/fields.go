package gateway

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// fields reads the values of a callback. It collects all mistakes in them, for one response that lists all.
type fields struct {
	doc *profile.Document
	bad []problem.Field
	one bool // the call has one item, although networks may send several in calls of this kind
}

var errFurtherItems = profile.CallError(string(profile.ErrTwice) + " If these are several items, the key each in the " +
	"description of the network says where a request has its items.")

// err returns a problem that lists the mistakes so far, or nil if there is none.
func (f *fields) err() error {
	if len(f.bad) == 0 {
		return nil
	}
	p := problem.New(http.StatusBadRequest, f.bad[0].Detail)
	p.Errors = f.bad
	return p
}

func (f *fields) refuse(at profile.Field, detail string) {
	f.bad = append(f.bad, problem.Field{Detail: detail, Pointer: at.At})
}

// value returns the value at a place in the request: a string, or any JSON value. ok is false if there is no value.
func (f *fields) value(at profile.Field) (v any, ok bool) {
	v, err := f.doc.Value(at)
	if f.one && err == profile.ErrTwice && !at.Whole() { //nolint:errorlint // Value does not wrap it
		err = errFurtherItems
	}
	if err != nil {
		f.refuse(at, err.Error())
		return nil, false
	}
	return v, v != nil
}

// text returns a string of at most limit characters. For a missing value it returns ""; for an unusable value it also
// records a mistake.
func (f *fields) text(at profile.Field, limit int) string {
	v, ok := f.value(at)
	if !ok {
		return ""
	}
	s, ok := v.(string)
	switch {
	case !ok:
		f.refuse(at, "This must be a string.")
	case !utf8.ValidString(s):
		f.refuse(at, "This is not UTF-8.")
	case strings.IndexByte(s, 0) >= 0:
		f.refuse(at, "This holds a NUL character.")
	case utf8.RuneCountInString(s) > limit:
		f.refuse(at, fmt.Sprintf("This is longer than %d characters.", limit))
	default:
		return s
	}
	return ""
}

// name returns an identifier or a word of at most maxID printable characters. For a missing value it returns ""; for an
// unusable value it also records a mistake.
func (f *fields) name(at profile.Field) string {
	s := f.text(at, maxID)
	if !printable(s) {
		f.refuse(at, "This holds characters that cannot be printed.")
		return ""
	}
	return s
}

// need returns a required identifier or word. If the value is missing, need records a mistake.
func (f *fields) need(at profile.Field) string {
	before := len(f.bad)
	s := f.name(at)
	if s == "" && len(f.bad) == before {
		f.refuse(at, "This is needed.")
	}
	return s
}

// phone returns the phone number, which is required.
func (f *fields) phone(at profile.Field, countryCode string) store.Phone {
	before := len(f.bad)
	s := f.text(at, maxPhone)
	p, err := ParsePhone(s, countryCode)
	switch {
	case err == nil || len(f.bad) > before:
	case s == "":
		f.refuse(at, "There is no phone number here.")
	default:
		f.refuse(at, "This is not a phone number in international form: a plus, then 8 to 15 digits.")
	}
	return p
}

// count returns a whole number from 0 to maxSteps; ok is false if the network sent no number.
func (f *fields) count(at profile.Field) (n int, ok bool) {
	v, ok := f.value(at)
	if !ok || v == "" && f.doc.Textual() {
		return 0, false
	}
	s := ""
	switch v := v.(type) {
	case json.Number:
		s = v.String()
	case string:
		if f.doc.Textual() {
			s = v
		}
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > maxSteps {
		f.refuse(at, "This must be a whole number from 0.")
		return 0, false
	}
	return n, true
}

// instant returns an optional time in the network's layout. A missing or unreadable time is the zero time, because no
// call is refused for an optional value.
func (f *fields) instant(how profile.Call, at profile.Field) time.Time {
	switch v := f.optional(at).(type) {
	case string:
		return how.ParseTime(v)
	case json.Number: // seconds with a fraction
		return how.ParseTime(v.String())
	}
	return time.Time{}
}

// note returns an optional sentence of the network as one line of at most maxID characters, or "" if it is no string.
func (f *fields) note(at profile.Field) string {
	v, _ := f.optional(at).(string)
	line := []rune(strings.ToValidUTF8(v, ""))
	line = line[:min(len(line), maxID)]
	for i, r := range line {
		if !unicode.IsPrint(r) {
			line[i] = ' '
		}
	}
	return strings.TrimSpace(string(line))
}

// optional returns the value at a place in the request. If the value is missing or cannot be read, optional returns nil
// and records no mistake.
func (f *fields) optional(at profile.Field) any {
	before := f.bad
	v, _ := f.value(at)
	f.bad = before
	return v
}

func printable(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) })
}
