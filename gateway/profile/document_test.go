package profile

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
	"rowbell/menu/text"
)

// must returns v; it panics on an error, which fails the test.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// utf16be writes a string of the Basic Multilingual Plane (U+0000 to U+FFFF) in UTF-16, high octet first.
func utf16be(s string) string {
	b := []byte{}
	for _, r := range s {
		b = append(b, byte(r>>8), byte(r))
	}
	return string(b)
}

var valueTests = []struct {
	name    string
	format  Format
	charset string
	body    string
	at      string
	want    any // nil: the call must have no value in this field
	wrong   string
}{
	{"json", JSON, "", `{"a":{"b":["x","y"]}}`, "/a/b/1", "y", ""},
	{"json number", JSON, "", `{"a":9007199254740993}`, "/a", "9007199254740993", ""},
	{"json number with a point", JSON, "", `{"a":447700900123.0}`, "/a", json.Number("447700900123.0"), ""},
	{"json number with an exponent", JSON, "", `{"a":4.477009e11}`, "/a", json.Number("4.477009e11"), ""},
	{"json number below 0", JSON, "", `{"a":-447700900123}`, "/a", json.Number("-447700900123"), ""},
	{"json escapes", JSON, "", `{"a":"\u00e9\n\"\ud83c\udf3e"}`, "/a", "é\n\"🌾", ""},
	{"json name with an escape", JSON, "", `{"\u0061":"x"}`, "/a", "x", ""},
	{"json null", JSON, "", `{"a":null}`, "/a", nil, ""},
	{"json true", JSON, "", `{"a":true}`, "/a", "true", ""},
	{"json object", JSON, "", `{"a":{}}`, "/a", map[string]any{}, ""},
	{"json list at the top", JSON, "", ` [ "x" , "y" ] `, "/1", "y", ""},
	{"json byte order mark", JSON, "", "\ufeff" + `{"a":"x"}`, "/a", "x", ""},
	{"json in latin-1", JSON, "iso-8859-1", "{\"a\":\"\xe9\"}", "/a", "é", ""},
	{"json in UTF-16", JSON, "utf-16be", utf16be(`{"a":"éß"}`), "/a", "éß", ""},
	{"json name twice, once escaped", JSON, "", `{"a":"x","\u0061":"y"}`, "/a", nil, "stands twice"},
	{"json name twice, deep", JSON, "", `[{"z":{"a":1,"a":1}}]`, "/a", nil, "stands twice"},
	{"json just deep enough", JSON, "", strings.Repeat("[", 32) + "1" + strings.Repeat("]", 32),
		strings.Repeat("/0", 32), "1", ""},
	{"json too deep", JSON, "", strings.Repeat("[", 33) + "1" + strings.Repeat("]", 33), "/0", nil, "too deep"},
	{"json with a comma behind", JSON, "", `{"a":"x",}`, "/a", nil, "not a JSON"},
	{"json cut in UTF-16", JSON, "utf-16be", utf16be(`{}`) + "\x00", "/a", nil, "charset"},
	{"form", Form, "", "a=x+y%21&b=", "a", "x y!", ""},
	{"form empty", Form, "", "a=x&b=", "b", "", ""},
	{"form none", Form, "", "a=x", "c", nil, ""},
	{"form in latin-1", Form, "iso-8859-1", "a=%E9t%E9", "a", "été", ""},
	{"form in UTF-8 said to be latin-1", Form, "iso-8859-1", "a=%C3%A9", "a", "Ã©", ""},
	{"form in UTF-16", Form, "utf-16be", "a=%09%15%00%31", "a", "क1", ""},
	{"form cut in UTF-16", Form, "utf-16be", "a=%09%15%00", "a", nil, "charset"},
	{"form that is none", Form, "", "a=%zz", "a", nil, "not a form"},
	{"xml element", XML, "", `<r><a>x &amp; y</a></r>`, "/r/a", "x & y", ""},
	{"xml attribute", XML, "", `<r a="x"/>`, "/r/@a", "x", ""},
	{"xml by a condition", XML, "", `<r><v n="a">x</v><v n="b">y</v></r>`, `/r/v[@n="b"]`, "y", ""},
	{"xml by a function", XML, "", `<r><a> x  y </a></r>`, `normalize-space(/r/a)`, "x y", ""},
	{"xml count", XML, "", `<r><a/><a/></r>`, `count(/r/a)`, "2", ""},
	{"xml of any name space", XML, "", `<n:r xmlns:n="urn:x"><n:a>x</n:a></n:r>`, `//*[local-name()="a"]`, "x", ""},
	{"xml character data", XML, "", `<r><a><![CDATA[<&]]></a></r>`, "/r/a", "<&", ""},
	{"xml none", XML, "", `<r/>`, "/r/a", nil, ""},
	{"xml empty", XML, "", `<r><a/></r>`, "/r/a", "", ""},
	{"xml in latin-1", XML, "iso-8859-1", "<?xml version='1.0' encoding='ISO-8859-1'?><r>\xe9</r>", "/r", "é", ""},
	{"xml in another charset than it says", XML, "", `<?xml version="1.0" encoding="ISO-8859-1"?><r/>`, "/r", nil,
		"another charset"},
	{"xml just deep enough", XML, "", strings.Repeat("<a>", 32) + "x" + strings.Repeat("</a>", 32),
		strings.Repeat("/a", 32), "x", ""},
	{"xml too deep", XML, "", strings.Repeat("<a>", 33) + strings.Repeat("</a>", 33), "/a", nil, "too deep"},
	{"xml too much", XML, "", "<r>" + strings.Repeat("<a/>", 2048) + "</r>", "/r", nil, "too many"},
	{"xml text beside the root", XML, "", `<r/>x`, "/r", nil, "well-formed"},
	{"xml open", XML, "", `<r><a></r>`, "/r", nil, "well-formed"},
	{"xml nothing", XML, "", ``, "/r", nil, "well-formed"},
	{"text", Text, "", "taken 8812\r\n", "*", "taken 8812", ""},
	{"text, a word", Text, "", "taken 8812\r\n", "2", "8812", ""},
	{"text, no such word", Text, "", "taken 8812\r\n", "3", nil, ""},
	{"text in latin-1", Text, "iso-8859-1", "\xe9", "*", "é", ""},
	{"a header", Text, "", "x", "header:X-Id", "h", ""},
	{"a header twice", Text, "", "x", "header:X-Two", nil, "more than one"},
	{"the query", JSON, "", "{}", "query:q", "1", ""},
}

