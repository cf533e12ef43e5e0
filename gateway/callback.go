package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/go-chi/chi/v5"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Bounds of what a network may send. A text of ten SMS segments has 1530
// characters; ids are the network's own and short.
const (
	maxBody  = 64 << 10
	maxID    = 128
	maxText  = 1600
	maxPhone = 64
	maxSteps = 1 << 20
)

// call is one callback that was let in.
type call struct {
	id      string // of the request, for keys that must be new
	webhook string // webhook-id header: the same on every repeat; "" = not sent
	network profile.Profile
	in      *fields
	now     time.Time // the instant of the whole call
	quiet   bool      // a limit holds it back: it works without an answer
	stopped bool      // being held back, it was the grower's STOP, and was done
}

// answer is what a callback gets.
type answer struct {
	status int
	body   []byte // JSON; nil: empty
	repeat bool   // it is the answer that the call had got before
}

// callback lets a network's call in: known, authenticated, bounded, decoded.
// Then it runs h and writes its answer.
func (g *Gateway) callback(h func(context.Context, *call) (answer, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), g.o.Deadline)
		defer cancel()
		c, err := g.admit(w, r)
		var a answer
		if err == nil {
			a, err = h(ctx, c)
		}
		if err != nil {
			g.fail(w, r, err)
			return
		}
		if a.repeat {
			repeated(ctx)
		}
		if a.body != nil {
			w.Header().Set("Content-Type", "application/json")
		}
		w.WriteHeader(a.status)
		_, _ = w.Write(a.body) // the caller has gone: the repeat will find it
	}
}

func (g *Gateway) admit(w http.ResponseWriter, r *http.Request) (*call, error) {
	network, known := g.networks[chi.URLParam(r, "gateway")]
	if !known {
		return nil, problem.New(http.StatusNotFound, "No network is set up under this name.")
	}
	if allowed := network.Open && fromLoopback(r) || network.Token.Admits(r.Header.Get("Authorization")); !allowed {
		w.Header().Set("WWW-Authenticate", `Bearer realm="rowbell"`)
		return nil, problem.New(http.StatusUnauthorized, "Send this network's token: Authorization: Bearer <token>.")
	}
	webhook := r.Header.Get("webhook-id")
	if len(webhook) > maxID || !printable(webhook) {
		return nil, problem.New(http.StatusBadRequest, fmt.Sprintf("The webhook-id header is longer than %d characters or not printable.", maxID))
	}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" && kind != "application/x-www-form-urlencoded" {
		return nil, problem.New(http.StatusUnsupportedMediaType, "Send application/json, or the same names as application/x-www-form-urlencoded.")
	}
	body, err := readBody(w, r)
	if err != nil {
		return nil, err
	}
	in, err := decode(kind, body)
	if err != nil {
		return nil, err
	}
	return &call{id: requestID(w), webhook: webhook, network: network, in: in, now: g.o.Clock.Now()}, nil
}

