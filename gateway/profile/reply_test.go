package profile

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// replies are bodies of each kind that hold whatever text they are given.
var replies = []ReplySpec{
	{Type: "application/json", Body: `{"a":["{{.Text}}"],"b":{{.More}},"c":"{{.Session}}"}`},
	{Type: "application/json", Charset: "iso-8859-1", Body: `{"a":"{{.Text}}","é":{{.More}},"c":"{{.Session}}"}`},
	{Type: "text/xml", Body: `<r more="{{.More}}" of="{{.Session}}">{{.Text}}</r>`},
	{Type: "application/xml", Charset: "iso-8859-1", Body: `<?xml version="1.0" encoding="iso-8859-1"?><r say="{{.Text}}" of="{{.Session}}">{{.More}}</r>`},
	{Type: "application/x-www-form-urlencoded", Body: `a={{.Text}}&b={{.More}}&c={{.Session}}`},
	{Type: "application/x-www-form-urlencoded", Charset: "utf-16be", Body: `a={{.Text}}&b=%00{{if .More}}1{{else}}0{{end}}&c={{.Session}}`},
	{Type: "text/plain", Body: `{{.More}} {{.Text}} {{.Session}}`},
	{Type: "text/plain", Charset: "utf-16le", Body: `{{.More}} {{.Text}} {{.Session}}`},
}

// Whatever a screen or a session's id holds, it is found again in the body,
// read as what the body says it is, and nothing else has changed.
func TestRepliesHoldAnyText(t *testing.T) {
	for _, spec := range replies {
		t.Run(spec.Type+" "+spec.Charset, func(t *testing.T) {
			r, err := spec.build(true)
			if err != nil {
				t.Fatal(err)
			}
			empty, err := r.Render(ReplyValues{})
			if err != nil {
				t.Fatal(err)
			}
			bare, err := r.syntax.values(empty.Body, r.charset)
			if err != nil {
				t.Fatal(err)
			}
			rapid.Check(t, func(t *rapid.T) {
				s := ReplyValues{Text: anyText(t, r.syntax, "text"), Session: anyText(t, r.syntax, "session"), More: false}
				out, err := r.Render(s)
				if err != nil {
					t.Fatal(err)
				}
				got, err := r.syntax.values(out.Body, r.charset)
				if err != nil {
					t.Fatalf("%q is not %s: %v", out.Body, r.syntax, err)
				}
				for _, want := range []string{s.Text, s.Session} {
					if !slices.ContainsFunc(got, func(v string) bool { return strings.Contains(v, want) }) {
						t.Fatalf("%q is not in %q", want, got)
					}
				}
				// XML has no text node for the empty text.
				if r.syntax != xmlText && len(got) != len(bare) {
					t.Fatalf("%d values, %d without a text: %q", len(got), len(bare), out.Body)
				}
			})
		})
	}
}

// anyText is a text that the kind can carry: XML 1.0 has no way to write some
// characters (its production 2), nor has a charset U+FFFD of its own.
func anyText(t *rapid.T, k syntax, name string) string {
	return rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom([]rune("\"'\\<>&]{}%+=;#\n\tаé৭🌾 ab\u2028\x7f")))).Filter(func(s string) bool {
		return utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool {
			return r == utf8.RuneError || k == xmlText && (r < ' ' && r != '\n' && r != '\t' && r != '\r' || r == 0xFFFE || r == 0xFFFF)
		})
	}).Draw(t, name)
}

// What the charset lacks is written in another way where there is one, and as
// a question mark where there is none; it never breaks the body.
func TestRepliesInNarrowCharsets(t *testing.T) {
	for _, tt := range []struct{ media, body, want string }{
		{"application/json", `{"a":"{{.Text}}","b":{{.More}}}`, `{"a":"` + "\xe9" + `\u0915\uD83C\uDF3E","b":true}`},
		{"text/xml", `<r b="{{.More}}">{{.Text}}</r>`, "<r b=\"true\">\xe9&#2325;&#127806;</r>"},
		{"text/plain", `{{.Text}}{{if .More}}+{{end}}`, "\xe9??+"},
		{"application/x-www-form-urlencoded", `a={{.Text}}&b={{.More}}`, "a=%E9%3F%3F&b=true"},
	} {
		r, err := ReplySpec{Type: tt.media, Charset: "iso-8859-1", Body: tt.body}.build(true)
		if err != nil {
			t.Fatalf("%s: %v", tt.media, err)
		}
		out, err := r.Render(ReplyValues{Text: "éक🌾", More: true})
		if err != nil || string(out.Body) != tt.want {
			t.Errorf("%s: %q, %v; want %q", tt.media, out.Body, err, tt.want)
		}
		// A form is ASCII; all else says in which charset it is.
		said := strings.HasSuffix(out.Header.Get("Content-Type"), "; charset=iso-8859-1")
		if said != (r.syntax != formValue) {
			t.Errorf("%s: content type %q", tt.media, out.Header.Get("Content-Type"))
		}
	}
}