func TestValues(t *testing.T) {
	for _, tt := range valueTests {
		t.Run(tt.name, func(t *testing.T) {
			f := must(newField(tt.format, tt.at, nil))
			c := Call{Format: tt.format, Charset: must(newCharset(tt.charset))}
			d, err := c.Read(http.Header{"X-Id": {"h"}, "X-Two": {"a", "b"}}, "q=1", []byte(tt.body))
			var got any
			if err == nil {
				got, err = d.Value(f)
			}
			if (err == nil) != (tt.wrong == "") || err != nil && !strings.Contains(err.Error(), tt.wrong) {
				t.Fatalf("error %v, want %q", err, tt.wrong)
			}
			if !reflect.DeepEqual(got, tt.want) {
				t.Errorf("%#v, want %#v", got, tt.want)
			}
		})
	}
}

func TestContentTypes(t *testing.T) {
	const media = "application/json application/hal+json application/xml text/xml application/soap+xml text/plain " +
		"application/x-www-form-urlencoded image/png nonsense/"
	for format, want := range map[Format]string{
		Ours: "application/json application/x-www-form-urlencoded", Form: "application/x-www-form-urlencoded",
		JSON: "application/json application/hal+json text/plain", Text: "text/plain",
		XML: "application/xml text/xml application/soap+xml text/plain",
	} {
		if got := (Call{Format: format}).AcceptsType(""); got != (format != Ours) {
			t.Errorf("format %d without a content type: %v", format, got)
		}
		var accepted []string
		for _, m := range strings.Fields(media) {
			if (Call{Format: format}).AcceptsType(m) {
				accepted = append(accepted, m)
			}
		}
		if got := strings.Join(accepted, " "); got != want {
			t.Errorf("format %d accepts %s, want %s", format, got, want)
		}
	}
}

