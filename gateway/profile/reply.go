package profile

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"text/template"
)

// Said is what a reply says, as its templates call it.
type Said struct {
	Text    string // the screen
	TextHex string // the same as UCS-2 units in hexadecimal digits; Render fills it in
	More    bool   // false: the network should let the session go
	Session string // the network's
	ID      string // the network's, of the text or the call
}

// Reply is how a call is answered. Every value is escaped for the place where
// it will stand before a template sees it, so that no text can break out.
type Reply struct {
	status  int
	kind    kind
	media   string
	charset Charset
	headers []namedTemplate
	body    *template.Template
}

type namedTemplate struct {
	name string
	*template.Template
}

// Rendered is a reply as it goes out.
type Rendered struct {
	Status int
	Header http.Header
	Body   []byte
}

// Render fills the reply in. It fails only where a template does.
func (r *Reply) Render(s Said) (Rendered, error) {
	out := Rendered{Status: r.status, Header: http.Header{}}
	s.TextHex = ucs2Hex(s.Text)
	for _, h := range r.headers {
		v, err := fill(h.Template, s.escaped(inHeaderLine, Charset{}))
		if err != nil {
			return out, fmt.Errorf("headers: %s: %w", h.name, err)
		}
		out.Header.Set(h.name, v)
	}
	if r.body == nil {
		return out, nil
	}
	out.Header.Set("Content-Type", r.media)
	body, err := fill(r.body, s.escaped(r.kind, r.charset))
	if err != nil {
		return out, key("body", err)
	}
	out.Body = r.kind.octets(body, r.charset)
	return out, nil
}

func (s Said) escaped(k kind, c Charset) Said {
	return Said{
		Text: k.escape(s.Text, c), TextHex: s.TextHex, More: s.More,
		Session: k.escape(s.Session, c), ID: k.escape(s.ID, c),
	}
}

// newHeaders reads the templates of headers, in order of their names.
func newHeaders(of map[string]string) ([]namedTemplate, error) {
	var list []namedTemplate
	for _, name := range slices.Sorted(maps.Keys(of)) {
		if !headerName.MatchString(name) || forbidden[http.CanonicalHeaderKey(name)] {
			return nil, fmt.Errorf("headers: %q is not a header that can be set", name)
		}
		t, err := newTemplate(of[name])
		if err != nil {
			return nil, fmt.Errorf("headers: %s: %w", name, err)
		}
		list = append(list, namedTemplate{name, t})
	}
	return list, nil
}

// hostile is a text that breaks out of whatever does not escape it.
const hostile = "\"'\\<&>]]>--{{.More}}%+=;\n\tрис ৭ 🌾 é"

// try renders the reply for a hostile text and reads it as what it says it is.
// Where it must carry the text, the text has to be in it.
func (r *Reply) try(carries bool) error {
	var seen []string
	for _, more := range []bool{true, false} {
		s := Said{Text: hostile, More: more, Session: hostile, ID: hostile}
		out, err := r.Render(s)
		if err != nil {
			return err
		}
		for name, v := range out.Header {
			if strings.ContainsAny(v[0], "\r\n\x00") {
				return fmt.Errorf("headers: %s: it takes up more than a line", name)
			}
		}
		seen = append(seen, fmt.Sprint(out.Header, string(out.Body)))
		if r.body == nil {
			continue
		}
		values, err := r.kind.read(out.Body, r.charset)
		if err != nil {
			return r.kind.broken()
		}
		if !carries {
			continue
		}
		want := r.kind.shown(s.Text, r.charset)
		found := slices.ContainsFunc(values, func(v string) bool {
			return strings.Contains(v, want) || strings.Contains(strings.ToUpper(v), ucs2Hex(s.Text))
		})
		if !found {
			return errors.New("body: the text is not in it whole; it stands where {{.Text}} does, in quotes or between tags as the type wants")
		}
	}
	if carries && seen[0] == seen[1] {
		return errors.New("body: it is the same whether the session goes on or not; say so by {{.More}}")
	}
	return nil
}

// Write answers with what was rendered.
func (r Rendered) Write(w http.ResponseWriter) {
	maps.Copy(w.Header(), r.Header)
	w.WriteHeader(r.Status)
	_, _ = bytes.NewReader(r.Body).WriteTo(w) // the caller has gone: the repeat will find it
}
