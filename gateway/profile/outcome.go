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

// OutcomeSpec is one entry of push.outcomes in rowbell.toml: what a network's answer to a push means. The first entry
// that matches the answer decides.
type OutcomeSpec struct {
	Status string   `toml:"status"` // HTTP statuses such as 200-299 or 400,404; default: any
	At     string   `toml:"at"`     // a place in the answer; the entry matches if the value there is one of Is
	Is     []string `toml:"is"`     // values at the place At for which the entry matches
	Then   string   `toml:"then"`   // what the answer means: taken, again, never, no-such-number, unsure
}

// Outcome is what a network's answer to a push means.
type Outcome uint8

// The outcomes of a push.
const (
	ByStatus     Outcome = iota // no entry matches: the HTTP status decides
	Taken                       // the network has accepted the text
	Again                       // the network may accept the text later
	Never                       // the network will never accept the text
	NoSuchNumber                // the network knows no phone with this number, so the text cannot be delivered
	MaybeSent                   // it is unknown whether the network has accepted the text
)

var outcomes = map[string]Outcome{
	"taken": Taken, "again": Again, "never": Never, "no-such-number": NoSuchNumber, "unsure": MaybeSent,
}

// outcomeRule is an entry of push.outcomes in rowbell.toml, after its values were checked and parsed.
type outcomeRule struct {
	status  [][2]int // ranges of HTTP statuses; empty: any status matches
	at      Field
	is      []string
	outcome Outcome
}

func (o OutcomeSpec) build(format Format) (outcomeRule, error) {
	var m mistakes
	outcome, known := outcomes[o.Then]
	m.refuse(!known, "then", "%q is not one of taken, again, never, no-such-number, unsure", o.Then)
	r := outcomeRule{is: o.Is, outcome: outcome}
	var err error
	r.status, err = statusRanges(o.Status)
	m.add("status", err)
	m.refuse((o.At == "") != (len(o.Is) == 0), "", "at and is go together")
	m.refuse(o.At == "" && o.Status == "", "", "it fits every answer: say a status, or a place and what stands there")
	r.at, err = answerField(format, o.At)
	m.add("at", err)
	return r, m.err
}

// statusRanges reads a list such as "200-299,404".
func statusRanges(list string) (ranges [][2]int, err error) {
	if list == "" {
		return nil, nil
	}
	for part := range strings.SplitSeq(list, ",") {
		low, high, isRange := strings.Cut(strings.TrimSpace(part), "-")
		if !isRange {
			high = low
		}
		from, err1 := strconv.Atoi(low)
		to, err2 := strconv.Atoi(high)
		if errors.Join(err1, err2) != nil || from < 100 || to > 599 || to < from {
			return nil, fmt.Errorf("%q is not a list such as 200-299,404", list)
		}
		ranges = append(ranges, [2]int{from, to})
	}
	return ranges, nil
}

// Answer is a network's answer to a push.
type Answer struct {
	Status int
	Header http.Header
	Body   []byte
	Broken bool // the connection broke before the end of the answer, or the answer is too long to be read whole
}

// maxNetworkID is the greatest length, in octets, of a network's id of a text that is stored. A longer id is ignored.
const maxNetworkID = 128

// Understand returns what a network's answer to a push means, and the network's id of the text. The id is "" if the
// answer has none or one that is too long to be stored.
func (p Push) Understand(a Answer) (outcome Outcome, id string) {
	var d *Document
	if !a.Broken {
		d, _ = Parse(p.answer, Charset{}, a.Body)
	}
	if d != nil {
		d.header = a.Header
		id = storableID(d, p.id)
	}
	for _, r := range p.outcomes {
		if !r.fitsStatus(a.Status) {
			continue
		}
		if !r.at.Sent() {
			return r.outcome, id
		}
		if d == nil && r.at.source == inBody {
			if a.Status/100 == 2 {
				return MaybeSent, id // the outcome is in the body, and the body cannot be read
			}
			// A body that cannot be read may be the error page of a proxy. So only an entry of push.outcomes without
			// At, or with a header as At, can match.
			continue
		}
		if d == nil {
			d = &Document{format: p.answer, header: a.Header}
		}
		if v, ok := valueText(d, r.at); ok && slices.Contains(r.is, v) {
			return r.outcome, id
		}
	}
	return ByStatus, id
}

func (r outcomeRule) fitsStatus(status int) bool {
	inRange := func(s [2]int) bool { return s[0] <= status && status <= s[1] }
	return len(r.status) == 0 || slices.ContainsFunc(r.status, inRange)
}

// valueText returns a value of an answer as text; false if the answer has no such value.
func valueText(d *Document, f Field) (string, bool) {
	v, err := d.Value(f)
	s, ok := v.(string)
	if n, number := v.(json.Number); number {
		s, ok = n.String(), true
	}
	return strings.TrimSpace(s), ok && err == nil
}

func storableID(d *Document, f Field) string {
	id, ok := valueText(d, f)
	unprintable := func(r rune) bool { return !unicode.IsPrint(r) }
	if !ok || len(id) > maxNetworkID || !utf8.ValidString(id) || strings.ContainsFunc(id, unprintable) {
		return ""
	}
	return id
}
