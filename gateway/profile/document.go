package profile

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"github.com/antchfx/xmlquery"
)

// Document is what a call, or a network's answer, carries, taken apart.
type Document struct {
	format  Format
	charset Charset
	json    any
	form    url.Values
	xml     *xmlquery.Node
	text    string
	query   url.Values
	header  http.Header
}

// maxFields bounds a form: no network sends a tenth of it.
const maxFields = 100

// parseForm takes the form in the body or the query apart.
func parseForm(s, where string) (url.Values, error) {
	if strings.Count(s, "&") >= maxFields {
		return nil, Wrong(fmt.Sprintf("The %s has more than %d fields.", where, maxFields))
	}
	form, err := url.ParseQuery(s)
	if err != nil {
		return nil, Wrong("The " + where + " is not a form.")
	}
	return form, nil
}

// Parse takes a body apart. The errors are sentences for whoever sent it.
func Parse(format Format, charset Charset, body []byte) (*Document, error) {
	d := &Document{format: format, charset: charset}
	if format == Form {
		// The charset is that of the octets behind the percent signs.
		form, err := parseForm(string(body), "body")
		if err != nil {
			return nil, err
		}
		d.form = form
		return d, nil
	}
	if charset.enc != nil {
		s, err := charset.decode(string(body))
		if err != nil {
			return nil, Wrong("The body is not in the charset that was agreed on.")
		}
		body = []byte(s)
	}
	if !utf8.Valid(body) {
		return nil, Wrong("The body is not UTF-8.")
	}
	body = bytes.TrimPrefix(body, []byte("\ufeff"))
	var err error
	switch format {
	case Ours, JSON:
		d.json, err = parseJSON(body)
		if _, object := d.json.(map[string]any); err == nil && format == Ours && !object {
			err = Wrong("The body is not a JSON object.")
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
