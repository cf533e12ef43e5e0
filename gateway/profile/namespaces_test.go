package profile

import (
	"testing"
)

// A prefix in an XPath means its namespace, by whatever prefix or default the document writes it: Namespaces in XML
// 1.0, sections 5 and 6. Unprefixed attributes are in no namespace (section 6.2). Without namespaces a prefix is as the
// document writes it.
func TestNamespaces(t *testing.T) {
	declared := Namespaces{"s": "urn:example:soil", "w": "urn:example:water"}
	for _, tt := range []struct {
		at, body string
		names    Namespaces
		want     any
	}{
		{"/s:a/s:b", `<s:a xmlns:s="urn:example:soil"><s:b>x</s:b></s:a>`, declared, "x"},
		{"/s:a/s:b", `<q:a xmlns:q="urn:example:soil"><q:b>x</q:b></q:a>`, declared, "x"},
		{"/s:a/s:b", `<a xmlns="urn:example:soil"><b>x</b></a>`, declared, "x"},
		{"/s:a/w:b", `<a xmlns="urn:example:soil"><b xmlns="urn:example:water">x</b></a>`, declared, "x"},
		{"/s:a/w:b", `<w:a xmlns:w="urn:example:soil"><s:b xmlns:s="urn:example:water">x</s:b></w:a>`, declared, "x"},
		{"//s:b", `<a xmlns="urn:example:soil"><b xmlns="urn:example:water">no</b><b>x</b></a>`, declared, "x"},
		{"/s:a/@n", `<a xmlns="urn:example:soil" n="x"/>`, declared, "x"},
		{"/s:a/@w:n", `<a xmlns="urn:example:soil" xmlns:q="urn:example:water" n="no" q:n="x"/>`, declared, "x"},
		{"/s:a/@w:n", `<a xmlns="urn:example:soil" n="no"/>`, declared, nil},
		{"string(/s:a[@n='1']/s:b)", `<a xmlns="urn:example:soil" n="1"><b>x</b></a>`, declared, "x"},
		{"/s:a", `<s:a xmlns:s="urn:example:other">no</s:a>`, declared, nil},
		{"/s:a", `<a>no</a>`, declared, nil},
		{"/a", `<a>x</a>`, declared, "x"},
		{"/s:a", `<s:a xmlns:s="urn:example:other">x</s:a>`, nil, "x"},
		{"/s:a", `<q:a xmlns:q="urn:example:soil">no</q:a>`, nil, nil},
		{"/a/b", `<a xmlns="urn:example:soil"><b>x</b></a>`, nil, "x"},
	} {
		f := must(newField(XML, tt.at, tt.names))
		if got := must(must(Parse(XML, Charset{}, []byte(tt.body))).Value(f)); got != tt.want {
			t.Errorf("%s of %s: %v, want %v", tt.at, tt.body, got, tt.want)
		}
	}
}

func TestMistakesOfNamespaces(t *testing.T) {
	sms := func(toml, phone string) string {
		return "sms = {body = 'xml', id = '/a', text = '/c', phone = '" + phone + "', namespaces = " + toml + "}"
	}
	mistakesIn(t, baseTrust, []mistake{
		{"as it is", sms(`{s = "urn:example:soil"}`, "/s:a/@b"), ""},
		{"a prefix without a namespace", sms(`{s = "urn:example:soil"}`, "/w:a"),
			"sms: phone: the prefix w of this XPath is not in namespaces"},
		{"all names of a prefix", sms(`{s = "urn:example:soil"}`, "/s:*"), "phone: this XPath cannot be worked out"},
		{"an empty namespace", sms(`{s = ""}`, "/s:a"), "namespaces: s: say which namespace"},
		{"a reserved prefix", sms(`{xml = "urn:example:soil"}`, "/xml:a"), "namespaces: xml: no prefix may begin with"},
		{"no prefix", sms(`{"" = "urn:example:soil"}`, "/a"), `namespaces: "" is not a prefix such as s`},
		{"JSON", `sms = {body = "json", id = "/a", text = "/c", phone = "/p", namespaces = {s = "urn:example:soil"}}`,
			"sms: namespaces: only XML has namespaces"},
	})
	mistakesIn(t, basePush, []mistake{
		{"of an answer", `push = {answer = "xml", success = {at = "/s:a"}, namespaces = {s = "urn:example:s"}}`, ""},
		{"JSON", `push.namespaces = {s = "urn:example:soil"}`, "push: namespaces: only XML"},
		{"of a proof", `push = {answer = "xml", success = {at = "/w:a"}, namespaces = {s = "urn:example:s"}}`,
			"push: success: at: the prefix w"},
	})
}

// No XPath and no document makes the program panic, and a value is a string.
func FuzzNamespaces(f *testing.F) {
	for _, at := range []string{"/s:a/@w:b", "//s:*", "string(//w:b)", "/s:a[1]", "namespace::s", "s:f()", "/a|/s:a"} {
		f.Add(at, []byte(`<a xmlns="urn:example:soil" xmlns:w="urn:example:water" w:b="1"><w:b>2</w:b></a>`))
	}
	names := Namespaces{"s": "urn:example:soil", "w": "urn:example:water"}
	f.Fuzz(func(t *testing.T, at string, body []byte) {
		field, err := newField(XML, at, names)
		if err != nil || len(at) > 200 {
			return
		}
		d, err := Parse(XML, Charset{}, body)
		if err != nil {
			return
		}
		if v, err := d.Value(field); err == nil && v != nil {
			if _, ok := v.(string); !ok {
				t.Fatalf("%q is %T", at, v)
			}
		}
	})
}
