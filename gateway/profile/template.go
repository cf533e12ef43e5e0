package profile

import (
	"encoding/base64"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"text/template"
	tree "text/template/parse"
	"unicode/utf8"

	"rowbell/gateway/fault"
)

// syntax is the language of a template's output, such as JSON or XML. Every value is escaped for it, so that a text
// cannot add fields or elements. When a description is loaded, each template is tried with the text hostile and is
// refused if that breaks the output.
type syntax uint8

const (
	plainText syntax = iota
	jsonString
	xmlText
	formValue
	headerLine
	urlPart
)

func (k syntax) String() string {
	return [...]string{"plain text", "JSON", "XML", "a form", "a header", "an address"}[k]
}

// hostile is a text that breaks the output of a template that does not escape its values.
const hostile = "\"'\\<&>]]>--{{.More}}%+=;\n\tрис ৭ 🌾 é"

// errBroken is the error for a template, as it is written, whose output the text hostile breaks.
func (k syntax) errBroken(written string) error {
	hint := ""
	switch k {
	case jsonString:
		hint = `; words stand in quotes there, as in "{{.Text}}"`
		if found := bareValue.FindStringSubmatch(written); found != nil {
			hint = fmt.Sprintf("; write {{.%s}}, with two braces on both sides, for .%[1]s", found[1])
		} else if found := unquotedValue.FindStringSubmatch(written); found != nil {
			hint = fmt.Sprintf(`; {{.%s}} is in no quotes there, as in "{{.%[1]s}}"`, found[1])
			if found[1] == "ValidUntil" {
				hint += `, or is a number with time = "unix"`
			}
		}
	case formValue:
		hint = "; it is written as to={{.ToDigits}}&words={{.Text}}, with & and not &amp;"
	case xmlText:
		hint = "; each tag is closed there, and each attribute in quotes"
	}
	return fault.Under("body",
		fmt.Errorf("with a text of quotes, brackets and other letters it is not %s any more%s", k, hint))
}

var (
	bareValue     = regexp.MustCompile(`[:,[]\s*\.([A-Z]\w*)`)
	unquotedValue = regexp.MustCompile(`[:,[]\s*\{\{\s*\.(ID|To|ToDigits|From|Text|TextHex|ValidUntil|Alphabet|` +
		`Secret|Session)\b`)
)

// newSyntax returns the syntax for a content type without a charset, which is a setting of its own.
func newSyntax(media string) (syntax, error) {
	name, params, err := mime.ParseMediaType(media)
	if err != nil {
		return 0, errors.New("this is not a content type such as application/json")
	}
	if _, ok := params["charset"]; ok {
		return 0, errors.New("the charset is a setting of its own")
	}
	switch {
	case name == "application/json" || strings.HasSuffix(name, "+json"):
		return jsonString, nil
	case name == "application/xml" || name == "text/xml" || strings.HasSuffix(name, "+xml"):
		return xmlText, nil
	case name == formMedia:
		return formValue, nil
	case name == "text/plain":
		return plainText, nil
	}
	return 0, errors.New("this is none of application/json, application/xml, " + formMedia + ", text/plain")
}

// contentType returns the content type, with the charset if the content type can have one.
func (k syntax) contentType(media string, c Charset) string {
	if k == jsonString && c.enc == nil || k == formValue {
		return media // JSON is always UTF-8 (RFC 8259 section 8.1), and a form is always ASCII
	}
	return mime.FormatMediaType(media, map[string]string{"charset": c.String()})
}

