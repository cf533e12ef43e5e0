package profile

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/fault"
)

// PushSpec is the table push of rowbell.toml: how texts are sent to the network.
type PushSpec struct {
	URL     string            `toml:"url"`
	Method  string            `toml:"method"` // HTTP method; default POST
	Type    string            `toml:"type"`
	Charset string            `toml:"charset"`
	Headers map[string]string `toml:"headers"`
	Body    string            `toml:"body"`
	Time    string            `toml:"time"`    // how the time .ValidUntil is written; default rfc3339
	Secrets []string          `toml:"secrets"` // names of environment variables; the first one is .Secret

	Answer     string        `toml:"answer"` // format of the network's answer: json, xml, form, text
	ID         string        `toml:"id"`     // place of the network's own id of the text in the answer
	Success    *SuccessSpec  `toml:"success"`
	Outcomes   []OutcomeSpec `toml:"outcomes"`
	Namespaces Namespaces    `toml:"namespaces"` // for answer = "xml": prefixes of the XPaths

	Rate         *float64 `toml:"rate"`
	Concurrency  int      `toml:"concurrency"`
	Timeout      Span     `toml:"timeout"`
	Validity     Span     `toml:"validity"`
	Segments     int      `toml:"segments"`
	SegmentPrice float64  `toml:"segment_price"`
	Idempotent   *bool    `toml:"idempotent"`

	TLSFiles
}

// TLSFiles are the paths of PEM files for the connections to a network. The package does not read them.
type TLSFiles struct {
	Certificate string `toml:"certificate"` // our certificate, then those that signed it
	Key         string `toml:"key"`         // the private key of our certificate
	Authority   string `toml:"authority"`   // who signs the network's certificate; "" = those that the system knows
}

// check refuses half a pair of files, and files for an address without TLS.
func (f TLSFiles) check(url string) error {
	var m fault.List
	m.Refuse(f.Certificate != "" && f.Key == "", "key", "the certificate needs the file of its private key")
	m.Refuse(f.Certificate == "" && f.Key != "", "certificate", "the key needs the file of its certificate")
	m.Refuse(f != TLSFiles{} && !strings.HasPrefix(strings.ToLower(url), "https:"),
		"url", "certificate, key and authority are for an address that begins with https")
	return m.Err()
}

func (s PushSpec) build(look Lookup) (Push, error) {
	var m fault.List
	p := ourPush()
	p.URL = s.URL
	if s.Rate != nil {
		p.Rate = *s.Rate
	}
	p.Concurrency = cmp.Or(s.Concurrency, p.Concurrency)
	m.Add("timeout", s.Timeout.check())
	p.Timeout = cmp.Or(time.Duration(s.Timeout), p.Timeout)
	m.Add("validity", s.Validity.check())
	p.Validity = time.Duration(s.Validity)
	m.Refuse(!(s.SegmentPrice >= 0 && s.SegmentPrice <= 1e6), // written with ! so that NaN is refused too
		"segment_price", "%g is not a price", s.SegmentPrice)
	p.SegmentPrice = int64(math.Round(s.SegmentPrice * 1e6))
	m.Refuse(s.Segments < 0 || s.Segments > 255, "segments", "%d is not in 0..255", s.Segments)
	p.Segments = s.Segments
	m.Refuse(s.URL == "", "url", "say where texts go")
	m.Add("", s.TLSFiles.check(s.URL))
	p.TLS = s.TLSFiles

	if s.Method+s.Type+s.Charset+s.Body+s.Time != "" || s.Headers != nil || s.Secrets != nil {
		var err error
		p.form, err = s.form(look)
		m.Add("", err)
		p.Idempotent = false
		p.answer, p.id, p.success = JSON, Field{}, proof{}
	}
	if s.Idempotent != nil {
		p.Idempotent = *s.Idempotent
	}
	m.Add("", s.buildAnswer(&p))
	return p, m.Err()
}

