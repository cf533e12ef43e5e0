package profile

import (
	"encoding/hex"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// No function gets a text, and a text stands in values only: what came whole with one text comes whole with each.
func TestTemplatesThatSomeTextBreaks(t *testing.T) {
	js := func(body string) string { return `ussd.reply = {type = "application/json", body = '''` + body + `'''}` }
	xml := func(body string) string { return `ussd.reply = {type = "text/xml", body = '''` + body + `'''}` }
	const function = "a function gets no text"
	mistakesIn(t, baseUSSD, []mistake{
		{"long ones cut", js(`{"t":"{{printf "%.500s" .Text}}","m":{{.More}}}`), function},
		{"by a variable", js(`{"t":"{{$t := .Text}}{{printf "%.500s" $t}}","m":{{.More}}}`), function},
		{"by a pipe", js(`{"t":"{{.Text | printf "%.500s"}}","m":{{.More}}}`), function},
		{"by the dot", js(`{"t":"{{with .Text}}{{printf "%.500s" .}}{{end}}","m":{{.More}}}`), function},
		{"left out by its length", js(`{"t":"{{if lt (len $.Text) 500}}{{.Text}}{{end}}","m":{{.More}}}`), function},
		{"a name that a text may repeat", js(`{"m":{{.More}},"{{.Text}}":"{{.Text}}"}`), "would not come whole"},
		{"CDATA beside a whole text", xml(`<r m="{{.More}}" t="{{.Text}}"><![CDATA[{{.Text}}]]></r>`),
			"would not come whole"},
		{"a charset with escapes", `
			ussd.reply = {type = "text/plain", charset = "csISO2022JP", body = "{{.Text}}{{.More}}"}`,
			"reply: charset: this charset is not safe"},
		{"a condition on the text", js(`{"t":"{{if .Text}}{{.Text}}{{end}}","m":{{not .More}}}`), ""},
	})
}

// A template that is right with no item and with two may be broken by one.
func TestTemplatesThatOneItemBreaks(t *testing.T) {
	_, err := ReplySpec{Type: "application/json",
		Body: `[{{range $i, $id := .IDs}}{{if $i}},{{end}}"{{end}}]`}.build(false)
	if err == nil {
		t.Error("taken")
	}
}

// described is a description in pieces, and a text.
type described struct{ media, charset, body, place, url, header, other, text string }

var descriptions = []described{
	{"application/json", "", `{"t":"{{.Text}}","m":{{.More}}}`, "/a/b", "", "{{.Session}}", "unix", "a\"b"},
	{"application/json", "utf-16le", `[{"t":"{{.TextHex}}"},{{if .More}}1{{else}}0{{end}}]`, "#", "", "", "", "क"},
	{"text/xml", "iso-8859-1", `<r a="{{.Text}}" m='{{.More}}'><b>{{.Text}}</b></r>`, "/r/@a", "", "", "", "<é>"},
	{"application/xml", "", `<s:r xmlns:s="urn:s">{{if .More}}<w/>{{end}}<![CDATA[ ]]>{{.Text}}</s:r>`, "/s:r", "", "",
		"s", "]]>"},
	{formMedia, "windows-1252", `t={{.Text}}&m={{not .More}}`, "t", "", "{{.More}}", "", "&m=1"},
	{"text/plain", "shift_jis", `{{.More}} {{.Text}} {{.Session}}`, "*", "", "", "", "あ🌾a"},
	{"text/plain", "gb18030", `{{printf "%t" .More}} {{.Text}}`, "2", "", "{{.More}}", "", "\\"},
	{"application/json", "", `{"to":"{{.To}}","t":"{{.Text}}","n":{{.Segments}},"a":{{if eq .Alphabet "ucs2"}}8` +
		`{{else}}0{{end}},"u":{{.ValidUntil}}}`, "/id",
		"https://a.example/x?k={{.ID}}", "Bearer {{.Secret}}", "unix", "a"},
	{"", "", "", "1", "https://a.example/{{.ToDigits}}?t={{.Text}}&v={{.ValidOctet}}", "", "ok", "a&b"},
	{"text/xml", "", `<t to="{{.To}}" h="{{.TextHex}}"><i>{{.ID}}</i>{{.Text}}</t>`, "/t/@to", "https://a.example/",
		`Basic {{base64 "u:" .Secret}}`, "", "\x00"},
	{formMedia, "", `t={{.Text}}&to={{.ToDigits}}&m={{printf "%02X" .ValidOctet}}`, "t",
		"https://a.example/a", "", "", "="},
	{"application/json", "", `{"ids":[{{range $i, $id := .IDs}}{{if $i}},{{end}}"{{$id}}"{{end}}],"n":{{.Kept}}}`,
		"/a", "", "", "/list", "a"},
	{"text/xml", "", `<r>{{range .IDs}}<i>{{.}}</i>{{end}}</r>`, "//a", "", "", "/x/y", "a"},
	{"X-Time", "unix", "", "", "", "X-Seal", "{{.Time}}.{{.Body}}", "a"},
	{"X-Time", "rfc3339", "", "", "", "X-Seal", "{{.Method}} {{.Path}}?{{.Query}}\n{{.Time}} {{.Body}}", "seal "},
}

// What a description says never ends the service, whatever it is; and if it is accepted, each text comes whole out of
// its replies and its pushes, in their content type, and changes nothing else in them.
func FuzzDescription(f *testing.F) {
	for _, s := range descriptions {
		for kind := range uint8(40) { // eight tables in five formats
			f.Add(kind, s.media, s.charset, s.body, s.place, s.url, s.header, s.other, s.text)
		}
	}
	f.Fuzz(func(t *testing.T, kind uint8, media, charset, body, place, url, header, other, text string) {
		tryDescription(t, kind, described{media, charset, body, place, url, header, other, text})
	})
}

func tryDescription(t *testing.T, kind uint8, d described) {
	t.Helper()
	reply := &ReplySpec{Type: d.media, Charset: d.charset, Body: d.body}
	if d.header != "" {
		reply.Headers = map[string]string{"X-Sun": d.header}
	}
	format := []string{"json", "xml", "form", "text", "query"}[int(kind/8)%5]
	call := CallSpec{Body: format, Charset: d.charset, Reply: reply}
	switch {
	case kind%2 == 0:
	case format == "xml":
		call.Namespaces = Namespaces{d.other: "urn:s"}
	default:
		call.Time = d.other
	}
	switch kind % 8 {
	case 0, 1:
		s := USSDSpec{CallSpec: call, Phone: d.place, Session: d.place, Entry: d.place, Begins: "no-entry"}
		if u, err := s.build(); err == nil {
			checkReply(t, u.Reply, d.text)
		}
	case 2:
		s := SMSSpec{CallSpec: call, ID: d.place, Phone: d.place, Text: d.place, Each: d.other}
		if m, err := s.build(); err == nil {
			checkReply(t, m.Reply, d.text)
		}
	case 3:
		call.Reply = nil
		_, _ = ReceiptSpec{CallSpec: call, ID: d.place, State: d.place, Each: d.other,
			States: map[string][]string{"delivered": {d.text}}}.build()
	case 4:
		s := HMACSpec{Header: d.header, Prefix: d.text, Signs: d.other, TimeHeader: d.media, Time: d.charset}
		if r, err := s.build(); err == nil {
			checkHMAC(t, r, Signed{Method: http.MethodPut, Path: "/in/x/sms", Query: d.place, Body: []byte(d.text)})
		}
	default:
		s := PushSpec{URL: d.url, Method: []string{"", "GET", "PUT"}[kind%3], Type: d.media, Charset: d.charset,
			Headers: reply.Headers, Body: d.body, Secrets: []string{"A"}}
		if kind%8 == 5 {
			s.Time, s.Answer, s.ID, s.Namespaces = d.other, format, d.place, call.Namespaces
			s.Success = &SuccessSpec{At: d.place, Is: []string{d.text}}
			s.Outcomes = []OutcomeSpec{{Status: d.other, At: d.place, Is: []string{d.text}, Then: "again"}}
		}
		if p, err := s.build(secretsOf(map[string]string{"A": `reed and "water"`})); err == nil && p.form != nil {
			checkPush(t, p, d.text)
		}
	}
}

// writable is s as the syntax can write it: XML 1.0 has no control characters (production 2, "Char"). In other charsets
// than UTF-8 the replacement character is taken for a mistake when it is read.
func (k syntax) writable(s string, c Charset) string {
	s = strings.ToValidUTF8(s, string(utf8.RuneError))
	return strings.Map(func(r rune) rune {
		control := r < ' ' && r != '\n' && r != '\t' && r != '\r'
		if k == xmlText && (control || r == 0xFFFE || r == 0xFFFF) {
			r = utf8.RuneError
		}
		if r == utf8.RuneError && c.enc != nil {
			r = '?'
		}
		return r
	}, s)
}

// checkHMAC checks that a call which is signed as the description says is let in, and not with another key.
func checkHMAC(t *testing.T, r *hmacRule, c Signed) {
	t.Helper()
	key, stamp := []byte("reed"), formatTime(r.layout, pushNow)
	c.Header = http.Header{r.header: {r.prefix + hex.EncodeToString(hmacSHA256(key, r.content(c, stamp)))}}
	if r.at {
		c.Header[r.timeHeader] = []string{stamp}
	}
	if once, err := r.verify([][]byte{key}, c, pushNow, time.Minute); err != nil || (once != "") != r.at {
		t.Fatalf("%+v: %q, %v", c, once, err)
	}
	if _, err := r.verify([][]byte{{1}}, c, pushNow, time.Minute); err != errSignature {
		t.Fatalf("%+v by another key: %v", c, err)
	}
}

func checkReply(t *testing.T, r *Reply, text string) {
	t.Helper()
	if r == nil || r.body == nil {
		return
	}
	text = r.syntax.writable(text, r.charset)
	for _, more := range []bool{true, false} {
		v := ReplyValues{Text: text, Session: text, ID: text, More: more}
		w := ReplyValues{Text: plainWord, Session: plainSession, ID: plainID, More: more}
		if more {
			v.IDs, v.Kept = []string{text}, 1
			w.IDs, w.Kept = []string{plainID}, 1
		}
		got, err1 := r.Render(v)
		plain, err2 := r.Render(w)
		if err1 != nil || err2 != nil {
			t.Fatalf("not filled in: %v, %v", err1, err2)
		}
		if text != "" && !r.syntax.comesWhole(plain.Body, got.Body, text, r.charset) {
			t.Fatalf("%q in %q is not as in %q", text, got.Body, plain.Body)
		}
		if checkLines(got.Header) != nil {
			t.Fatalf("headers %q", got.Header)
		}
	}
}

func checkPush(t *testing.T, p Push, text string) {
	t.Helper()
	f := p.form
	text = f.syntax.writable(text, f.charset)
	v := pushValues{ID: text, To: "+447700900123", ToDigits: "447700900123", Text: text, TextHex: ucs2Hex(text),
		ValidUntil: formatTime(f.layout, pushNow), ValidMinutes: 60, ValidOctet: 11, Segments: 1, Alphabet: "gsm7",
		Secret: f.secret}
	w := v
	w.ID, w.Text, w.TextHex = plainID, plainWord, ucs2Hex(plainWord)
	got, err1 := f.fill(v)
	plain, err2 := f.fill(w)
	if err1 != nil || err2 != nil {
		t.Fatalf("not filled in: %v, %v", err1, err2)
	}
	if text != "" && f.body != nil && !f.syntax.comesWhole(plain.Body, got.Body, text, f.charset) {
		t.Fatalf("%q in %q is not as in %q", text, got.Body, plain.Body)
	}
	a, err1 := url.Parse(got.URL)
	b, err2 := url.Parse(plain.URL)
	if err1 != nil || err2 != nil || checkLines(got.Header) != nil {
		t.Fatalf("%q, %q, %v, %v, %q", got.URL, plain.URL, err1, err2, got.Header)
	}
	in := strings.NewReplacer(plainWord, text, plainID, text, ucs2Hex(plainWord), ucs2Hex(text))
	if a.Scheme != b.Scheme || a.Host != b.Host || a.Path != in.Replace(b.Path) {
		t.Fatalf("%q is not as %q", got.URL, plain.URL)
	}
	values, err1 := url.ParseQuery(a.RawQuery)
	wanted, err2 := url.ParseQuery(b.RawQuery)
	if err1 != nil || err2 != nil || len(values) != len(wanted) {
		t.Fatalf("%q is not as %q", got.URL, plain.URL)
	}
	for name, list := range wanted {
		for i := range list {
			if values[name] == nil || i >= len(values[name]) || values[name][i] != in.Replace(list[i]) {
				t.Fatalf("%q of %q is not as in %q", name, got.URL, plain.URL)
			}
		}
	}
}
