package profile

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/antchfx/xpath"
)

// Format is how a call writes its values down.
type Format uint8

// The formats. Ours is JSON or the same names as a form: the content type says
// which.
const (
	Ours Format = iota
	JSON
	Form
	Query
	XML
	Text
)

var formats = map[string]Format{"json": JSON, "form": Form, "query": Query, "xml": XML, "text": Text}

// Field is where a call carries one value, and how. The zero Field stands for a
// value that this network does not send.
type Field struct {
	At     string // as the description has it: names the value in a refusal
	source source
	name   string // of a form field or a header; its last token for Ours
	path   *path
	strip  []string
	coding Coding
}

type source uint8

const (
	inBody source = iota
	inQuery
	inHeader
)

// Sent reports that the network sends the value at all.
func (f Field) Sent() bool { return f.At != "" }

// ourField is a field of our own format.
func ourField(p Pointer) Field { return Field{At: string(p), name: p.Name()} }

// newField reads a place of the description: a field name for form and query,
// a JSON pointer (RFC 6901), an XPath (1.0), "*" for a whole text or the number
// of a word in it; query:NAME and header:NAME in any format.
func newField(format Format, at string) (Field, error) {
	f := Field{At: at}
	if at == "" {
		return f, nil
	}
	if name, ok := strings.CutPrefix(at, "query:"); ok && name != "" {
		f.source, f.name = inQuery, name
		return f, nil
	}
	if name, ok := strings.CutPrefix(at, "header:"); ok && name != "" {
		f.source, f.name = inHeader, name
		return f, nil
	}
	switch format {
	case Ours, JSON:
		if at[0] != '/' {
			return f, errors.New("this is not a JSON pointer such as /from/number")
		}
		f.name = Pointer(at).Name()
	case XML:
		expr, err := xpath.Compile(at)
		if err != nil {
			return f, errors.New("this is not an XPath such as /call/@from")
		}
		f.path = &path{expr: expr}
		if _, err := f.inXML(emptyXML); err != nil {
			return f, errors.New("this XPath cannot be worked out")
		}
	case Text:
		if n, err := strconv.Atoi(at); at != "*" && (err != nil || n < 1 || n > 100) {
			return f, errors.New(`this is neither "*" for the whole text nor the number of a word in it, from 1`)
		}
	default:
		f.name = at
	}
	return f, nil
}

// Value is what stands at the field: a string; in JSON a list or an object too,
// and in our own format any other value of encoding/json; nil where nothing
// does. The error says in a sentence what is
// wrong with it.
func (d *Document) Value(f Field) (any, error) {
	v, err := d.raw(f)
	if err != nil || v == nil {
		return nil, err
	}
	s, ok := v.(string)
	if !ok {
		return v, nil
	}
	for _, prefix := range f.strip {
		if rest, cut := strings.CutPrefix(s, prefix); cut {
			s = rest
			break
		}
	}
	if f.coding == Plain {
		return s, nil
	}
	return f.coding.decode(s)
}

var (
	errTwice   = Wrong("There is more than one of this field.")
	errCharset = Wrong("This is not in the charset that was agreed on.")
)

func (d *Document) raw(f Field) (any, error) {
	switch {
	case f.At == "":
		return nil, nil
	case f.source == inQuery:
		return single(d.query[f.name])
	case f.source == inHeader:
		return single(d.header.Values(f.name))
	case f.path != nil:
		return f.inXML(d.xml)
	case d.form != nil:
		return d.inForm(f)
	case d.format == Text:
		return d.word(f.At), nil
	}
	v, _ := Pointer(f.At).Lookup(d.json)
	if d.format == Ours {
		return v, nil
	}
	switch v := v.(type) { // networks write ids as numbers, and words as true and false
	case json.Number:
		if strings.ContainsAny(v.String(), "-.eE") {
			return v, nil // 447700900123.0 is no phone: its point would be read as one that people write
		}
		return v.String(), nil
	case bool:
		return strconv.FormatBool(v), nil
	}
	return v, nil
}

func (d *Document) inForm(f Field) (any, error) {
	v, err := single(d.form[f.name])
	s, ok := v.(string)
	if !ok || d.charset.enc == nil {
		return v, err
	}
	if s, err = d.charset.decode(s); err != nil {
		return nil, errCharset
	}
	return s, nil
}

func single(v []string) (any, error) {
	switch len(v) {
	case 0:
		return nil, nil
	case 1:
		return v[0], nil
	}
	return nil, errTwice
}

// word is the whole text for "*", or its word of this number; nil: none.
func (d *Document) word(at string) any {
	if at == "*" {
		return strings.TrimRight(d.text, "\r\n")
	}
	n, err := strconv.Atoi(at)
	words := strings.Fields(d.text)
	if err != nil || n > len(words) {
		return nil
	}
	return words[n-1]
}

// Textual reports that all values come as strings, so that "1" is a number too.
func (d *Document) Textual() bool { return d.format != Ours || d.form != nil }

// key puts the name of the setting before what is wrong with it.
func key(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", name, err)
}

// Wrong is what is wrong with a call: a sentence for whoever sent it. It
// repeats nothing of what was sent.
type Wrong string

func (w Wrong) Error() string { return string(w) }