// form builds the request that gives a text to the network.
func (s PushSpec) form(look Lookup) (*pushForm, error) {
	var m fault.List
	f := &pushForm{method: cmp.Or(s.Method, http.MethodPost)}
	m.Refuse(!slices.Contains([]string{http.MethodPost, http.MethodPut, http.MethodGet}, f.method),
		"method", "%q is not one of POST, GET, PUT", s.Method)
	for i, env := range s.Secrets {
		v, err := look.secret(env)
		m.Add(fmt.Sprintf("secrets[%d]", i+1), err)
		if i == 0 {
			f.secret = v
		}
	}
	var err error
	f.layout, err = newLayout(s.Time)
	m.Add("time", err)
	f.charset, err = newCharset(s.Charset)
	m.Add("charset", err)
	f.headers, err = newHeaders(s.Headers)
	m.Add("headers", err)

	fixed, _, varies := strings.Cut(s.URL, "{{")
	host, err := url.Parse(fixed)
	if err != nil || !webScheme(host) || strings.ContainsAny(fixed, " \t\r\n") { // url.Parse accepts a blank in a path
		m.Add("url", errNoAddress)
	} else {
		m.Refuse(host.Host == "" || varies && host.Path == "" && host.RawQuery == "",
			"url", "the host must stand before everything that changes")
	}
	f.address, err = newTemplate(s.URL)
	if errors.As(err, new(syntaxError)) { // it may show the address, with a password
		err = errors.New("this is not a template: a value in it is written as {{.ToDigits}}")
	}
	m.Add("url", err)
	m.Add("", s.checkSecret())

	if s.Body != "" {
		f.syntax, err = newSyntax(s.Type)
		m.Add("type", err)
		f.contentType = f.syntax.contentType(s.Type, f.charset)
		f.body, err = newTemplate(s.Body)
		m.Add("body", err)
	}
	m.Refuse(s.Body == "" && f.method != http.MethodGet && s.Type != "", "body", "there is a type and no body")
	f.lettersInBody = inLetters.MatchString(s.Body)
	f.usesOctet = strings.Contains(s.Body+s.URL, ".ValidOctet")
	for _, h := range s.Headers {
		f.usesOctet = f.usesOctet || strings.Contains(h, ".ValidOctet")
	}
	if len(m) == 0 {
		m.Add("", f.try(s.Body))
	}
	return f, m.Err()
}

// checkSecret refuses a template that has a secret, and no secret.
func (s PushSpec) checkSecret() error {
	var m fault.List
	if len(s.Secrets) > 0 {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(s.Headers)) {
		if headerName.MatchString(name) {
			m.Add("headers", fault.Under(name, errIfSecret(s.Headers[name])))
		}
	}
	m.Add("body", errIfSecret(s.Body))
	m.Add("url", errIfSecret(s.URL))
	return m.Err()
}

func errIfSecret(template string) error {
	if !usesSecret.MatchString(template) {
		return nil
	}
	return errors.New(`.Secret is empty: name the environment variable that holds it, secrets = ["HERON_SEND"]`)
}

var usesSecret = regexp.MustCompile(`\{\{[^}]*\.Secret\b`)

var errNoAddress = errors.New("not an http or https address such as https://sms.example/out")

// textKey is the key of the template that must have the text.
func (f *pushForm) textKey() string {
	if f.body == nil {
		return "url"
	}
	return "body"
}

// inLetters matches a template that writes a text in letters, which a charset may lack: it has .Text, not .TextHex.
var inLetters = regexp.MustCompile(`\.Text\b`)

