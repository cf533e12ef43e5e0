package profile

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Then is what an answer to a push means.
type Then uint8

// The meanings. By the status alone where no rule fits.
const (
	ByStatus     Then = iota
	Taken             // the network has it
	Again             // it may be taken later
	Never             // it will not be taken
	NoSuchNumber      // no phone has this number
	Unsure            // it may have been taken
)

var thens = map[string]Then{"taken": Taken, "again": Again, "never": Never, "no-such-number": NoSuchNumber, "unsure": Unsure}

// outcomeRule says what an answer means that fits it.
type outcomeRule struct {
	status [][2]int // ranges; none: any
	at     Field
	is     []string
	then   Then
}

func (o OutcomeSpec) build(format Format) (r outcomeRule, err error) {
	var known bool
	if r.then, known = thens[o.Then]; !known {
		return r, fmt.Errorf("then: %q is not one of taken, again, never, no-such-number, unsure", o.Then)
	}
	for part := range strings.SplitSeq(o.Status, ",") {
		if o.Status == "" {
			break
		}
		from, to, ranges := strings.Cut(strings.TrimSpace(part), "-")
		a, err := strconv.Atoi(from)
		b := a
		if ranges && err == nil {
			b, err = strconv.Atoi(to)
		}
		if err != nil || a < 100 || b > 599 || b < a {
			return r, fmt.Errorf("status: %q is not a list such as 200-299,404", o.Status)
		}
		r.status = append(r.status, [2]int{a, b})
	}
	if (o.At == "") != (len(o.Is) == 0) {
		return r, errors.New("at and is go together")
	}
	if o.At == "" && o.Status == "" {
		return r, errors.New("it fits every answer: say a status, or a place and what stands there")
	}
	r.is = o.Is
	r.at, err = answerField(format, o.At)
	return r, key("at", err)
}

// Answer is what a network said to a push.
type Answer struct {
	Status int
	Header http.Header
	Body   []byte
	Broken bool // it broke off, or was longer than is read
}

// maxNetworkID is also what a receipt may name, in octets.
const maxNetworkID = 128

// Understand tells what an answer means, and the network's own id of the text
// where it gives one that can be kept.
func (p Push) Understand(a Answer) (then Then, id string) {
	var d *Document
	if !a.Broken {
		d, _ = Parse(p.answer, Charset{}, a.Body)
	}
	if d != nil {
		d.header = a.Header
		id = keepable(d, p.id)
	}
	for _, r := range p.rules {
		if !r.fitsStatus(a.Status) {
			continue
		}
		if !r.at.Sent() {
			return r.then, id
		}
		if d == nil && r.at.source == inBody {
			if a.Status/100 == 2 {
				return Unsure, id // whether it fits cannot be told
			}
			continue // a page of something on the way: the status says enough
		}
		if d == nil {
			d = &Document{format: p.answer, header: a.Header}
		}
		if v, ok := valueText(d, r.at); ok && slices.Contains(r.is, v) {
			return r.then, id
		}
	}
	return ByStatus, id
}

func (r outcomeRule) fitsStatus(status int) bool {
	return len(r.status) == 0 || slices.ContainsFunc(r.status, func(s [2]int) bool { return s[0] <= status && status <= s[1] })
}

// valueText is a value of an answer as a word.
func valueText(d *Document, f Field) (string, bool) {
	v, err := d.Value(f)
	s, ok := v.(string)
	if n, number := v.(json.Number); number {
		s, ok = n.String(), true
	}
	return strings.TrimSpace(s), ok && err == nil
}

func keepable(d *Document, f Field) string {
	id, ok := valueText(d, f)
	if !ok || len(id) > maxNetworkID || !utf8.ValidString(id) {
		return ""
	}
	for _, r := range id {
		if !unicode.IsPrint(r) {
			return ""
		}
	}
	return id
}
