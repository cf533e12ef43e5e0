package profile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Answer is a network's answer to a push.
type Answer struct {
	Status int
	Header http.Header
	Body   []byte
	Broken string // why the body is not whole, in a few words; "" = it is whole
	Sent   string // the text that was sent; a Verdict never shows two words of it in a row
}

// Verdict is what a network's answer to a push means.
type Verdict struct {
	Outcome Outcome
	ID      string // the network's id of the text; "" if the answer has none or one that is too long to be stored
	Rule    string // what decided, by its key in rowbell.toml below push, or StatusRule
	Why     string // what stood in the answer, without secrets and personal data; "" if the status alone decided
}

// MaxAnswer bounds how many octets of the head and of the body of an answer are read.
const MaxAnswer = 64 << 10

// Values of Answer.Broken.
var (
	BreaksOff = "the answer breaks off"
	TooLong   = fmt.Sprintf("the answer is longer than %d KiB", MaxAnswer>>10)
)

// StatusRule is the Rule of a Verdict that the HTTP status alone decided.
const StatusRule = "status"

// maxNetworkID is the greatest length, in octets, of a network's id of a text that is stored. A longer id is ignored.
const maxNetworkID = 128

// Understand returns what a network's answer to a push means. The first entry of push.outcomes that matches decides.
// Without one, an answer with a status of success must have what push.success describes. If it does not, the network
// may have taken the text. All else is decided by the status.
func (p Push) Understand(a Answer) Verdict {
	r := p.read(a)
	v := Verdict{ID: r.id(p.id)}
	for i, rule := range p.outcomes {
		if !rule.fitsStatus(a.Status) {
			continue
		}
		name := fmt.Sprintf("outcomes, number %d", i+1)
		if !rule.at.Sent() {
			v.Outcome, v.Rule = rule.outcome, name
			return v
		}
		value, problem := r.value(rule.at)
		switch {
		case problem == "" && slices.Contains(rule.is, value):
			v.Outcome, v.Rule, v.Why = rule.outcome, name, r.place(rule.at)+" is "+r.shown(value)
			return v
		case r.bodyUnreadable() && rule.at.source == inBody && a.Status/100 == 2:
			// A body that cannot be read may be the page of a proxy. Behind it, the network took the text or never got
			// it. With another status, only an entry without At, or with a header as At, can match.
			v.Outcome, v.Rule, v.Why = MaybeSent, name, r.place(rule.at)+" cannot be read; "+r.summary()
			return v
		}
	}
	if a.Status/100 == 2 && p.Proves() {
		return p.proven(r, v)
	}
	v.Outcome, v.Rule = statusOutcome(a.Status), StatusRule
	return v
}

// Proves reports whether the description says what in an answer proves that the network took the text.
func (p Push) Proves() bool {
	return p.success.at.Sent() || slices.ContainsFunc(p.outcomes, outcomeRule.saysTaken)
}

// proven completes the verdict about an answer with a status of success that no entry of push.outcomes matches.
func (p Push) proven(r reading, v Verdict) Verdict {
	v.Outcome, v.Rule = MaybeSent, "success"
	if !p.success.at.Sent() {
		v.Rule, v.Why = "outcomes", "none of them fits; "+r.summary()
		return v
	}
	if p.success.noBody && r.doc == nil && !r.bodyUnreadable() {
		v.Outcome, v.Why = Taken, "it has no body"
		return v
	}
	at := r.place(p.success.at)
	switch value, problem := r.value(p.success.at); {
	case problem != "":
		v.Why = at + " " + problem + "; " + r.summary()
	case p.success.accepts(value):
		v.Outcome, v.Why = Taken, at+" is "+r.shown(value)
	default:
		v.Why = at + " is " + r.shown(value) + "; " + r.summary()
	}
	return v
}

// reading is an answer with its parsed body.
type reading struct {
	Answer
	doc    *Document // nil: the body cannot be read
	format Format
	secret string // of the push; it is never shown
	flaw   string // why the body cannot be read
}

func (p Push) read(a Answer) reading {
	r := reading{Answer: a, format: p.answer, flaw: a.Broken}
	if p.form != nil {
		r.secret = p.form.secret
	}
	if a.Broken != "" {
		return r
	}
	var err error
	for _, c := range answerCharsets(a) {
		if r.doc, err = Parse(p.answer, c, a.Body); err == nil {
			r.doc.header = a.Header
			return r
		}
	}
	r.flaw = r.whyUnreadable(err)
	return r
}

// answerCharsets returns the charsets in which the body may be: the one in the content type, the one in an XML
// declaration, and UTF-8. The two declarations often differ, because different programs write them.
func answerCharsets(a Answer) (list []Charset) {
	_, params, _ := mime.ParseMediaType(a.Header.Get("Content-Type"))
	names := []string{params["charset"]}
	if declaration, _, ok := bytes.Cut(a.Body, []byte("?>")); ok && bytes.HasPrefix(declaration, xmlVersion) {
		names = append(names, xmlEncoding(string(declaration)))
	}
	for _, name := range append(names, "utf-8") {
		if c, err := newCharset(name); err == nil && name != "" {
			list = append(list, c)
		}
	}
	return list
}

// bodyUnreadable reports whether the answer has a body, and the body cannot be read.
func (r reading) bodyUnreadable() bool { return r.doc == nil && (len(r.Body) > 0 || r.Broken != "") }

// value returns a value of the answer as text, or the problem in words that go on from the name of the place.
func (r reading) value(f Field) (value, problem string) {
	doc := r.doc
	if doc == nil {
		if f.source == inBody {
			return "", "cannot be read"
		}
		doc = &Document{format: r.format, header: r.Header}
	}
	switch v, err := doc.Value(f); v := v.(type) {
	case string:
		return strings.TrimSpace(v), ""
	case json.Number:
		return v.String(), ""
	case nil:
		if err != nil {
			return "", "stands there more than once, or cannot be worked out"
		}
		return "", "is not there"
	}
	return "", "is an object or a list"
}

// id returns the value at a place if it can be stored as the network's id of a text, and "" otherwise.
func (r reading) id(f Field) string {
	if r.doc == nil || r.isHTML() {
		return ""
	}
	id, problem := r.value(f)
	unprintable := func(c rune) bool { return !unicode.IsPrint(c) }
	if problem != "" || len(id) > maxNetworkID || !utf8.ValidString(id) || strings.ContainsFunc(id, unprintable) {
		return ""
	}
	return id
}
