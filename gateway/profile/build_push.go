package profile

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
)

func (s PushSpec) build(secret Lookup) (p Push, err error) {
	p = ourPush()
	p.URL = s.URL
	if s.Rate != nil {
		p.Rate = *s.Rate
	}
	if s.Concurrency != 0 {
		p.Concurrency = s.Concurrency
	}
	if s.Timeout != 0 {
		p.Timeout = time.Duration(s.Timeout)
	}
	if err := s.Timeout.check(); err != nil {
		return p, key("timeout", err)
	}
	if err := s.Validity.check(); err != nil {
		return p, key("validity", err)
	}
	p.Validity = time.Duration(s.Validity)
	p.Segments = s.Segments
	if !(s.SegmentPrice >= 0 && s.SegmentPrice <= 1e6) { // not a number neither
		return p, fmt.Errorf("segment_price: %g is not a price", s.SegmentPrice)
	}
	p.SegmentPrice = int64(math.Round(s.SegmentPrice * 1e6))
	if s.Segments < 0 || s.Segments > 255 {
		return p, fmt.Errorf("segments: %d is not in 0..255", s.Segments)
	}
	described := s.Method+s.Type+s.Charset+s.Body+s.Time != "" || s.Headers != nil || s.Secrets != nil
	if described {
		if p.form, err = s.form(secret); err != nil {
			return p, err
		}
		p.Idempotent = false
	}
	if s.Idempotent != nil {
		p.Idempotent = *s.Idempotent
	}
	if s.URL == "" {
		return p, errors.New("url: say where texts go")
	}
	return p, s.outcomes(&p)
}

// form reads how a text is handed over.
func (s PushSpec) form(secret Lookup) (*pushForm, error) {
	f := &pushForm{method: s.Method}
	switch s.Method {
	case "":
		f.method = http.MethodPost
	case http.MethodPost, http.MethodPut, http.MethodGet:
	default:
		return nil, fmt.Errorf("method: %q is not one of POST, GET, PUT", s.Method)
	}
	for i, env := range s.Secrets {
		v, err := lookUp(secret, env)
		if err != nil {
			return nil, key("secrets", err)
		}
		if i == 0 {
			f.secret = v
		}
	}
	var err error
	if f.clock, err = newClock(s.Time); err != nil {
		return nil, key("time", err)
	}
	if f.charset, err = newCharset(s.Charset); err != nil {
		return nil, key("charset", err)
	}
	if f.headers, err = newHeaders(s.Headers); err != nil {
		return nil, err
	}
	before, _, _ := strings.Cut(s.URL, "{{")
	host, err := url.Parse(before)
	if err != nil || !webScheme(host) || strings.ContainsAny(before, " \t\r\n") {
		return nil, errNoAddress // url.Parse lets blanks stand in a path
	}
	if host.Host == "" || strings.Contains(s.URL, "{{") && host.Path == "" && host.RawQuery == "" {
		return nil, errors.New("url: the host must stand before everything that changes")
	}
	if f.address, err = newTemplate(s.URL); err != nil {
		return nil, errors.New("url: this is not a template") // its words would repeat the address
	}
	if s.Body != "" {
		if f.kind, err = newKind(s.Type); err != nil {
			return nil, key("type", err)
		}
		f.media = f.kind.media(s.Type, f.charset)
		if f.body, err = newTemplate(s.Body); err != nil {
			return nil, key("body", err)
		}
	} else if f.method != http.MethodGet && s.Type != "" {
		return nil, errors.New("body: there is a type and no body")
	}
	f.letters = inLetters.MatchString(s.Body)
	f.octet = strings.Contains(s.Body+s.URL, ".ValidOctet")
	for _, h := range s.Headers {
		f.octet = f.octet || strings.Contains(h, ".ValidOctet")
	}
	return f, f.try()
}

var errNoAddress = errors.New("url: not an http or https address such as https://sms.example/out")

func webScheme(u *url.URL) bool { return u.Scheme == "http" || u.Scheme == "https" }

// inLetters finds .Text, and not .TextHex, in a template.
var inLetters = regexp.MustCompile(`\.Text\b`)

// try fills the form in with a hostile text and reads it as what it says it
// is: number and text have to be in it.
func (f *pushForm) try() error {
	const to = "+447700900123" // a number that is nobody's
	o := outgoing{
		ID: hostile, To: to, ToDigits: to[1:], From: hostile, Text: hostile, TextHex: ucs2Hex(hostile),
		ValidUntil: instant(f.clock, time.Unix(1_800_000_000, 0)), ValidMinutes: 60, ValidOctet: 11, Segments: 2, Alphabet: "ucs2", Secret: hostile,
	}
	r, err := f.fill(o)
	if err != nil {
		return err
	}
	u, err := url.Parse(r.URL)
	if err != nil || u.Host == "" || !webScheme(u) {
		return errNoAddress
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return errors.New("url: its query is not a form")
	}
	values := strings.Split(u.Path, "/")
	for _, list := range query {
		values = append(values, list...)
	}
	for name, v := range r.Header {
		if strings.ContainsAny(v[0], "\r\n\x00") {
			return fmt.Errorf("headers: %s: it takes up more than a line", name)
		}
		values = append(values, v[0])
	}
	want := hostile
	if f.body != nil {
		inBody, err := f.kind.read(r.Body, f.charset)
		if err != nil {
			return f.kind.broken()
		}
		values = append(values, inBody...)
		want = f.kind.shown(hostile, f.charset)
	}
	carries := func(what string) bool {
		return slices.ContainsFunc(values, func(v string) bool { return strings.Contains(v, what) })
	}
	upper := strings.ToUpper(strings.Join(values, "\n"))
	switch {
	case !carries(want) && !carries(hostile) && !strings.Contains(upper, ucs2Hex(hostile)):
		return errors.New("body: the text is not in it whole; it stands where {{.Text}} or {{.TextHex}} does")
	case !carries(to[1:]):
		return errors.New("body: the number is not in it; it stands where {{.To}} or {{.ToDigits}} does")
	}
	return nil
}

// outcomes reads how the network's answers are understood.
func (s PushSpec) outcomes(p *Push) (err error) {
	if s.Answer != "" {
		format, known := formats[s.Answer]
		if !known || format == Query {
			return fmt.Errorf("answer: %q is not one of json, xml, form, text", s.Answer)
		}
		p.answer, p.id = format, Field{}
	} else if p.form != nil {
		p.answer, p.id = JSON, Field{}
	}
	if s.ID != "" {
		if p.id, err = answerField(p.answer, s.ID); err != nil {
			return key("id", err)
		}
	}
	for i, o := range s.Outcomes {
		r, err := o.build(p.answer)
		if err != nil {
			return key(fmt.Sprintf("outcomes: number %d", i+1), err)
		}
		p.rules = append(p.rules, r)
	}
	return nil
}

func answerField(format Format, at string) (Field, error) {
	f, err := newField(format, at)
	if err == nil && f.source == inQuery {
		err = errors.New("an answer has no query")
	}
	return f, err
}