func TestHeadersCannotBeBrokenOutOf(t *testing.T) {
	r, err := ReplySpec{Headers: map[string]string{"x-visit": "v {{.Session}} {{.More}}"}}.build(false)
	if err != nil {
		t.Fatal(err)
	}
	out, err := r.Render(ReplyValues{Session: "a\r\nSet-Cookie: b\x00é", More: true})
	if want := "v a%0D%0ASet-Cookie: b%00%C3%A9 true"; err != nil || out.Header.Get("X-Visit") != want {
		t.Errorf("%q, %v; want %q", out.Header.Get("X-Visit"), err, want)
	}
	if out.Status != http.StatusOK || out.Body != nil || out.Header.Get("Content-Type") != "" {
		t.Errorf("%+v", out)
	}
}

// A reply that some text would break, or that loses the text, is refused
// before the first call.
func TestRepliesAreTried(t *testing.T) {
	js, more := "application/json", `,"m":{{.More}}}`
	for _, tt := range []struct {
		name string
		spec ReplySpec
		want string
	}{
		{"no body", ReplySpec{}, "body: without one"},
		{"no type", ReplySpec{Body: "{{.Text}}"}, "type: this is not a content type"},
		{"a picture", ReplySpec{Type: "image/png", Body: "{{.Text}}"}, "type: this is none of"},
		{"charset in the type", ReplySpec{Type: "text/plain; charset=utf-8", Body: "{{.Text}}"}, "type: the charset is a setting"},
		{"unknown charset", ReplySpec{Type: "text/plain", Charset: "latin-99", Body: "{{.Text}}"}, "charset: there is no charset"},
		{"unsafe charset", ReplySpec{Type: "text/plain", Charset: "iso-2022-kr", Body: "{{.Text}}"}, "charset: this charset is not safe"},
		{"no text", ReplySpec{Type: js, Body: `{"t":"x"` + more}, "body: the text is not in it"},
		{"text without quotes", ReplySpec{Type: js, Body: `{"t":{{.Text}}` + more}, "it is not JSON any more"},
		{"text in single quotes", ReplySpec{Type: js, Body: `{'t':'{{.Text}}'` + more}, "it is not JSON any more"},
		{"a comma behind", ReplySpec{Type: js, Body: `{"t":"{{.Text}}","m":{{.More}},}`}, "it is not JSON any more"},
		{"quoted twice", ReplySpec{Type: js, Body: `{"t":{{printf "%q" .Text}}` + more}, "body: the text is not in it"},
		{"cut", ReplySpec{Type: js, Body: `{"t":"{{slice .Text 0 9}}"` + more}, "it is not"},
		{"always the same", ReplySpec{Type: js, Body: `{"t":"{{.Text}}"}`}, "say so by {{.More}}"},
		{"unknown value", ReplySpec{Type: js, Body: `{"t":"{{.Text}}","x":"{{.Phone}}"}`}, "Phone"},
		{"broken template", ReplySpec{Type: js, Body: `{"t":"{{.Text}"}`}, "body: "},
		{"XML twice escaped", ReplySpec{Type: "text/xml", Body: `<r m="{{.More}}"><![CDATA[{{.Text}}]]></r>`}, "body: the text is not in it"},
		{"XML open", ReplySpec{Type: "text/xml", Body: `<r m="{{.More}}">{{.Text}}`}, "it is not XML any more"},
		{"XML in a tag", ReplySpec{Type: "text/xml", Body: `<r {{.Text}} m="{{.More}}"/>`}, "it is not XML any more"},
		{"XML with a document type", ReplySpec{Type: "text/xml", Body: `<!DOCTYPE r><r m="{{.More}}">{{.Text}}</r>`}, "it is not XML any more"},
		{"status", ReplySpec{Status: 500, Type: js, Body: `{"t":"{{.Text}}"` + more}, "status: 500"},
		{"header name", ReplySpec{Headers: map[string]string{"X Y": "1"}, Type: js, Body: `{"t":"{{.Text}}"` + more}, `headers: "X Y"`},
		{"header of the server", ReplySpec{Headers: map[string]string{"content-length": "1"}, Type: js, Body: `{"t":"{{.Text}}"` + more}, `headers: "content-length"`},
		{"header of two lines", ReplySpec{Headers: map[string]string{"X-Y": "1\n2"}, Type: js, Body: `{"t":"{{.Text}}"` + more}, "headers: X-Y"},
		{"fine", ReplySpec{Type: js, Body: `{"t":"{{.Text}}"` + more}, ""},
		{"fine, more by a header", ReplySpec{Headers: map[string]string{"X-Y": "{{.More}}"}, Type: "text/plain", Body: `{{.Text}}`}, ""},
		{"fine, hexadecimal", ReplySpec{Type: js, Body: `{"t":"{{.TextHex}}"` + more}, ""},
		{"fine, of a suffix", ReplySpec{Type: "application/x+json", Body: `{"t":"{{.Text}}"` + more}, ""},
	} {
		_, err := tt.spec.build(true)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if err != nil && strings.ContainsFunc(err.Error(), unicode.IsControl) {
			t.Errorf("%s: %q", tt.name, err)
		}
	}
}
