package profile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"github.com/antchfx/xmlquery"
	"github.com/antchfx/xpath"
)

// Format says how a call or an answer writes its values.
type Format uint8

// The formats. Ours is the project's own format: JSON, or a form with the same names if the content type says so.
const (
	Ours Format = iota
	JSON
	Form
	Query
	XML
	Text
)

var formats = map[string]Format{"json": JSON, "form": Form, "query": Query, "xml": XML, "text": Text}

// Document is a parsed call from a network, or a network's parsed answer to a push.
type Document struct {
	format  Format
	charset Charset
	json    any
	form    url.Values
	xml     *xmlquery.Node
	text    string
	query   url.Values
	header  http.Header

	request *Document           // the whole call, if this document is one of its items
	node    xpath.NodeNavigator // the element of an item
	refused error               // why an item is refused whatever its values are
}

// Refused returns an ItemsError if the document is an item that holds further items.
func (d *Document) Refused() error { return d.refused }

// CallError says what is wrong with a call, in a sentence for its network that never shows a part of the call.
type CallError string

func (e CallError) Error() string { return string(e) }

// Limits of a body, far above what networks send: about a tenth as many fields and tags, and three or four levels
// (judgement, no source).
const (
	maxFields = 100  // fields of a form
	maxBatch  = 1000 // fields of a form with several items
	maxDepth  = 32   // levels of nested objects, lists or elements
	maxTokens = 4096 // tags and texts in an XML document
)

// Parse parses a body. The errors are of type CallError.
func Parse(format Format, charset Charset, body []byte) (*Document, error) {
	return parse(format, charset, body, maxFields)
}

func parse(format Format, charset Charset, body []byte, fields int) (*Document, error) {
	d := &Document{format: format, charset: charset}
	var err error
	if format != Form && charset.enc != nil { // a form is ASCII; only its decoded values are in the charset
		s, err := charset.decode(string(body))
		if err != nil {
			return nil, CallError("The body is not in the charset that was agreed on.")
		}
		body = []byte(s)
	}
	if format != Form {
		if !utf8.Valid(body) {
			return nil, CallError("The body is not UTF-8.")
		}
		body = bytes.TrimPrefix(body, []byte("\ufeff"))
	}
	switch format {
	case Form:
		d.form, err = parseForm(string(body), "body", fields)
	case Ours, JSON:
		d.json, err = parseJSON(body)
		if _, object := d.json.(map[string]any); err == nil && format == Ours && !object {
			err = errJSON
			if _, list := d.json.([]any); list {
				err = errList
			}
		}
	case XML:
		d.xml, err = parseXML(body, charset)
	case Text:
		d.text = string(body)
	}
	if err != nil {
		return nil, err
	}
	return d, nil
}

// parseForm parses a form of at most this many fields. where names the place of the form, the body or the query, for
// the error.
func parseForm(s, where string, fields int) (url.Values, error) {
	if strings.Count(s, "&") >= fields {
		return nil, CallError(fmt.Sprintf("The %s has more than %d fields.", where, fields))
	}
	form, err := url.ParseQuery(s)
	if err != nil {
		return nil, CallError("The " + where + " is not a form.")
	}
	return form, nil
}

var (
	errJSON = CallError("The body is not a JSON object.")
	errList = CallError("The body is a list and not a JSON object. " +
		"Several texts or receipts come in a list where the description of the network has the key each.")
	errDepth = CallError("The body is nested too deep.")
	errNames = CallError("A name stands twice in an object of the body.")
)

// parseJSON decodes one JSON value as encoding/json does, with numbers as json.Number. It refuses an object that has a
// name twice, from which two programs could read different values (RFC 8259 section 4).
func parseJSON(body []byte) (any, error) {
	if !json.Valid(body) {
		return nil, errJSON
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	return decodeJSON(d, 0)
}

func decodeJSON(d *json.Decoder, depth int) (any, error) {
	if depth > maxDepth {
		return nil, errDepth
	}
	token, err := d.Token()
	if err != nil {
		return nil, errJSON
	}
	switch token {
	case json.Delim('{'):
		return decodeObject(d, depth)
	case json.Delim('['):
		list := []any{}
		for d.More() {
			v, err := decodeJSON(d, depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err = d.Token() // reads the closing bracket
		return list, err
	}
	return token, nil
}

func decodeObject(d *json.Decoder, depth int) (any, error) {
	object := map[string]any{}
	for d.More() {
		token, err := d.Token()
		name, ok := token.(string)
		if err != nil || !ok {
			return nil, errJSON
		}
		if _, twice := object[name]; twice {
			return nil, errNames
		}
		if object[name], err = decodeJSON(d, depth+1); err != nil {
			return nil, err
		}
	}
	_, err := d.Token() // reads the closing brace
	return object, err
}