// The octets of "hellohello" are the widely known example of the packing of septets by 3GPP TS 23.038 (from memory).
// Seven characters leave seven bits free in the last octet, which USSD and SMS fill in different ways (clause
// 6.1.2.3.1 for USSD).
func TestCodings(t *testing.T) {
	tests := []struct {
		coding Coding
		in     string
		want   string
		wrong  bool
	}{
		{GSM7HexSMS, "E8329BFD4697D9EC37", "hellohello", false},
		{GSM7HexSMS, "e8329bfd4697d9ec37", "hellohello", false},
		{GSM7HexUSSD, "E8329BFD4697D9EC37", "hellohello", false},
		{GSM7HexSMS, "31D98C56B3DD00", "1234567", false},   // seven zero bits at the end of an SMS: dropped
		{GSM7HexUSSD, "31D98C56B3DD1A", "1234567", false},  // a carriage return as USSD padding: dropped
		{GSM7HexUSSD, "31D98C56B3DD00", "1234567@", false}, // seven zero bits at the end in USSD: read as "@"
		{GSM7HexSMS, "", "", false},
		{GSM7HexSMS, "3", "", true},
		{GSM7HexSMS, "3G", "", true},
		{UCS2Hex, "0915002A00310023", "क*1#", false},
		{UCS2Hex, "D83CDF3E", "🌾", false},
		{UCS2Hex, "D83C", "", true},
		{UCS2Hex, "DF3ED83C", "", true},
		{UCS2Hex, "091500", "", true},
		{UCS2Hex, "0915 002A", "", true},
		{UCS2Hex, "", "", false},
	}
	for _, tt := range tests {
		got, err := tt.coding.decode(tt.in)
		if got != tt.want || (err != nil) != tt.wrong {
			t.Errorf("%d %q: %q, %v; want %q", tt.coding, tt.in, got, err, tt.want)
		}
	}
}

func TestCodingsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := func(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, utf8.RuneError) }
		s := rapid.String().Filter(whole).Draw(t, "text")
		if got, err := UCS2Hex.decode(ucs2Hex(s)); err != nil || got != s {
			t.Fatalf("%q comes back as %q, %v", s, got, err)
		}
		g := rapid.StringOf(rapid.RuneFrom([]rune("abc123*#@é{}€ "))).Draw(t, "gsm7")
		sent := g
		// USSD fills seven free bits with a carriage return: 3GPP TS 23.038, clause 6.1.2.3.1.
		if n, _ := text.Septets(g); n%8 == 7 {
			sent += "\r"
		}
		packed := must(text.Pack(sent))
		if got, err := GSM7HexUSSD.decode(hex.EncodeToString(packed)); err != nil || got != g {
			t.Fatalf("%q comes back as %q, %v", g, got, err)
		}
	})
}

// A value of another coding is told from what growers type: 0511 is a date, see testdata/answers/date.txt.
func TestLooksCoded(t *testing.T) {
	for value, want := range map[string]string{
		"0031": "ucs2-hex", "092C": "ucs2-hex", "00310023": "ucs2-hex", "002A0915": "ucs2-hex",
		"003100320033": "ucs2-hex",
		"":             "", "1": "", "31": "", "0511": "", "05112026": "", "2511": "", "0001": "", "0031 0032": "",
		"00G1": "",
	} {
		d := must(Parse(Form, Charset{}, []byte("e="+url.QueryEscape(value))))
		if got := d.LooksCoded(must(newField(Form, "e", nil))); got != want {
			t.Errorf("%q: %q, want %q", value, got, want)
		}
	}
}

func TestStrip(t *testing.T) {
	b := CallSpec{Body: "form", Strip: map[string][]string{"phone": {"tel", "tel:"}}}.begin(false)
	f := b.field("phone", "p", true)
	must(b.end(false))
	for in, want := range map[string]string{"tel:07700900123": "07700900123", "tel07700900123": "07700900123",
		"07700900123": "07700900123", "tel:tel:1": "tel:1"} {
		d := must(Parse(Form, Charset{}, []byte("p="+in)))
		if got, err := d.Value(f); got != want || err != nil {
			t.Errorf("%q: %v, %v; want %q", in, got, err, want)
		}
	}
}

