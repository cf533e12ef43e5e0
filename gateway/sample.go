package gateway

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/profile"
)

// Understood is what a network's description makes of a recorded request.
type Understood struct {
	Kind   string            // ussd, sms, receipt
	Denied error             // why the caller would not be let in; nil: it would
	Wrong  error             // why the call would be refused; nil: it would not
	Fields []UnderstoodField // in the order of the description
	Event  string            // begin, entry, end; "" where what the session said before decides
	Entry  string            // of a dialogue, before what the session said is taken off; else the text
}

// UnderstoodField is one value of a request.
type UnderstoodField struct {
	Name  string // as rowbell.toml calls it
	At    string // where it was looked for; "" = not described
	Value string // "" = not there
	Wrong string // a sentence; "" = fine
}

// maxSample bounds a recorded request, its head included.
const maxSample = maxBody + 16<<10

// ReadSample reads a recorded request: its head as HTTP/1.1 writes it, lines
// ended by CRLF or LF, and all that follows the empty line for its body.
func ReadSample(raw []byte) (*http.Request, error) {
	if len(raw) > maxSample {
		return nil, fmt.Errorf("the request is larger than %d KiB", maxSample>>10)
	}
	head, body, ok := bytes.Cut(raw, []byte("\r\n\r\n"))
	if lf, rest, found := bytes.Cut(raw, []byte("\n\n")); found && (!ok || len(lf) < len(head)) {
		head, body = lf, rest
	}
	head = slices.Concat(bytes.TrimRight(head, "\r\n"), []byte("\r\n\r\n")) // not into the body
	r, err := http.ReadRequest(bufio.NewReader(bytes.NewReader(head)))
	if err != nil {
		return nil, errors.New("this is not a recorded HTTP request: a line such as POST /in/NAME/ussd HTTP/1.1, headers, an empty line, the body")
	}
	r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
	return r, nil
}

// Understand tells what p makes of a request at the instant now; nothing is
// kept and nothing is sent. The kind is the last part of the request's path.
// r.RemoteAddr is where it comes from.
func Understand(p profile.Profile, r *http.Request, now time.Time) (Understood, error) {
	u := Understood{Kind: path.Base(r.URL.Path)}
	if u.Kind != kindUSSD && u.Kind != kindSMS && u.Kind != kindReceipt {
		return u, errors.New("the path of the request does not end in ussd, sms or receipt")
	}
	how := callOf(&p, u.Kind)
	if how.Method == "" {
		return u, fmt.Errorf("%s is not described for this network", u.Kind)
	}
	if how.Method != r.Method {
		return u, fmt.Errorf("the request is a %s; %s is described with %s", methodName(r.Method), u.Kind, how.Method)
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, maxBody+1))
	if err != nil || len(body) > maxBody {
		return u, fmt.Errorf("the body is larger than %d KiB", maxBody>>10)
	}
	r.Body = io.NopCloser(bytes.NewReader(body)) // it may be read again
	u.Denied = recognise(new(Rehearsal), direct(r), &p)
	if signed := p.Trust != nil && p.Trust.Signs(); u.Denied == nil && signed {
		u.Denied = p.Trust.Verify(r.Header, body, now)
	}
	if !how.Takes(r.Header.Get("Content-Type")) {
		return u, errors.New(how.Wants())
	}
	doc, err := how.Read(r.Header, r.URL.RawQuery, body)
	if err != nil {
		return u, err
	}
	c := &call{network: &p, in: &fields{doc: doc}, now: now}
	u.Wrong = u.read(c)
	return u, nil
}

func (u *Understood) read(c *call) error {
	p := c.network
	switch u.Kind {
	case kindUSSD:
		at := &p.USSD
		u.values(c, []string{"phone", "session", "dialled", "entry", "event", "step", "id"},
			[]profile.Field{at.Phone, at.Session, at.Dialled, at.Entry, at.Event, at.Step, at.ID})
		call, err := readUSSD(c)
		u.Event, u.Entry = call.event.String(), call.entry
		return err
	case kindSMS:
		u.values(c, []string{"id", "phone", "text"}, []profile.Field{p.SMS.ID, p.SMS.Phone, p.SMS.Text})
		c.in.need(p.SMS.ID)
		c.in.phone(p.SMS.Phone, p.CountryCode)
		u.Entry = c.in.text(p.SMS.Text, maxText)
	default:
		u.values(c, []string{"id", "state", "at", "reason"}, []profile.Field{p.Receipt.ID, p.Receipt.State, p.Receipt.At, p.Receipt.Reason})
		c.in.need(p.Receipt.ID)
		word := c.in.need(p.Receipt.State)
		if u.Event = word; p.Receipt.States != nil {
			u.Event = p.Receipt.States[word]
		}
	}
	return c.in.err()
}

func (u *Understood) values(c *call, names []string, at []profile.Field) {
	for i, f := range at {
		v, err := c.in.doc.Value(f)
		field := UnderstoodField{Name: names[i], At: f.At}
		if err != nil {
			field.Wrong = err.Error()
		} else if v != nil {
			field.Value = strings.ToValidUTF8(fmt.Sprint(v), "\ufffd")
		}
		u.Fields = append(u.Fields, field)
	}
}

// Rehearsal records what a request would be answered: an http.ResponseWriter
// for a Gateway on records that may be thrown away.
//
//	var got gateway.Rehearsal
//	g.ServeHTTP(&got, request)
type Rehearsal struct {
	Status int
	Body   bytes.Buffer
	header http.Header
}

// Header is what the answer carries beside its body.
func (a *Rehearsal) Header() http.Header {
	if a.header == nil {
		a.header = http.Header{}
	}
	return a.header
}

// WriteHeader keeps the first status.
func (a *Rehearsal) WriteHeader(status int) {
	if a.Status == 0 {
		a.Status = status
	}
}

func (a *Rehearsal) Write(b []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	return a.Body.Write(b)
}

// String is the answer as a file beside its request has it: status, the headers
// that the description sets, body.
func (a *Rehearsal) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "HTTP/1.1 %d %s\n", a.Status, http.StatusText(a.Status))
	h := a.Header().Clone()
	for _, ours := range []string{requestHeader, "X-Content-Type-Options", "Cache-Control"} {
		h.Del(ours)
	}
	var lines bytes.Buffer
	_ = h.Write(&lines) // a Buffer takes all
	b.WriteString(strings.ReplaceAll(lines.String(), "\r\n", "\n"))
	b.WriteString("\n")
	b.Write(a.Body.Bytes())
	return b.String()
}
