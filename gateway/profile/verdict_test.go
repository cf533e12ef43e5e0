package profile

import (
	"net/http"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

// The tables of these networks say in different ways how their answers are read.
var (
	proved = PushSpec{URL: "https://heron.example/", ID: "/ref",
		Success: &SuccessSpec{At: "/fate", Is: []string{"afloat"}}, Outcomes: []OutcomeSpec{
			{At: "/error/code", Is: []string{"E-7"}, Then: "never"}, {Status: "204", Then: "taken"},
		}}
	present = PushSpec{URL: "https://heron.example/", ID: "/ref", Success: &SuccessSpec{At: "/ref"}}
	ruled   = PushSpec{URL: "https://heron.example/", ID: "/ref", Outcomes: []OutcomeSpec{
		{Status: "200-299", At: "/state", Is: []string{"waiting", "sent"}, Then: "taken"},
		{At: "/state", Is: []string{"nobody"}, Then: "no-such-number"},
		{Status: "200,202", At: "/ok", Is: []string{"false"}, Then: "never"},
		{Status: "409", Then: "taken"},
		{At: "header:X-State", Is: []string{"full"}, Then: "again"},
		{Status: "200-299", Then: "unsure"},
	}}
	inXML = PushSpec{URL: "https://heron.example/", Answer: "xml", ID: "/r/@id",
		Outcomes: []OutcomeSpec{{At: "/r/s", Is: []string{"1"}, Then: "taken"}}}
	inText = PushSpec{URL: "https://heron.example/", Answer: "text", ID: "2",
		Outcomes: []OutcomeSpec{{At: "1", Is: []string{"+"}, Then: "taken"}, {Status: "200", Then: "again"}}}
	inForm = PushSpec{URL: "https://heron.example/", Answer: "form", ID: "id", Success: &SuccessSpec{At: "id"},
		Outcomes: []OutcomeSpec{{At: "e", Is: []string{"7"}, Then: "never"}}}
	wholeText = PushSpec{URL: "https://heron.example/", Answer: "text",
		Success: &SuccessSpec{At: "*", Is: []string{"over"}}}
	proofInHeader = PushSpec{URL: "https://heron.example/", Answer: "text", Success: &SuccessSpec{At: "header:X-Ref"}}
	ours          = PushSpec{URL: "https://heron.example/"}
	byStatus      = PushSpec{URL: "https://heron.example/", Type: "text/plain", Body: "{{.To}} {{.Text}}"}
)

// A page that a network in between, such as that of a hotel, puts before all others.
const otherPage = "<!DOCTYPE html><html><body>Welcome. Please log in.</body></html>"

//revive:disable-next-line:function-length the rows of one table
func TestUnderstand(t *testing.T) {
	for _, tt := range []struct {
		name   string
		spec   PushSpec
		status int
		body   string
		then   Outcome
		id     string
	}{
		{"taken", ruled, 200, `{"state":"sent","ref":17}`, Taken, "17"},
		{"taken, no id", ruled, 202, `{"state":"waiting"}`, Taken, ""},
		{"nobody there", ruled, 404, `{"state":"nobody"}`, NoSuchNumber, ""},
		{"nobody there, and all is well", ruled, 200, `{"state":"nobody"}`, NoSuchNumber, ""},
		{"no", ruled, 202, `{"ok":false}`, Never, ""},
		{"had it", ruled, 409, `{}`, Taken, ""},
		{"had it, said in no JSON", ruled, 409, `had it`, Taken, ""},
		{"a word that is not known", ruled, 200, `{"state":"hm"}`, MaybeSent, ""},
		{"a page", ruled, 200, otherPage, MaybeSent, ""},
		{"a page of trouble", ruled, 500, otherPage, Again, ""},
		{"trouble", ruled, 500, `{"state":"hm"}`, Again, ""},
		{"two states", ruled, 200, `{"state":"sent","state":"nobody"}`, MaybeSent, ""},
		{"an id with NUL", ruled, 409, `{"ref":"a\u0000b"}`, Taken, ""},
		{"an id that is an object", ruled, 409, `{"ref":{"n":1}}`, Taken, ""},

		{"XML", inXML, 200, `<r id="n-1"><s> 1 </s></r>`, Taken, "n-1"},
		{"XML, another word", inXML, 200, `<r id="n-1"><s>2</s></r>`, MaybeSent, "n-1"},
		{"XML, two words", inXML, 200, `<r id="n-1"><s>1</s><s>1</s></r>`, MaybeSent, "n-1"},
		{"XML that breaks off", inXML, 200, `<r id="n-1"><s>1</s>`, MaybeSent, ""},
		{"words", inText, 200, "+ n-1\n", Taken, "n-1"},
		{"words, another", inText, 200, "- n-1\n", Again, "n-1"},
		{"a long id", inText, 200, "+ " + strings.Repeat("x", 129), Taken, ""},
		{"a form", inForm, 200, "id=3", Taken, "3"},
		{"a form, refused", inForm, 200, "e=7&id=3", Never, "3"},
		{"a form, twice", inForm, 200, "id=3&id=4", MaybeSent, ""},
		{"a page for a form", inForm, 200, otherPage, MaybeSent, ""},

		{"proved", proved, 200, `{"fate":"afloat","ref":"n-1"}`, Taken, "n-1"},
		{"proved, after a byte order mark", proved, 200, "\ufeff" + `{"fate":"afloat"}`, Taken, ""},
		{"proved, with a list around", proved, 200, `[{"fate":"afloat"}]`, MaybeSent, ""},
		{"another word than proves", proved, 200, `{"fate":"sunk","ref":"n-1"}`, MaybeSent, "n-1"},
		{"a listed error", proved, 200, `{"error":{"code":"E-7"}}`, Never, ""},
		{"an error that is not listed", proved, 200, `{"error":{"code":"E-8"}}`, MaybeSent, ""},
		{"an error with a status of its own", proved, 422, `{"error":{"code":"E-8"}}`, Never, ""},
		{"a page instead of the proof", proved, 200, otherPage, MaybeSent, ""},
		{"JSON that breaks off", proved, 200, `{"fate":"afloat","ref":"n-`, MaybeSent, ""},
		{"the proof twice", proved, 200, `{"fate":"afloat","fate":"afloat"}`, MaybeSent, ""},
		{"no body instead of the proof", proved, 200, ``, MaybeSent, ""},
		{"no body, as listed", proved, 204, ``, Taken, ""},
		{"the proof with a status of failure", proved, 500, `{"fate":"afloat"}`, Again, ""},

		{"an id", present, 200, `{"ref":17}`, Taken, "17"},
		{"an id that is null", present, 200, `{"ref":null}`, MaybeSent, ""},
		{"an id that is empty", present, 200, `{"ref":" "}`, MaybeSent, ""},
		{"an id that is false", present, 200, `{"ref":false}`, MaybeSent, "false"},
		{"an id that is a list", present, 200, `{"ref":["n-1"]}`, MaybeSent, ""},
		{"an id too long to be stored", present, 200, `{"ref":"` + strings.Repeat("x", 129) + `"}`, Taken, ""},

		{"our own format", ours, 200, `{"id":9007199254740993}`, Taken, "9007199254740993"},
		{"our own format without a body", ours, 202, ``, Taken, ""},
		{"our own format without an id", ours, 200, `{"error":"no credit"}`, MaybeSent, ""},
		{"a page for our own format", ours, 200, otherPage, MaybeSent, ""},

		{"a page where no answer is described", byStatus, 200, otherPage, Taken, ""},
		// RFC 9110 sections 15.6.3, 15.6.5, 15.4.4
		{"a proxy without an answer of the network", byStatus, 502, otherPage, MaybeSent, ""},
		{"a proxy that waited too long", byStatus, 504, otherPage, MaybeSent, ""},
		{"see the answer elsewhere", byStatus, 303, ``, MaybeSent, ""},
		{"moved", byStatus, 308, ``, Again, ""},
		{"a log-in to the network in between", byStatus, 511, otherPage, Again, ""}, // RFC 6585 section 6
		{"not for now", byStatus, 503, ``, Again, ""},
		{"not like this", byStatus, 400, ``, Never, ""},
	} {
		v := pushing(tt.spec).Push.Understand(Answer{Status: tt.status, Body: []byte(tt.body)})
		if v.Outcome != tt.then || v.ID != tt.id {
			t.Errorf("%s: %s %q (%s: %s), want %s %q", tt.name, v.Outcome, v.ID, v.Rule, v.Why, tt.then, tt.id)
		}
	}
	for name, tt := range map[string]struct {
		spec PushSpec
		in   Answer
		want Outcome
	}{
		"cut off": {ruled, Answer{Status: 200, Body: []byte(`{"state":"sent"}`), Broken: "cut"}, MaybeSent},
		"a header": {ruled, Answer{Status: 503, Header: http.Header{"X-State": {"full"}}, Body: []byte("{")},
			Again},
		"proved by a header": {proofInHeader, Answer{Status: 200, Header: http.Header{"X-Ref": {"n-1"}}}, Taken},
		"a header twice": {proofInHeader, Answer{Status: 200, Header: http.Header{"X-Ref": {"n-1", "n-2"}}},
			MaybeSent},
		"latin-1 by the content type": {inXML, Answer{Status: 200, Body: []byte("<r><s>1</s><f\xe9/></r>"),
			Header: http.Header{"Content-Type": {"text/xml; charset=ISO-8859-1"}}}, Taken},
		"latin-1 by its declaration": {inXML, Answer{Status: 200,
			Body: []byte(`<?xml version="1.0" encoding="ISO-8859-1"?>` + "<r><s>1</s><f\xe9/></r>")}, Taken},
		"two charsets": {inXML, Answer{Status: 200, Header: http.Header{"Content-Type": {"text/xml; charset=utf-8"}},
			Body: []byte(`<?xml version="1.0" encoding="ISO-8859-1"?>` + "<r><s>1</s><f\xe9/></r>")}, Taken},
		"a charset that nobody knows": {inXML, Answer{Status: 200, Body: []byte("<r><s>1</s></r>"),
			Header: http.Header{"Content-Type": {"text/xml; charset=latin-99"}}}, Taken},
		"our own format, cut off": {ours, Answer{Status: 202, Broken: "cut"}, MaybeSent},
	} {
		if v := pushing(tt.spec).Push.Understand(tt.in); v.Outcome != tt.want {
			t.Errorf("%s: %s (%s: %s), want %s", name, v.Outcome, v.Rule, v.Why, tt.want)
		}
	}
}

// The reason of a verdict names the rule and the place, and what stood there only if it is a few short words: no phone
// number, no two words in a row of the text, no secret.
func TestUnderstandSaysWhy(t *testing.T) {
	secret := proved
	secret.Type, secret.Body = "application/json", `{"to":"{{.To}}","words":"{{.Text}}","key":"{{.Secret}}"}`
	secret.Secrets = []string{"B"} // "old"
	for _, tt := range []struct {
		spec      PushSpec
		body      string
		rule, why string
	}{
		{proved, `{"fate":"afloat"}`, "success", `/fate is "afloat"`},
		{proved, `{"fate":"stuck in mud"}`, "success",
			`/fate is "stuck in mud"; the answer is a JSON object with fate`},
		{proved, `{"error":{"code":"E-8"},"at":3}`, "success",
			"/fate is not there; the answer is a JSON object with at, error"},
		{proved, `{"error":{"code":"E-7"}}`, "outcomes, number 1", `/error/code is "E-7"`},
		{proved, `{"+447700900123":"sunk"}`, "success", "/fate is not there; the answer is a JSON object"},
		{proved, `{"fate":"for 07700 900123"}`, "success",
			"/fate is a value of 16 characters; the answer is a JSON object with fate"},
		{proved, `{"fate":"Weed plot 1 now"}`, "success",
			"/fate is a value of 15 characters; the answer is a JSON object with fate"},
		{proved, `{"fate":"` + strings.Repeat("x", 33) + `"}`, "success",
			"/fate is a value of 33 characters; the answer is a JSON object with fate"},
		{proved, `{"fate":"a\nb"}`, "success",
			"/fate is a value of 3 characters; the answer is a JSON object with fate"},
		{secret, `{"fate":"key old"}`, "success",
			"/fate is a value of 7 characters; the answer is a JSON object with fate"},
		{proved, `{"fate":{}}`, "success", "/fate is an object or a list; the answer is a JSON object with fate"},
		{proved, `[{}]`, "success", "/fate is not there; the answer is a JSON list of 1"},
		{proved, `{"fate":"afloat","fate":"afloat"}`, "outcomes, number 1",
			"/error/code cannot be read; the answer has a name twice in one object"},
		{present, otherPage, "success", "/ref cannot be read; the answer is an HTML page"},
		{present, "", "success", "/ref cannot be read; the answer has no body"},
		{present, `{"ref":"n-1`, "success", "/ref cannot be read; the answer is not JSON (11 octets)"},
		{inXML, `<fault/>`, "outcomes", "none of them fits; the answer is XML with fault in no namespace"},
		{inXML, `<fault xmlns="urn:example:clay"/>`, "outcomes",
			"none of them fits; the answer is XML with fault in the namespace urn:example:clay"},
		{inForm, `id=3&id=4`, "success",
			"id stands there more than once, or cannot be worked out; the answer is a form with id"},
		{wholeText, otherPage, "success", "the whole text is a value of 64 characters; the answer is an HTML page"},
		{byStatus, otherPage, StatusRule, ""},
	} {
		v := pushing(tt.spec).Push.Understand(Answer{Status: 200, Body: []byte(tt.body), Sent: "Weed plot 1 now."})
		if v.Rule != tt.rule || v.Why != tt.why {
			t.Errorf("%s\n got %s: %s\nwant %s: %s", tt.body, v.Rule, v.Why, tt.rule, tt.why)
		}
	}
}

// Whatever a network writes into its answer, the reason has no phone number, no secret and no two words in a row of the
// text.
func TestUnderstandTellsNothing(t *testing.T) {
	const secret, words, number = "reed-and-water", "Weed plot 1 now.", "7700900123"
	networks := []PushSpec{
		{Answer: "json", ID: "/ref", Success: &SuccessSpec{At: "/fate", Is: []string{"afloat"}},
			Outcomes: []OutcomeSpec{{At: "/code", Is: []string{"E"}, Then: "never"}}},
		{Answer: "xml", Success: &SuccessSpec{At: "/r/s"}},
		{Answer: "form", Success: &SuccessSpec{At: "fate"}},
		{Answer: "text", Success: &SuccessSpec{At: "1", Is: []string{"yes"}}},
		{Answer: "text", Success: &SuccessSpec{At: "header:X-Fate"}},
	}
	look := secretsOf(map[string]string{"S": secret})
	built := make([]Push, len(networks))
	for i, s := range networks {
		s.URL, s.Type, s.Body, s.Secrets = "https://heron.example/", "text/plain", "{{.To}} {{.Text}} {{.Secret}}",
			[]string{"S"}
		built[i] = must(Spec{Push: &s}.Build("heron", look)).Push
	}
	pieces := rapid.SampledFrom([]string{secret, words, "+44" + number, number, "077 009 001 23", "7.7-0:0_9", "sunk",
		" ", "\n", "٣٤٥٦٧٨٩", "é", "for "})
	layouts := rapid.SampledFrom([]string{`{"fate":"%s"}`, `{"%s":1}`, `{"code":"%s"}`, `<r><s>%s</s></r>`,
		`<r a="%s"/>`, `<r xmlns="%s"/>`, `fate=%s`, `%s=1`, `%s`, `<html>%s`, `{"fate":"%s`})
	rapid.Check(t, func(t *rapid.T) {
		value := strings.Join(rapid.SliceOfN(pieces, 1, 4).Draw(t, "value"), "")
		body := strings.Replace(layouts.Draw(t, "body"), "%s", value, 1)
		p := rapid.SampledFrom(built).Draw(t, "network")
		v := p.Understand(Answer{Status: rapid.SampledFrom([]int{200, 202, 400, 503}).Draw(t, "status"),
			Header: http.Header{"X-Fate": {value}}, Body: []byte(body), Sent: words})
		digits := strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return r
			}
			return -1
		}, v.Why)
		shown := func(part string) bool { return strings.Contains(v.Why, part) || strings.Contains(digits, part) }
		if shown(secret) || shown("Weed plot") || shown("77009") || shown("٣٤٥") || shown("\n") ||
			v.Outcome < Taken || v.Outcome > MaybeSent {
			t.Fatalf("%q: %s, %s: %s", body, v.Outcome, v.Rule, v.Why)
		}
	})
}
