package profile

import (
	"encoding/json"
	"errors"
	"strconv"
	"strings"
)

// Field says where in a call a value is, and how it is written. The zero Field is for a value that is not sent.
type Field struct {
	At     string // the place as the description writes it; error messages use it as the name of the value
	place  string // At without a prefix
	whole  bool   // the place is relative to the whole call, although the call has items
	needed bool   // a description without a place for this value is refused
	source source
	name   string // of a form field or a header; in the format Ours the last token of the JSON pointer
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

// Sent reports whether the network sends the value of the field f.
func (f Field) Sent() bool { return f.At != "" }

// ourField makes a field of the project's own format.
func ourField(p Pointer) Field { return Field{At: string(p), place: string(p), name: p.Name()} }

// newField reads a place from the description: a field name in form and query, a JSON pointer (RFC 6901) in json, an
// XPath 1.0 in xml, and in text "*" for the whole text or the number of a word. query:NAME and header:NAME are places
// in every format.
func newField(format Format, at string, names Namespaces) (Field, error) {
	f := Field{At: at, place: at}
	if at == "" {
		return f, nil
	}
	for prefix, from := range map[string]source{"query:": inQuery, "header:": inHeader} {
		if name, ok := strings.CutPrefix(at, prefix); ok && name != "" {
			f.source, f.name = from, name
			return f, nil
		}
	}
	switch format {
	case Ours, JSON:
		if at[0] != '/' && at != "#" {
			return f, errors.New("this is not a JSON pointer such as /from/number, " +
				"as json has them; form and query have names")
		}
		f.name = Pointer(at).Name()
	case XML:
		var err error
		if f.path, err = names.compile(at); err != nil {
			return f, err
		}
	case Text:
		if n, err := strconv.Atoi(at); at != "*" && (err != nil || n < 1 || n > 100) {
			return f, errors.New(`this is neither "*" for the whole text nor the number of a word in it, from 1; ` +
				"a header is header:NAME")
		}
	default:
		f.name = at
	}
	return f, nil
}

// Value returns the value of a field, or nil if the document has none. In forms, queries and XML every value is a
// string. In the JSON of a network with a format of its own, a whole number from 0 up and a boolean become strings. All
// other JSON values, and all in the project's own format, stay as decoded, so that the caller can refuse a value of the
// wrong type. The error is a CallError.
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

// raw returns the value as it is in the call, before prefixes are removed and a coding is decoded.
func (d *Document) raw(f Field) (any, error) {
	if f.whole && d.request != nil {
		d = d.request
	}
	switch {
	case f.At == "":
		return nil, nil
	case f.source == inQuery:
		return single(d.query[f.name])
	case f.source == inHeader:
		return single(d.header.Values(f.name))
	case f.path != nil:
		return f.path.value(d.context())
	case d.form != nil:
		return d.formValue(f)
	case d.format == Text:
		return d.word(f.place), nil
	}
	v, _ := Pointer(f.place).Lookup(d.json)
	if d.format == Ours {
		return v, nil
	}
	switch v := v.(type) { // some networks write an id as a JSON number, or one of their words as true or false
	case json.Number:
		if strings.ContainsAny(v.String(), "-.eE") {
			return v, nil // stays a json.Number, so that the caller refuses 447700900123.0 as a phone number
		}
		return v.String(), nil
	case bool:
		return strconv.FormatBool(v), nil
	}
	return v, nil
}

func (d *Document) formValue(f Field) (any, error) {
	v, err := single(d.form[f.name])
	s, ok := v.(string)
	if !ok || d.charset.enc == nil {
		return v, err
	}
	return d.charset.decode(s)
}

// ErrTwice is the error for a value that is there more than once.
var ErrTwice = CallError("There is more than one of this field.")

func single(v []string) (any, error) {
	switch len(v) {
	case 0:
		return nil, nil
	case 1:
		return v[0], nil
	}
	return nil, ErrTwice
}

// word returns the whole text if at is "*". Otherwise at is the number of a word, counted from 1, and word returns that
// word, or nil if the text has fewer words.
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

// Textual reports whether all values of the document are strings. Then the caller must accept a string such as "1"
// where it wants a number.
func (d *Document) Textual() bool { return d.format != Ours || d.form != nil }

// Pointer is a JSON pointer (RFC 6901). The empty pointer is for a value that the network does not send; the whole
// document is "#", as in section 6 of the RFC.
type Pointer string

var unescape = strings.NewReplacer("~1", "/", "~0", "~")

// Lookup finds the value in a document that encoding/json has decoded. A null counts as no value.
func (p Pointer) Lookup(doc any) (any, bool) {
	if p == "" {
		return nil, false
	}
	if p == "#" {
		return doc, doc != nil
	}
	for token := range strings.SplitSeq(strings.TrimPrefix(string(p), "/"), "/") {
		t := unescape.Replace(token)
		switch d := doc.(type) {
		case map[string]any:
			doc = d[t]
		case []any:
			i, err := strconv.Atoi(t)
			if err != nil || i < 0 || i >= len(d) || strconv.Itoa(i) != t {
				return nil, false
			}
			doc = d[i]
		default:
			return nil, false
		}
	}
	return doc, doc != nil
}

// Name is the name that the value has in a form: the last token of the pointer.
func (p Pointer) Name() string {
	return unescape.Replace(string(p[strings.LastIndexByte(string(p), '/')+1:]))
}
