package profile

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"text/template"
	"time"

	"rowbell/menu/text"
)

// Outgoing is a text on its way out.
type Outgoing struct {
	Key   string // the same for every try
	To    string // E.164 with the plus
	Text  string
	Until time.Time // the last instant in which it is useful
}

// Request is a push as it goes out over HTTP.
type Request struct {
	Method, URL string
	Header      http.Header
	Body        []byte // nil: none
}

// Texts that must not go out, whatever the network would say.
var (
	ErrTooLong = errors.New("longer than this network may be sent")
	ErrTooLate = errors.New("the network cannot be told to give it up in time")
	ErrLetters = errors.New("the network's charset lacks letters of it")
)

// pushForm is how a network of its own description is asked to send a text.
type pushForm struct {
	method  string
	address *template.Template
	headers []namedTemplate
	kind    kind
	media   string
	charset Charset
	body    *template.Template // nil: none
	clock   string
	secret  string
	octet   bool // a template asks for ValidOctet
	letters bool // the body holds the text in letters, which its charset may lack
}

// outgoing is what the templates of a push may use.
type outgoing struct {
	ID           string // the same on every try
	To, ToDigits string // with and without the plus
	From         string
	Text         string
	TextHex      string // UCS-2 units in hexadecimal digits
	ValidUntil   string
	ValidMinutes int
	ValidOctet   int // TP-VP, relative: 3GPP TS 23.040, clause 9.2.3.12
	Segments     int
	Alphabet     string // gsm7, ucs2
	Secret       string
}

func (o outgoing) escaped(k kind, c Charset) outgoing {
	for _, s := range []*string{&o.ID, &o.To, &o.ToDigits, &o.From, &o.Text, &o.ValidUntil, &o.Secret} {
		*s = k.escape(*s, c)
	}
	return o
}

// ourOutgoing is the body of a push in our own format.
type ourOutgoing struct {
	ID         string `json:"id"`
	To         string `json:"to"`
	From       string `json:"from"`
	Text       string `json:"text"`
	ValidUntil string `json:"valid_until"`
}

// Compose writes the request that hands a text to the network at the instant
// now. It fails with ErrTooLong, ErrTooLate or ErrLetters.
func (p Profile) Compose(o Outgoing, now time.Time) (Request, error) {
	encoded := text.Encoder{}.Encode(o.Text)
	if p.Push.Segments > 0 && encoded.Segments > p.Push.Segments {
		return Request{}, ErrTooLong
	}
	until := o.Until
	if latest := now.Add(p.Push.Validity); p.Push.Validity > 0 && latest.Before(until) {
		until = latest
	}
	f := p.Push.form
	if f == nil {
		body, err := json.Marshal(ourOutgoing{ID: o.Key, To: o.To, From: p.Sender, Text: o.Text, ValidUntil: until.UTC().Format(time.RFC3339)})
		header := http.Header{"Content-Type": {"application/json"}, "Idempotency-Key": {o.Key}}
		return Request{http.MethodPost, p.Push.URL, header, body}, err
	}
	left := until.Sub(now)
	octet, ok := validOctet(left)
	if f.octet && !ok {
		return Request{}, ErrTooLate
	}
	if f.letters && f.kind.shown(o.Text, f.charset) != o.Text {
		return Request{}, ErrLetters // a row of question marks helps nobody
	}
	return f.fill(outgoing{
		ID: o.Key, To: o.To, ToDigits: digitsOf(o.To), From: p.Sender, Text: o.Text, TextHex: ucs2Hex(o.Text),
		ValidUntil: instant(f.clock, until), ValidMinutes: int(max(left, 0) / time.Minute), ValidOctet: octet,
		Segments: encoded.Segments, Alphabet: encoded.Encoding.Alphabet.String(), Secret: f.secret,
	})
}

func (f *pushForm) fill(o outgoing) (Request, error) {
	r := Request{Method: f.method, Header: http.Header{}}
	var err error
	if r.URL, err = fill(f.address, o.escaped(inURL, Charset{})); err != nil {
		return r, key("url", err)
	}
	line := o.escaped(inHeaderLine, Charset{})
	for _, h := range f.headers {
		v, err := fill(h.Template, line)
		if err != nil {
			return r, fmt.Errorf("headers: %s: %w", h.name, err)
		}
		r.Header.Set(h.name, v)
	}
	if f.body == nil {
		return r, nil
	}
	body, err := fill(f.body, o.escaped(f.kind, f.charset))
	if err != nil {
		return r, key("body", err)
	}
	r.Header.Set("Content-Type", f.media)
	r.Body = f.kind.octets(body, f.charset)
	return r, nil
}

func digitsOf(e164 string) string {
	if len(e164) > 0 && e164[0] == '+' {
		return e164[1:]
	}
	return e164
}

// validOctet is the longest validity period in the relative format of 3GPP TS
// 23.040, clause 9.2.3.12, that ends no later than left from now; false where
// even the shortest, five minutes, is longer.
func validOctet(left time.Duration) (int, bool) {
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
