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

// Understood is what the gateway would read from a recorded request.
type Understood struct {
	Kind   string // ussd, sms, receipt
	Denied error  // why authentication would fail; nil: authentication would succeed
	Hint   string // what to change if authentication would fail; "" = nothing is known
	Batch  bool   // the call may have several items
	Items  []UnderstoodItem
}

// Wrong returns an error if an item would be refused.
func (u *Understood) Wrong() error {
	for _, i := range u.Items {
		if i.Wrong != nil {
			return i.Wrong
		}
	}
	return nil
}

// UnderstoodItem is a text or a receipt of a request, or its USSD call.
type UnderstoodItem struct {
	Wrong  error             // why the item would be refused; nil: the item would be accepted
	Fields []UnderstoodField // in the order of the profile
	// Event is begin, entry or end for a USSD call, or "" if the event depends on the earlier calls of the session. For
	// a receipt it is the reported state.
	Event string
	Entry string   // the entry field of a USSD call as sent, or the text of an SMS
	Hints []string // what in the description may be wrong
}

// UnderstoodField is one value of a request.
type UnderstoodField struct {
	Name  string // key of the value in rowbell.toml, such as phone
	At    string // place of the value in the request; "" = the profile describes no place
	Value string // "" = the request does not contain the value
	Wrong string // what is wrong, in a sentence; "" = no mistake
}

// maxSample bounds the bytes of a recorded request: the body may have maxBody bytes, and the head 16 KiB.
const maxSample = maxBody + 16<<10

// ReadSample parses a recorded request: an HTTP/1.1 head with lines ended by CRLF or LF, an empty line, and the body.
func ReadSample(raw []byte) (*http.Request, error) {
	if len(raw) > maxSample {
		return nil, fmt.Errorf("the request is larger than %d KiB", maxSample>>10)
	}
	head, body, ok := bytes.Cut(raw, []byte("\r\n\r\n"))
	if lf, rest, found := bytes.Cut(raw, []byte("\n\n")); found && (!ok || len(lf) < len(head)) {
		head, body = lf, rest
	}
	head = slices.Concat(bytes.TrimRight(head, "\r\n"), []byte("\r\n\r\n"))
	r, err := http.ReadRequest(bufio.NewReader(bytes.NewReader(head)))
	if err != nil {
		return nil, errors.New("this is not a recorded HTTP request: " +
			"a line such as POST /in/NAME/ussd HTTP/1.1, headers, an empty line, the body")
	}
	r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
	return r, nil
}

// Understand decodes a request by the profile p at the instant now. It neither reads nor writes the records. The last
// part of the path must be the kind of the callback (ussd, sms, receipt), and r.RemoteAddr the caller's address
// with a port.
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
	r.Body = io.NopCloser(bytes.NewReader(body)) // the caller of Understand may read the body again
	u.Denied = authenticate(new(Rehearsal), withoutProxy(r), &p, func(bool) error { return nil })
	if signed := p.Trust != nil && p.Trust.Signs(); u.Denied == nil && signed {
		_, u.Denied = p.Trust.Verify(signedBy(r, &p, u.Kind, body), now)
	}
	if u.Denied != nil && p.Trust != nil {
		u.Hint = p.Trust.Explain(signedBy(r, &p, u.Kind, body), clientIP(withoutProxy(r)), now)
	}
	if !how.AcceptsType(r.Header.Get("Content-Type")) {
		return u, fmt.Errorf("%s (the request has the Content-Type %q; see body and charset)",
			how.TypeHint(), r.Header.Get("Content-Type"))
	}
	doc, err := how.Read(r.Header, r.URL.RawQuery, body)
	if err != nil {
		return u, err
	}
	items, err := how.Items(doc)
	if err != nil {
		return u, fmt.Errorf("%w (%s)", itemsProblem(err), places(doc))
	}
	u.Batch = how.Batch()
	for _, doc := range items {
		c := &call{network: &p, in: &fields{doc: doc, one: u.Kind != kindUSSD && !u.Batch}, now: now}
		i := UnderstoodItem{Wrong: doc.Refused()}
		if err := i.read(c, u.Kind); i.Wrong == nil {
			i.Wrong = err
		}
		i.hint(&p, u.Kind, doc, now)
		u.Items = append(u.Items, i)
	}
	return u, nil
}

// read fills in the fields of u and returns the mistakes in them.
func (u *UnderstoodItem) read(c *call, kind string) error {
	p := c.network
	switch kind {
	case kindUSSD:
		at := &p.USSD
		u.values(c, []string{"phone", "session", "dialled", "entry", "event", "step", "id"},
			[]profile.Field{at.Phone, at.Session, at.Dialled, at.Entry, at.Event, at.Step, at.ID})
		call, err := readUSSD(c)
		u.Event, u.Entry = call.event, call.entry
		return err
	case kindSMS:
		u.values(c, []string{"id", "phone", "text", "at"},
			[]profile.Field{p.SMS.ID, p.SMS.Phone, p.SMS.Text, p.SMS.At})
		t := &inText{item: &item{call: *c}}
		t.read()
		u.Entry = t.body
	default:
		u.values(c, []string{"id", "state", "at", "reason"},
			[]profile.Field{p.Receipt.ID, p.Receipt.State, p.Receipt.At, p.Receipt.Reason})
		u.Event = readReceipt(&item{call: *c}).name
	}
	return c.in.err()
}

func (u *UnderstoodItem) values(c *call, names []string, at []profile.Field) {
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

// Rehearsal is an http.ResponseWriter that keeps the gateway's response to a recorded request in memory.
//
//	var got gateway.Rehearsal
//	g.ServeHTTP(&got, request)
type Rehearsal struct {
	Status int
	Body   bytes.Buffer
	header http.Header
}

// Header returns the headers of the response.
func (a *Rehearsal) Header() http.Header {
	if a.header == nil {
		a.header = http.Header{}
	}
	return a.header
}

// WriteHeader records the first status that it gets and ignores later ones.
func (a *Rehearsal) WriteHeader(status int) {
	if a.Status == 0 {
		a.Status = status
	}
}

func (a *Rehearsal) Write(b []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	return a.Body.Write(b)
}

// String formats the response like the .answer files below testdata/gateways: the status, the headers that the profile
// sets, and the body.
func (a *Rehearsal) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "HTTP/1.1 %d %s\n", a.Status, http.StatusText(a.Status))
	h := a.Header().Clone()
	for _, ours := range []string{requestHeader, "X-Content-Type-Options", "Cache-Control"} {
		h.Del(ours)
	}
	var lines bytes.Buffer
	_ = h.Write(&lines) // writing to a Buffer never fails
	b.WriteString(strings.ReplaceAll(lines.String(), "\r\n", "\n"))
	b.WriteString("\n")
	b.Write(a.Body.Bytes())
	return b.String()
}