func readBody(w http.ResponseWriter, r *http.Request) ([]byte, error) {
	tooLarge := problem.New(http.StatusRequestEntityTooLarge, fmt.Sprintf("The body is larger than %d KiB.", maxBody>>10))
	if r.ContentLength > maxBody {
		return nil, tooLarge
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	var over *http.MaxBytesError
	switch {
	case errors.As(err, &over):
		return nil, tooLarge
	case errors.Is(err, os.ErrDeadlineExceeded):
		return nil, problem.New(http.StatusRequestTimeout, "The body came too slowly.")
	case err != nil:
		return nil, problem.New(http.StatusBadRequest, "The body broke off.")
	}
	return body, nil
}

// fields reads the values of a body one by one and collects what is wrong with
// them; err has all of it.
type fields struct {
	doc  any        // JSON
	form url.Values // or a form
	bad  []problem.Field
}

// decode takes a body of the content type kind apart.
func decode(kind string, body []byte) (*fields, error) {
	if kind != "application/json" {
		if err := fewFields(body); err != nil {
			return nil, err
		}
		form, err := url.ParseQuery(string(body))
		if err != nil {
			return nil, problem.New(http.StatusBadRequest, "The body is not a form.")
		}
		return &fields{form: form}, nil
	}
	if !utf8.Valid(body) {
		return nil, problem.New(http.StatusBadRequest, "The body is not UTF-8.")
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	var doc map[string]any
	if err := d.Decode(&doc); err != nil || doc == nil {
		return nil, problem.New(http.StatusBadRequest, "The body is not a JSON object.")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, problem.New(http.StatusBadRequest, "Something follows the JSON object.")
	}
	return &fields{doc: doc}, nil
}

// err is the problem with the fields read so far, or nil.
func (f *fields) err() error {
	if len(f.bad) == 0 {
		return nil
	}
	p := problem.New(http.StatusBadRequest, f.bad[0].Detail)
	p.Errors = f.bad
	return p
}

func (f *fields) refuse(at profile.Pointer, detail string) {
	f.bad = append(f.bad, problem.Field{Detail: detail, Pointer: string(at)})
}

// value is the string (or JSON number) at a place; false where none is.
func (f *fields) value(at profile.Pointer) (any, bool) {
	if f.form == nil {
		return at.Lookup(f.doc)
	}
	switch v := f.form[at.Name()]; {
	case at == "" || len(v) == 0:
		return nil, false
	case len(v) > 1:
		f.refuse(at, "There is more than one of this field.")
		return nil, false
	default:
		return v[0], true
	}
}

// text is a string of at most limit characters; "" where none was sent.
func (f *fields) text(at profile.Pointer, limit int) string {
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

// name is an identifier or a word: a printable text.
func (f *fields) name(at profile.Pointer) string {
	s := f.text(at, maxID)
	if !printable(s) {
		f.refuse(at, "This holds characters that cannot be printed.")
		return ""
	}
	return s
}

// need is name for a value that has to be there.
func (f *fields) need(at profile.Pointer) string {
	before := len(f.bad)
	s := f.name(at)
	if s == "" && len(f.bad) == before {
		f.refuse(at, "This is needed.")
	}
	return s
}

// phone is the phone number, which has to be there.
func (f *fields) phone(at profile.Pointer, countryCode string) store.Phone {
	before := len(f.bad)
	p, err := ParsePhone(f.text(at, maxPhone), countryCode)
	if err != nil && len(f.bad) == before {
		f.refuse(at, "This is not a phone number in international form: a plus, then 8 to 15 digits.")
	}
	return p
}

// count is a whole number from 0; false where none was sent.
func (f *fields) count(at profile.Pointer) (int, bool) {
	v, ok := f.value(at)
	if !ok || v == "" && f.form != nil {
		return 0, false
	}
	s := ""
	switch v := v.(type) {
	case json.Number:
		s = v.String()
	case string:
		if f.form != nil {
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

// What follows is good to know and no more: a value that cannot be read is as
// good as none, and costs nobody a call.

// instant is a time of RFC 3339; the zero time where none was sent.
func (f *fields) instant(at profile.Pointer) time.Time {
	v, _ := f.optional(at).(string)
	t, _ := time.Parse(time.RFC3339, v)
	return t
}

// note is what a network says in words, on one line and cut where it is long.
func (f *fields) note(at profile.Pointer) string {
	v, _ := f.optional(at).(string)
	var b strings.Builder
	n := 0
	for _, r := range strings.ToValidUTF8(v, "") {
		if n++; n > maxID {
			break
		}
		if !unicode.IsPrint(r) {
			r = ' '
		}
		b.WriteRune(r)
	}
	return strings.TrimSpace(b.String())
}

// optional is the value at a place, nil where there is none to be had.
func (f *fields) optional(at profile.Pointer) any {
	before := f.bad
	v, _ := f.value(at)
	f.bad = before
	return v
}

func printable(s string) bool {
	for _, r := range s {
		if !unicode.IsPrint(r) {
			return false
		}
	}
	return true
}
