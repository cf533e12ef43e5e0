package profile

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// replies has reply bodies in each syntax, in UTF-8 and in other charsets.
var replies = []ReplySpec{
	{Type: "application/json", Body: `{"a":["{{.Text}}"],"b":{{.More}},"c":"{{.Session}}"}`},
	{Type: "application/json", Charset: "iso-8859-1", Body: `{"a":"{{.Text}}","é":{{.More}},"c":"{{.Session}}"}`},
	{Type: "text/xml", Body: `<r more="{{.More}}" of="{{.Session}}">{{.Text}}</r>`},
	{Type: "application/xml", Charset: "iso-8859-1",
		Body: `<?xml version="1.0" encoding="iso-8859-1"?><r say="{{.Text}}" of="{{.Session}}">{{.More}}</r>`},
	{Type: "application/x-www-form-urlencoded", Body: `a={{.Text}}&b={{.More}}&c={{.Session}}`},
	{Type: "application/x-www-form-urlencoded", Charset: "utf-16be",
		Body: `a={{.Text}}&b=%00{{if .More}}1{{else}}0{{end}}&c={{.Session}}`},
	{Type: "text/plain", Body: `{{.More}} {{.Text}} {{.Session}}`},
	{Type: "text/plain", Charset: "utf-16le", Body: `{{.More}} {{.Text}} {{.Session}}`},
}

// Any text and any session id can be read back from the body of the reply, and the body then has no values but those of
// its template. So a text cannot add a field or an element to a reply.
func TestRepliesHoldAnyText(t *testing.T) {
	for _, spec := range replies {
		t.Run(spec.Type+" "+spec.Charset, func(t *testing.T) {
			r := must(spec.build(true))
			empty := must(r.Render(ReplyValues{}))
			bare := must(r.syntax.leaves(empty.Body, r.charset))
			rapid.Check(t, func(t *rapid.T) {
				s := ReplyValues{Text: anyText(t, r.syntax, "text"), Session: anyText(t, r.syntax, "session"),
					More: false}
				out := must(r.Render(s))
				leaves, err := r.syntax.leaves(out.Body, r.charset)
				got := values(leaves)
				if err != nil {
					t.Fatalf("%q is not %s: %v", out.Body, r.syntax, err)
				}
				for _, want := range []string{s.Text, s.Session} {
					if !slices.ContainsFunc(got, func(v string) bool { return strings.Contains(v, want) }) {
						t.Fatalf("%q is not in %q", want, got)
					}
				}
				// In XML an empty text is not a value, so the reply bare, to an empty text, has fewer values.
				if r.syntax != xmlText && len(got) != len(bare) {
					t.Fatalf("%d values, %d without a text: %q", len(got), len(bare), out.Body)
				}
			})
		})
	}
}

// anyText draws a text that can be written in this syntax. XML 1.0 cannot write all characters (XML 1.0, production 2,
// "Char").
func anyText(t *rapid.T, k syntax, name string) string {
	special := []rune("\"'\\<>&]{}%+=;#\n\tаé৭🌾 ab\u2028\x7f")
	unwritable := func(r rune) bool {
		control := r < ' ' && r != '\n' && r != '\t' && r != '\r'
		return r == utf8.RuneError || k == xmlText && (control || r == 0xFFFE || r == 0xFFFF)
	}
	text := rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom(special)))
	return text.Filter(func(s string) bool {
		return utf8.ValidString(s) && !strings.ContainsFunc(s, unwritable)
	}).Draw(t, name)
}

// A character that the charset lacks is written as an escape of the syntax, or else as a question mark.
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
		// A form is always ASCII and names no charset. The other content types name their charset.
		said := strings.HasSuffix(out.Header.Get("Content-Type"), "; charset=iso-8859-1")
		if said != (r.syntax != formValue) {
			t.Errorf("%s: content type %q", tt.media, out.Header.Get("Content-Type"))
		}
	}
}

func TestHeadersCannotBeBrokenOutOf(t *testing.T) {
	r := must(ReplySpec{Headers: map[string]string{"x-visit": "v {{.Session}} {{.More}}"}}.build(false))
	out, err := r.Render(ReplyValues{Session: "a\r\nSet-Cookie: b\x00é", More: true})
	if want := "v a%0D%0ASet-Cookie: b%00%C3%A9 true"; err != nil || out.Header.Get("X-Visit") != want {
		t.Errorf("%q, %v; want %q", out.Header.Get("X-Visit"), err, want)
	}
	if out.Status != http.StatusOK || out.Body != nil || out.Header.Get("Content-Type") != "" {
		t.Errorf("%+v", out)
	}
}