// escape escapes a value for the syntax. Characters that XML cannot write become U+FFFD.
func (k syntax) escape(s string, c Charset) string {
	s = strings.ToValidUTF8(s, string(utf8.RuneError))
	switch k {
	case jsonString:
		b, err := json.Marshal(s)
		if err != nil {
			panic("profile: " + err.Error()) // not reached: a string can always be encoded
		}
		return string(b[1 : len(b)-1])
	case xmlText:
		var b strings.Builder
		_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder returns no error
		return b.String()
	case formValue:
		return url.QueryEscape(c.encode(s, k.substitute))
	case urlPart:
		return strings.ReplaceAll(url.QueryEscape(s), "+", "%20")
	case headerLine:
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

// encode turns a finished body into octets. A form is already ASCII, because escape has encoded its values.
func (k syntax) encode(body string, c Charset) []byte {
	if k == formValue {
		return []byte(body)
	}
	return []byte(c.encode(body, k.substitute))
}

// substitute returns what is written instead of a character that the charset lacks.
func (k syntax) substitute(r rune) string {
	switch k {
	case xmlText:
		return fmt.Sprintf("&#%d;", r)
	case jsonString:
		units := ucs2Hex(string(r))
		s := ""
		for ; units != ""; units = units[4:] {
			s += `\u` + units[:4]
		}
		return s
	}
	return "?"
}

// received is the text that the network reads from a body with the value s. A character that the charset lacks is a
// question mark there, unless the syntax can escape it.
func (k syntax) received(s string, c Charset) string {
	if k == plainText || k == formValue {
		s, _ = c.decode(c.encode(s, k.substitute))
	}
	return s
}

// functions are the functions that templates may use in addition to those of text/template.
var functions = template.FuncMap{
	// base64 writes the value of an Authorization header of RFC 7617: {{base64 "name:" .Secret}}.
	"base64": func(parts ...string) string {
		return base64.StdEncoding.EncodeToString([]byte(strings.Join(parts, "")))
	},
}

func newTemplate(s string) (*template.Template, error) {
	t, err := template.New("").Option("missingkey=error").Funcs(functions).Parse(s)
	if err != nil {
		return nil, explainTemplate(strings.TrimPrefix(err.Error(), "template: :"))
	}
	if t.Tree != nil && repeats(t.Root) || len(t.Templates()) > 1 {
		return nil, errors.New("{{range}} goes with a list such as .IDs only; " +
			"{{define}}, {{block}} and {{template}} are not there")
	}
	if t.Tree != nil && changesText(t.Root) {
		return nil, errFunction
	}
	return t, nil
}

// repeats reports whether a part of a template can be executed without an end in sight: for a number, or by templates
// that call each other. Only a mistake would do so, and it would keep the loader busy for hours.
func repeats(n tree.Node) bool {
	branch := func(b *tree.BranchNode) bool { return repeats(b.List) || repeats(b.ElseList) }
	switch n := n.(type) {
	case *tree.ListNode: // nil, if there is no {{else}}
		return n != nil && slices.ContainsFunc(n.Nodes, repeats)
	case *tree.IfNode:
		return branch(&n.BranchNode)
	case *tree.WithNode:
		return branch(&n.BranchNode)
	case *tree.RangeNode:
		return !isField(n.Pipe) || branch(&n.BranchNode)
	case *tree.TemplateNode:
		return true
	}
	return false
}

// isField reports whether a pipe is a value such as .IDs and nothing else.
func isField(p *tree.PipeNode) bool {
	if len(p.Cmds) != 1 || len(p.Cmds[0].Args) != 1 {
		return false
	}
	_, is := p.Cmds[0].Args[0].(*tree.FieldNode)
	return is
}

// fill executes a template. The error shows no part of the template except the name of a value that does not exist.
func fill(t *template.Template, data any) (string, error) {
	var b strings.Builder
	err := t.Execute(&b, data)
	if err == nil {
		return b.String(), nil
	}
	if found := noValue.FindStringSubmatch(err.Error()); found != nil {
		var names []string
		for _, f := range reflect.VisibleFields(reflect.TypeOf(data)) {
			names = append(names, "."+f.Name)
		}
		return "", fmt.Errorf("there is no .%s here; there are %s", found[1], strings.Join(names, ", "))
	}
	if strings.Contains(err.Error(), "index out of range") {
		return "", errors.New("there may be fewer of these; " +
			"{{range .IDs}} and {{end}} stand around what is written for each")
	}
	return "", errors.New("the template cannot be filled in")
}

var (
	noValue    = regexp.MustCompile(`can't evaluate field (\w+) in type`)
	noFunction = regexp.MustCompile(`function "(\w+)" not defined`)
)

// syntaxError is what text/template says of a template that it cannot parse, and may show a part of the template.
type syntaxError string

func (e syntaxError) Error() string { return string(e) }

// explainTemplate replaces the common errors of text/template by sentences for the person who wrote the template.
func explainTemplate(err string) error {
	if found := noFunction.FindStringSubmatch(err); found != nil {
		return fmt.Errorf("there is no function %q; a value has a dot before its name, as in {{.Text}}", found[1])
	}
	for _, w := range []struct{ err, explained string }{
		{"unexpected EOF", "an {{if}} or {{range}} has no {{end}}"},
		{"unexpected {{end}}", "an {{end}} has no {{if}} or {{range}}"},
		{"unexpected {{else}}", "an {{else}} has no {{if}}"},
		{"unclosed action", "a {{ has no }} after it"},
		{"bad character U+007D", "a {{ has only one } after it"},
		{`unexpected "}" in`, "a {{ has only one } after it"},
	} {
		if strings.Contains(err, w.err) {
			return syntaxError(w.explained)
		}
	}
	return syntaxError("this is not a template, in which a value is {{.Text}} and a condition " +
		"{{if .More}}yes{{else}}no{{end}}: " + strings.TrimPrefix(err, "1: "))
}

// headerTemplate is an HTTP header whose value is a template.
type headerTemplate struct {
	name string
	*template.Template
}

// headerName matches the name of an HTTP header: a token of RFC 9110 section 5.6.2.
var headerName = regexp.MustCompile("^[!#$%&'*+.^_`|~0-9A-Za-z-]+$")

// reserved lists the headers that a description must not set, because the HTTP server or another setting sets them.
var reserved = map[string]bool{
	"Content-Type": true, "Content-Length": true, "Transfer-Encoding": true, "Connection": true,
	"Trailer": true, "Upgrade": true, "Host": true, "Date": true,
}

// newHeaders parses the templates of headers. The result is sorted by the headers' names.
func newHeaders(of map[string]string) ([]headerTemplate, error) {
	var list []headerTemplate
	for _, name := range slices.Sorted(maps.Keys(of)) {
		if !headerName.MatchString(name) || reserved[http.CanonicalHeaderKey(name)] {
			return nil, fmt.Errorf("%q is not a header that can be set: a name has no colon and no blank, "+
				"and Content-Type is the setting type", name)
		}
		t, err := newTemplate(of[name])
		if err != nil {
			return nil, fault.Under(name, err)
		}
		list = append(list, headerTemplate{name, t})
	}
	return list, nil
}

// fillHeaders executes the templates of headers. The values in data must have been escaped for headerLine.
func fillHeaders(list []headerTemplate, data any) (http.Header, error) {
	out := http.Header{}
	for _, h := range list {
		v, err := fill(h.Template, data)
		if err != nil {
			return out, fault.Under("headers", fault.Under(h.name, err))
		}
		out.Set(h.name, v)
	}
	return out, nil
}

// checkLines refuses headers with a line break. The values in a header are escaped, so only the template itself can
// have added the line break.
func checkLines(h http.Header) error {
	for name, v := range h {
		if strings.ContainsAny(v[0], "\r\n\x00") {
			return fault.Under("headers", fault.Under(name, errors.New("it takes up more than a line")))
		}
	}
	return nil
}