// try fills the form, whose body is written so, with the text hostile, and returns an error unless the phone number and
// the text can be read back from the request. So no text can break a request later.
func (f *pushForm) try(written string) error {
	const to = "+447700900123" // a number from the range that is reserved for fiction
	v := pushValues{
		ID: hostile, To: to, ToDigits: to[1:], From: hostile, Text: hostile, TextHex: ucs2Hex(hostile),
		ValidUntil: formatTime(f.layout, time.Unix(1_800_000_000, 0)), ValidMinutes: 60, ValidOctet: 11,
		Segments: 2, Alphabet: "ucs2", Secret: hostile,
	}
	r, err := f.fill(v)
	if err != nil {
		return err
	}
	u, err := url.Parse(r.URL)
	if err != nil || u.Host == "" || !webScheme(u) {
		return fault.Under("url", errNoAddress)
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return fault.Under("url", errors.New("its query is not a form"))
	}
	if err := checkLines(r.Header); err != nil {
		return err
	}
	found := strings.Split(u.Path, "/")
	for _, list := range query {
		found = append(found, list...)
	}
	for _, list := range r.Header {
		found = append(found, list...)
	}
	want := hostile
	if f.body != nil {
		leaves, err := f.syntax.leaves(r.Body, f.charset)
		if err != nil {
			if f.layout == layoutUnix || f.layout == layoutUnixMS {
				written = strings.ReplaceAll(written, "{{.ValidUntil}}", "0") // a number is right without quotes
			}
			return f.syntax.errBroken(written)
		}
		found = append(found, values(leaves)...)
		want = f.syntax.received(hostile, f.charset)
	}
	carries := func(what string) bool {
		return slices.ContainsFunc(found, func(v string) bool { return strings.Contains(v, what) })
	}
	upper := strings.ToUpper(strings.Join(found, "\n"))
	switch {
	case !carries(want) && !carries(hostile) && !strings.Contains(upper, ucs2Hex(hostile)):
		return fault.Under(f.textKey(),
			errors.New("the text is not in it whole; it stands where {{.Text}} or {{.TextHex}} does"))
	case !carries(to[1:]):
		return fault.Under(f.textKey(),
			errors.New("the number is not in it; it stands where {{.To}} or {{.ToDigits}} does"))
	case f.body == nil:
		return nil
	}
	v.Text, v.TextHex, v.ID = plainWord, ucs2Hex(plainWord), plainID
	plain, err := f.fill(v)
	if err != nil || !f.syntax.comesWhole(plain.Body, r.Body, hostile, f.charset) {
		return f.syntax.errNotWhole()
	}
	return nil
}

// buildAnswer stores in p how the network's answers to a push are read.
func (s PushSpec) buildAnswer(p *Push) error {
	var m fault.List
	if s.Answer != "" {
		format, known := formats[s.Answer]
		m.Refuse(!known || format == Query, "answer", "%q is not one of json, xml, form, text", s.Answer)
		if !known {
			format = Form // where any name is a place: only the wrong answer is a mistake, not the places
		}
		p.answer, p.id, p.success = format, Field{}, proof{}
	}
	m.Add("namespaces", s.Namespaces.check(p.answer))
	if s.ID != "" {
		var err error
		p.id, err = answerField(p.answer, s.ID, s.Namespaces)
		m.Add("id", err)
		p.success = proof{}
	}
	if s.Success != nil {
		var err error
		p.success, err = s.Success.build(p.answer, s.Namespaces)
		m.Add("success", err)
	}
	wrong := false
	for i, o := range s.Outcomes {
		r, err := o.build(p.answer, s.Namespaces)
		wrong = wrong || err != nil
		m.Add(fmt.Sprintf("outcomes[%d]", i+1), err)
		p.outcomes = append(p.outcomes, r)
	}
	hasPlace := func(r outcomeRule) bool { return r.at.Sent() }
	described := s.Answer != "" || s.ID != "" || slices.ContainsFunc(p.outcomes, hasPlace)
	m.Refuse(described && !wrong && !p.Proves(), "success", // a wrong outcome may be the one that proves it
		`say what in the answer proves that the network took the text: success = { at = %q }, or with the values `+
			`that mean yes, success = { at = %[1]q, is = ["..."] }; without it, every page with status 200 would do`,
		cmp.Or(s.ID, "PLACE"))
	return m.Err()
}

// answerField is newField for an answer to a push, which has no query.
func answerField(format Format, at string, names Namespaces) (Field, error) {
	f, err := newField(format, at, names)
	if err == nil && f.source == inQuery {
		err = errors.New("an answer has no query")
	}
	if err != nil && format == JSON {
		err = fmt.Errorf(`%w; an answer that is not json needs answer = "xml", "form" or "text"`, err)
	}
	return f, err
}
