package profile

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// eachText describes texts, several in a call.
func eachText(body, each, id, phone, text string) (SMS, error) {
	return SMSSpec{CallSpec: CallSpec{Body: body}, Each: each, ID: id, Phone: phone, Text: text}.build()
}

// itemsOf returns the values of all items of a body, or the error.
func itemsOf(m SMS, body string) string {
	d, err := m.Read(http.Header{"X-No": {"h"}}, "no=q", []byte(body))
	if err != nil {
		return err.Error()
	}
	items, err := m.Items(d)
	var e ItemsError
	if errors.As(err, &e) {
		return e.At + ": " + e.Detail
	}
	var list []string
	for _, i := range items {
		line := ""
		for _, f := range []Field{m.ID, m.Phone, m.Text} {
			v, err := i.Value(f)
			if err != nil {
				v = err
			}
			line += fmt.Sprint(v) + " "
		}
		if i.Refused() != nil {
			line += "refused"
		}
		list = append(list, strings.TrimSpace(line))
	}
	return strings.Join(list, ", ")
}

func TestItems(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ body, each, id, phone, text, call, want string }{
		{"json", "/a", "/i", "/p", "/t", `{"a":[{"i":1,"p":"x","t":"y"},{"i":2}]}`, "1 x y, 2 <nil> <nil>"},
		{"json", "/a/b", "request:/i", "request:/p", "#", `{"i":1,"p":2,"a":{"b":["x","y"]}}`, "1 2 x, 1 2 y"},
		{"json", "#", "/0", "/1", "/2", `[["1","x","y"],["2"]]`, "1 x y, 2 <nil> <nil>"},
		{"json", "#", "query:no", "header:X-No", "/t", `[{"t":"x"},{"t":"y"}]`, "q h x, q h y"},
		{"json", "/a", "/i", "/p", "/t", `{"a":{}}`,
			"/a: There is no list here. The items of a request are in a list."},
		{"json", "/a", "/i/0", "/p", "/t", `{"a":[{"i":[1,2]}]}`, "1 <nil> <nil> refused"},
		{"json", "/a", "/i", "/p", "/t", `{"a":[]}`, ""},
		{"xml", "/r/e", "@i", "/r/@p", "t", `<r p="x"><e i="1"><t>y</t></e><e i="2"/></r>`, "1 x y, 2 x <nil>"},
		{"xml", "//e", "../@i", "request:/r/@p", ".", `<r p="x"><g i="1"><e>y</e></g><g i="2"><e>z</e></g></r>`,
			"1 x y, 2 x z"},
		{"xml", "/r/e", "@i", "@p", "t", `<r><e><t>x</t><t>y</t></e></r>`, "<nil> <nil> " + ErrTwice.Error()},
		{"xml", "/r/e", "@i", "@p", "t", `<r/>`, "/r/e: There is no item here."},
		{"form", "t", "i", "request:p", "t", `i=1&t=x&p=z&i=2&t=y`, "1 z x, 2 z y"},
		{"form", "t", "query:no", "p", "t", `t=x&p=z&p=a&t=`, "q z x, q a"},
		{"form", "t", "i", "p", "t", `i=1&t=x&t=y`,
			"i: The numbers of values differ: this key has 1, the key t has 2. " +
				"The first value of each key belongs to the first item."},
		{"form", "t", "i", "request:p", "t", `i=1&t=x&p=1&p=2`, "1 " + ErrTwice.Error() + " x"},
		{"query", "no", "no", "header:X-No", "no", ``, "q h q"},
	} {
		m, err := eachText(tt.body, tt.each, tt.id, tt.phone, tt.text)
		if err != nil {
			t.Errorf("%v: %v", tt, err)
			continue
		}
		if got := itemsOf(m, tt.call); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.call, got, tt.want)
		}
	}
}

