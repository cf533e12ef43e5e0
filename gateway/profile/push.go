package profile

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"text/template"
	"time"

	"rowbell/gateway/fault"
)

// Outgoing is a text to be sent.
type Outgoing struct {
	Key   string // id of the text, which is the same at each try to send the text
	To    string // phone number in E.164 with the plus
	Text  string
	Until time.Time // the last instant at which the text is still useful to the grower
}

// Request is the HTTP request of a push.
type Request struct {
	Method, URL string
	Header      http.Header
	Body        []byte // nil: the request has no body
}

// Errors of Compose for a text that must not be sent, even if the network would accept the text.
var (
	ErrTooLong = errors.New("longer than this network may be sent")
	// ErrTooLate: even the shortest validity period of the network ends after the text has become useless.
	ErrTooLate = errors.New("the network cannot be told to give it up in time")
	ErrLetters = errors.New("the network's charset lacks letters of it")
)

// pushForm is the HTTP request that gives a text to a network, as the table push of rowbell.toml describes it.
type pushForm struct {
	method        string
	address       *template.Template
	headers       []headerTemplate
	syntax        syntax
	contentType   string
	charset       Charset
	body          *template.Template // nil: the request has no body
	layout        string             // how the time ValidUntil is written, see newLayout
	secret        string             // the value .Secret of the templates
	usesOctet     bool               // a template has .ValidOctet, whose shortest validity period is five minutes
	lettersInBody bool               // the body has .Text; the body's charset may lack letters of the text
}

// pushValues are the values that the templates of a push may use. The manual lists the values by these names.
type pushValues struct {
	ID           string // id of the text, which is the same at each try to send the text
	To, ToDigits string // the phone number with and without the plus
	From         string
	Text         string
	TextHex      string // the text as UCS-2 units in hexadecimal digits
	ValidUntil   string
	ValidMinutes int
	ValidOctet   int // validity period TP-VP in relative format: 3GPP TS 23.040, clause 9.2.3.12
	Segments     int
	Alphabet     string // gsm7, ucs2
	Secret       string
}

func (v pushValues) escaped(k syntax, c Charset) pushValues {
	for _, s := range []*string{&v.ID, &v.To, &v.ToDigits, &v.From, &v.Text, &v.ValidUntil, &v.Secret} {
		*s = k.escape(*s, c)
	}
	return v
}

// ourPushBody is the body of a push in the project's own format.
type ourPushBody struct {
	ID         string `json:"id"`
	To         string `json:"to"`
	From       string `json:"from"`
	Text       string `json:"text"`
	ValidUntil string `json:"valid_until"`
}

// Compose writes the HTTP request that gives a text to the network at the instant now. It returns ErrTooLong,
// ErrTooLate or ErrLetters for a text that must not be sent.
func (p Profile) Compose(o Outgoing, now time.Time) (Request, error) {
	encoded := p.Encoder.Encode(o.Text)
	if p.Push.Segments > 0 && encoded.Segments > p.Push.Segments {
		return Request{}, ErrTooLong
	}
	until := o.Until
	if latest := now.Add(p.Push.Validity); p.Push.Validity > 0 && latest.Before(until) {
		until = latest
	}
	f := p.Push.form
	if f == nil {
		valid := until.UTC().Format(time.RFC3339)
		body, err := json.Marshal(ourPushBody{ID: o.Key, To: o.To, From: p.Sender, Text: o.Text, ValidUntil: valid})
		header := http.Header{"Content-Type": {"application/json"}, "Idempotency-Key": {o.Key}}
		return Request{http.MethodPost, p.Push.URL, header, body}, err
	}
	left := until.Sub(now)
	octet, ok := validOctet(left)
	if f.usesOctet && !ok {
		return Request{}, ErrTooLate
	}
	if f.lettersInBody && f.syntax.received(o.Text, f.charset) != o.Text {
		return Request{}, ErrLetters // the grower would read question marks instead of these letters
	}
	return f.fill(pushValues{
		ID: o.Key, To: o.To, ToDigits: strings.TrimPrefix(o.To, "+"), From: p.Sender,
		Text: o.Text, TextHex: ucs2Hex(o.Text),
		ValidUntil: formatTime(f.layout, until), ValidMinutes: int(max(left, 0) / time.Minute), ValidOctet: octet,
		Segments: encoded.Segments, Alphabet: encoded.Encoding.Alphabet.String(), Secret: f.secret,
	})
}

func (f *pushForm) fill(v pushValues) (Request, error) {
	address, err := fill(f.address, v.escaped(urlPart, Charset{}))
	if err != nil {
		return Request{}, fault.Under("url", err)
	}
	header, err := fillHeaders(f.headers, v.escaped(headerLine, Charset{}))
	r := Request{Method: f.method, URL: address, Header: header}
	if err != nil || f.body == nil {
		return r, err
	}
	body, err := fill(f.body, v.escaped(f.syntax, f.charset))
	if err != nil {
		return r, fault.Under("body", err)
	}
	r.Header.Set("Content-Type", f.contentType)
	r.Body = f.syntax.encode(body, f.charset)
	return r, nil
}

// validOctet returns the longest validity period that is no longer than left, in the relative format of 3GPP TS 23.040,
// clause 9.2.3.12. ok is false if left is under five minutes, the shortest period.
func validOctet(left time.Duration) (octet int, ok bool) {
	const day = 24 * time.Hour
	switch {
	case left < 5*time.Minute:
		return 0, false
	case left <= 12*time.Hour:
		return int(left/(5*time.Minute)) - 1, true
	case left <= day:
		return 143 + int((left-12*time.Hour)/(30*time.Minute)), true
	case left < 2*day:
		return 167, true
	case left < 35*day:
		return 166 + int(min(left/day, 30)), true
	}
	return 192 + int(min(left/(7*day), 63)), true
}
