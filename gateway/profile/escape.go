package profile

import (
	"encoding/base64"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"mime"
	"net/url"
	"regexp"
	"strings"
	"text/template"
	"unicode/utf8"

	"github.com/antchfx/xmlquery"
)

// kind is a place where a value may stand, with its own way to escape.
type kind uint8

const (
	plain kind = iota
	jsonText
	xmlText
	formValue
	inHeaderLine
	inURL
)

func (k kind) String() string {
	return [...]string{"plain text", "JSON", "XML", "a form", "a header", "an address"}[k]
}

// broken is the mistake of a template that a text makes into something else.
func (k kind) broken() error {
	hint := ""
	switch k {
	case jsonText:
		hint = `; words stand in quotes there, as in "{{.Text}}"`
	case xmlText:
		hint = "; each tag is closed there, and each attribute in quotes"
	}
	return fmt.Errorf("body: with a text of quotes, brackets and other letters it is not %s any more%s", k, hint)
}

// newKind reads a content type; its charset is ours to set.
func newKind(media string) (kind, error) {
	name, params, err := mime.ParseMediaType(media)
	if err != nil {
		return 0, errors.New("this is not a content type such as application/json")
	}
	if _, ok := params["charset"]; ok {
		return 0, errors.New("the charset is a setting of its own")
	}
	switch {
	case name == "application/json" || strings.HasSuffix(name, "+json"):
		return jsonText, nil
	case name == "application/xml" || name == "text/xml" || strings.HasSuffix(name, "+xml"):
		return xmlText, nil
	case name == "application/x-www-form-urlencoded":
		return formValue, nil
	case name == "text/plain":
		return plain, nil
	}
	return 0, errors.New("this is none of application/json, application/xml, application/x-www-form-urlencoded, text/plain")
}

// media is the content type with its charset, where it takes one.
func (k kind) media(name string, c Charset) string {
	if k == jsonText && c.enc == nil || k == formValue {
		return name // JSON is UTF-8 (RFC 8259 section 8.1), a form ASCII
	}
	return mime.FormatMediaType(name, map[string]string{"charset": c.String()})
}

// escape makes a value safe for the place. What an octet order mark or a
// control character would do to XML cannot be escaped: it becomes U+FFFD.
func (k kind) escape(s string, c Charset) string {
	s = strings.ToValidUTF8(s, string(utf8.RuneError))
	switch k {
	case jsonText:
		b, err := json.Marshal(s)
		if err != nil {
			panic("profile: " + err.Error()) // strings always encode
		}
		return string(b[1 : len(b)-1])
	case xmlText:
		var b strings.Builder
		_ = xml.EscapeText(&b, []byte(s)) // a Builder takes all
		return b.String()
	case formValue:
		return url.QueryEscape(c.encode(s, k.instead))
	case inURL:
		return strings.ReplaceAll(url.QueryEscape(s), "+", "%20")
	case inHeaderLine:
		var b strings.Builder
		for _, octet := range []byte(s) {
			if octet < ' ' || octet > '~' {
				fmt.Fprintf(&b, "%%%02X", octet)
				continue
			}
			b.WriteByte(octet)
		}
		return b.String()
	}
	return s
}

// octets writes a whole body in the charset; a form is ASCII by now, and its
// values are in the charset already.
func (k kind) octets(body string, c Charset) []byte {
	if k == formValue {
		return []byte(body)
	}
	return []byte(c.encode(body, k.instead))
}

// instead is how a character that the charset lacks is written.
func (k kind) instead(r rune) string {
	switch k {
	case xmlText:
		return fmt.Sprintf("&#%d;", r)
	case jsonText:
		units := ucs2Hex(string(r))
		s := ""
		for ; units != ""; units = units[4:] {
			s += `\u` + units[:4]
		}
		return s
	}
	return "?"
}

// shown is what a reader of the body finds of a text: itself, but for what a
// charset lacks.
func (k kind) shown(s string, c Charset) string {
	if k == plain || k == formValue {
		s, _ = c.decode(c.encode(s, k.instead))
	}
	return s
}

// read lists the values of a body of this kind.
func (k kind) read(body []byte, c Charset) (values []string, err error) {
	switch k {
	case jsonText:
		d, err := Parse(JSON, c, body)
		if err != nil {
			return nil, err
		}
		return jsonTexts(d.json, nil), nil
	case xmlText:
		d, err := Parse(XML, c, body)
		if err != nil {
			return nil, err
		}
		for _, n := range xmlquery.Find(d.xml, "//text()|//@*") {
			values = append(values, n.InnerText())
		}
		return values, nil
	case formValue:
		d, err := Parse(Form, c, body)
		if err != nil {
			return nil, err
		}
		for _, list := range d.form {
			for _, v := range list {
				if v, err = c.decode(v); err != nil {
					return nil, err
				}
				values = append(values, v)
			}
		}
		return values, nil
	}
	s, err := c.decode(string(body))
	return []string{s}, err
}

func jsonTexts(v any, list []string) []string {
	switch v := v.(type) {
	case string:
		return append(list, v)
	case []any:
		for _, item := range v {
			list = jsonTexts(item, list)
		}
	case map[string]any:
		for _, item := range v {
			list = jsonTexts(item, list)
		}
	}
	return list
}

// headerName is a token of RFC 9110 section 5.6.2.
var headerName = regexp.MustCompile("^[!#$%&'*+.^_`|~0-9A-Za-z-]+$")

// forbidden headers are the server's or another setting's.
var forbidden = map[string]bool{
	"Content-Type": true, "Content-Length": true, "Transfer-Encoding": true, "Connection": true,
	"Trailer": true, "Upgrade": true, "Host": true, "Date": true,
}

// functions are there for templates beside those of text/template.
var functions = template.FuncMap{
	// For an Authorization header of RFC 7617: {{base64 "name:" .Secret}}.
	"base64": func(parts ...string) string {
		return base64.StdEncoding.EncodeToString([]byte(strings.Join(parts, "")))
	},
}