// FuzzJSON checks that parseJSON returns the same value as encoding/json, or returns an error.
func FuzzJSON(f *testing.F) {
	for _, s := range []string{`{"a":[1,2,{"b":null}],"c":"\u00e9"}`, `[]`, `"x"`, `1e400`, ` {} `, `{"a":1,"a":2}`,
		`[[[[`, "\xff", `{"\ud800":0}`, `-0`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		got, err := parseJSON(body)
		var want any
		d := json.NewDecoder(strings.NewReader(string(body)))
		d.UseNumber()
		wantErr := d.Decode(&want)
		if err != nil || !utf8.Valid(body) { // Parse refuses a body that is not UTF-8 before parseJSON is called
			return
		}
		if wantErr != nil {
			t.Fatalf("read what is no JSON: %q", body)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%#v, encoding/json says %#v", got, want)
		}
	})
}

func FuzzXML(f *testing.F) {
	for _, s := range []string{`<r a="1"><b>x</b></r>`, `<?xml version="1.0"?><r/>`, `<!DOCTYPE r><r/>`,
		`<r>&lt;</r>`, `<a:r xmlns:a="b"/>`, `<r`, `<?xml?>`, `<r><![CDATA[x]]></r>`} {
		f.Add([]byte(s))
	}
	at := must(newField(XML, "//*[1]/@*|/r/b", nil))
	f.Fuzz(func(t *testing.T, body []byte) {
		d, err := Parse(XML, Charset{}, body)
		if err != nil {
			return
		}
		if v, err := d.Value(at); err == nil && v != nil {
			if s, ok := v.(string); !ok || len(s) > len(body) {
				t.Fatalf("%d octets grew to %v", len(body), v)
			}
		}
	})
}

func FuzzForm(f *testing.F) {
	for _, s := range []string{"a=x&b=%E9", "a=1&a=2", "a", "%", "a=%00", "=;"} {
		f.Add([]byte(s))
	}
	latin := must(newCharset("iso-8859-1"))
	f.Fuzz(func(t *testing.T, body []byte) {
		d, err := Parse(Form, latin, body)
		if err != nil {
			return
		}
		if v, err := d.Value(Field{At: "a", name: "a"}); err == nil && v != nil && !utf8.ValidString(v.(string)) {
			t.Fatalf("%q came through", v)
		}
	})
}

func FuzzHex(f *testing.F) {
	for _, s := range []string{"0915", "D83CDF3E", "E8329BFD4697D9EC37", "zz", "1", "31D98C56B3DD00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, c := range []Coding{UCS2Hex, GSM7HexSMS, GSM7HexUSSD} {
			if got, err := c.decode(s); err == nil && (!utf8.ValidString(got) || len(got) > 2*len(s)+3) {
				t.Fatalf("%d: %q became %q", c, s, got)
			}
		}
	})
}

// Calls that evaluate the same XPath at the same time must each get the value of their own document.
func TestPathsAreShared(t *testing.T) {
	for _, path := range []string{
		"/a/@of", "//b[@k='x']", "string(/a/b[last()])", "concat('+', /a/c/d)", "substring-after(/a/@of, ':')",
		"normalize-space(concat(/a/@of, ' ', string(/a/b[1])))", "/a/b[position()=2]", "string(/a/b[count(/a/b)])",
		"number(/a/@n)", "sum(/a/n)", "/a/b[contains(., '-')][1]", "(/a/b)[2]", "string(//*[@k='x' and not(@z)])",
		"/a/@of | /a/@never", "string(/a/c/d/ancestor::a/@of)", "translate(/a/@of, ':', '')", "/a/b[@k=/a/want]",
		"string(/a/@n + 1)",
	} {
		t.Run(path, func(t *testing.T) {
			f := must(newField(XML, path, nil))
			read := func(i int) any {
				body := fmt.Sprintf("<a of='p:%d' n='%d'><want>x</want><n>%d</n><b k='x'>b-%d</b><b "+
					"k='y'>last-%d</b><c><d>d%d</d></c></a>", i, i, i, i, i, i)
				return must(must(Parse(XML, Charset{}, []byte(body))).Value(f))
			}
			var want []any
			for i := range 16 {
				want = append(want, read(i))
			}
			var all sync.WaitGroup
			for i := range want {
				all.Go(func() {
					for range 30 {
						if got := read(i); got != want[i] {
							t.Errorf("call %d: %v, want %v", i, got, want[i])
							return
						}
					}
				})
			}
			all.Wait()
		})
	}
}