// The errors for a wrong description say what to write instead.
func TestEachMistakes(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ body, each, id, phone, text, want string }{
		{"json", "a", "/i", "/p", "/t", "each: this is not a JSON pointer"},
		{"xml", "count(/r/e)", "@i", "@p", ".", "each: this XPath gives a value and not the elements"},
		{"xml", "/r[", "@i", "@p", ".", "each: this is not an XPath"},
		{"text", "1", "1", "2", "3", "each: the body text has no items"},
		{"form", "query:t", "i", "p", "t", "each: the items are in the body"},
		{"json", "/a", "/i", "/p", "request:/t", "text: with each it belongs to the item"},
		{"xml", "/r/e", "@i", "@p", "/r/e/t", "text: with each it belongs to the item"},
		{"json", "", "request:/i", "/p", "/t", "id: request: goes before a place"},
		{"json", "/a", "request:", "/p", "/t", "id: request: goes before a place"},
		{"json", "/a", "request:i", "/p", "/t", "id: this is not a JSON pointer"},
	} {
		_, err := eachText(tt.body, tt.each, tt.id, tt.phone, tt.text)
		if err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%v: %v, want %s", tt, err, tt.want)
		}
	}
	receipt := ReceiptSpec{CallSpec: CallSpec{Body: "json"}, Each: "/a", ID: "request:/i", State: "/s",
		States: map[string][]string{"delivered": {"d"}}}
	if _, err := receipt.build(); err == nil || !strings.HasPrefix(err.Error(), "id: with each") {
		t.Errorf("a receipt whose id is of the whole request: %v", err)
	}
	for _, body := range []string{"{{.ID}}", `{{with .ID}}"{{.}}"{{end}}`, "{{index .IDs 0}}"} {
		s := SMSSpec{CallSpec: CallSpec{Body: "json", Reply: &ReplySpec{Type: "text/plain", Body: body}},
			Each: "/a", ID: "/i", Phone: "/p", Text: "/t"}
		if _, err := s.build(); err == nil || !strings.Contains(err.Error(), "{{range .IDs}}") {
			t.Errorf("%s: %v", body, err)
		}
		if strings.Contains(body, "index") {
			continue
		}
		s.ID = "request:/i"
		if _, err := s.build(); err != nil {
			t.Errorf("%s with an id of the request: %v", body, err)
		}
	}
}

// long is a value so long that it makes up most of a body: in two items it would be longer than the body.
var long = strings.Repeat("y", 200)

// fuzzItems checks that the items of any body have values that the body has, and that no value is in two items.
func fuzzItems(f *testing.F, m SMS, seeds ...string) {
	f.Helper()
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		d, err := m.Read(http.Header{}, "", body)
		if err != nil {
			return
		}
		items, err := m.Items(d)
		var e ItemsError
		if err != nil && !errors.As(err, &e) {
			t.Fatalf("%T", err)
		}
		octets := 0
		for _, i := range items {
			v, err := i.Value(m.Text)
			if s, isString := v.(string); isString && err == nil {
				octets += len(s)
			}
			if _, err := i.Value(m.Phone); err != nil && err.Error() == "" {
				t.Fatal("an error without words")
			}
		}
		if octets > len(body) { // no escape is shorter than what it stands for
			t.Fatalf("%d octets grew to %d: a value is in two items", len(body), octets)
		}
		again, _ := m.Items(d)
		if len(again) != len(items) {
			t.Fatalf("%d items, then %d", len(items), len(again))
		}
	})
}

func FuzzJSONItems(f *testing.F) {
	m := must(eachText("json", "/a", "/i", "request:/p", "/t/0"))
	fuzzItems(f, m, `{"a":[{"i":1,"t":["x"]},{"t":["x","y"]},7,null,[[]]],"p":"x"}`, `{"a":{}}`, `[]`,
		`{"a":[{"t":{}}]}`, `{"a":[{"t":["`+long+`"]},{},{}]}`)
}

func FuzzXMLItems(f *testing.F) {
	m := must(eachText("xml", "/r/e", "@i", "/r/@p", "t"))
	fuzzItems(f, m, `<r p="x"><e i="1"><t>y</t></e><e/></r>`, `<r><e><e/></e>x</r>`, `<r/>`, `<r><e><t/><t/></e></r>`,
		`<r><e><t>`+long+`</t></e><e/><e/></r>`)
}

func FuzzFormItems(f *testing.F) {
	m := must(eachText("form", "t", "i", "request:p", "t"))
	fuzzItems(f, m, `i=1&t=x&p=z&i=2&t=y`, `t&t&t`, `i=1&i=2`, `t=%ff&p=%00`, `t=`+long+`&t=`)
}
