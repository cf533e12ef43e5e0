package profile

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"text/template"

	"rowbell/gateway/fault"
)

// ReplySpec is the table reply of rowbell.toml: how the service answers a network's call.
type ReplySpec struct {
	Status  int               `toml:"status"` // HTTP status; default 200
	Type    string            `toml:"type"`
	Charset string            `toml:"charset"`
	Headers map[string]string `toml:"headers"`
	Body    string            `toml:"body"`
}

// ReplyValues are the values that the templates of a reply may use.
type ReplyValues struct {
	Text    string // text of the screen
	TextHex string // Text as UCS-2 units in hexadecimal digits; set by Render
	More    bool   // the dialogue goes on; if false, the network should end the session
	Session string // the network's session id
	ID      string // the network's id of the incoming text or of the call
	// For a call that may have several items: the ids of those that are kept, and how many are kept and refused.
	IDs           []string
	Kept, Refused int
}

// Reply says how the service answers a network's call.
type Reply struct {
	status      int
	syntax      syntax
	contentType string
	charset     Charset
	headers     []headerTemplate
	body        *template.Template // nil: the reply has no body
}

// build makes the reply. If needsText is true, its body must have the text of a screen and show whether the session
// goes on.
func (s ReplySpec) build(needsText bool) (*Reply, error) {
	var m fault.List
	var err error
	r := &Reply{status: cmp.Or(s.Status, http.StatusOK)}
	m.Refuse(r.status < 200 || r.status > 299, "status", "%d does not say that all is well, 200 to 299", s.Status)
	r.headers, err = newHeaders(s.Headers)
	m.Add("headers", err)
	r.charset, err = newCharset(s.Charset)
	m.Add("charset", err)
	m.Refuse(s.Body == "" && needsText, "body", "without one there is no screen")
	noBody := r.status == http.StatusNoContent && s.Body != ""
	m.Refuse(noBody, "body", "an answer of status 204 has none: leave out one of the two")
	if s.Body != "" && !noBody {
		r.syntax, err = newSyntax(s.Type)
		m.Add("type", err)
		r.contentType = r.syntax.contentType(s.Type, r.charset)
		r.body, err = newTemplate(s.Body)
		m.Add("body", err)
	}
	if len(m) == 0 {
		m.Add("", r.try(needsText, s.Body))
	}
	return r, m.Err()
}

// try renders the reply, whose body is written so, with the text hostile, and returns an error if the text breaks the
// reply's syntax or cannot be read back from it. So no screen can break a reply later.
func (r *Reply) try(needsText bool, written string) error {
	var tried []string
	for _, items := range []int{2, 0, 1, 3} {
		s := ReplyValues{Text: hostile, More: items != 0, Session: hostile, ID: hostile}
		if !needsText { // a call with several items may have none too
			s.IDs, s.Kept = slices.Repeat([]string{hostile}, items), items
		}
		out, err := r.Render(s)
		if err != nil {
			return err
		}
		if err := checkLines(out.Header); err != nil {
			return err
		}
		tried = append(tried, fmt.Sprint(out.Header, string(out.Body)))
		if r.body == nil {
			continue
		}
		leaves, err := r.syntax.leaves(out.Body, r.charset)
		if err != nil {
			return r.syntax.errBroken(written)
		}
		want := r.syntax.received(s.Text, r.charset)
		found := slices.ContainsFunc(values(leaves), func(v string) bool {
			return strings.Contains(v, want) || strings.Contains(strings.ToUpper(v), ucs2Hex(s.Text))
		})
		if needsText && !found {
			return fault.Under("body", errors.New("the text is not in it whole; "+
				"it stands where {{.Text}} does, in quotes or between tags as the type wants"))
		}
		s.Text, s.Session, s.ID = plainWord, plainSession, plainID
		for i := range s.IDs {
			s.IDs[i] = plainID
		}
		plain, err := r.Render(s)
		if err != nil || !r.syntax.comesWhole(plain.Body, out.Body, hostile, r.charset) {
			return r.syntax.errNotWhole()
		}
	}
	if needsText && tried[0] == tried[1] {
		return fault.Under("body", errors.New("it is the same whether the session goes on or not; say so by {{.More}}"))
	}
	return nil
}

// Rendered is a finished reply.
type Rendered struct {
	Status int
	Header http.Header
	Body   []byte
}

// Render executes the templates of the reply. It returns an error only if a template fails.
func (r *Reply) Render(v ReplyValues) (Rendered, error) {
	v.TextHex = ucs2Hex(v.Text)
	header, err := fillHeaders(r.headers, v.escaped(headerLine, Charset{}))
	out := Rendered{Status: r.status, Header: header}
	if err != nil || r.body == nil {
		return out, err
	}
	out.Header.Set("Content-Type", r.contentType)
	body, err := fill(r.body, v.escaped(r.syntax, r.charset))
	if err != nil {
		return out, fault.Under("body", err)
	}
	out.Body = r.syntax.encode(body, r.charset)
	return out, nil
}

func (v ReplyValues) escaped(k syntax, c Charset) ReplyValues {
	v.Text, v.Session, v.ID = k.escape(v.Text, c), k.escape(v.Session, c), k.escape(v.ID, c)
	v.IDs = slices.Clone(v.IDs)
	for i, id := range v.IDs {
		v.IDs[i] = k.escape(id, c)
	}
	return v
}

// showsID reports whether the reply changes with the value ID.
func (r *Reply) showsID() bool {
	if r == nil {
		return false
	}
	a, errA := r.Render(ReplyValues{ID: "a"})
	b, errB := r.Render(ReplyValues{ID: "b"})
	return errA == nil && errB == nil && !reflect.DeepEqual(a, b)
}

// Write writes the reply to w.
func (r Rendered) Write(w http.ResponseWriter) {
	maps.Copy(w.Header(), r.Header)
	w.WriteHeader(r.Status)
	_, _ = w.Write(r.Body) // a write error needs no action: the network repeats the call and gets the reply
}
