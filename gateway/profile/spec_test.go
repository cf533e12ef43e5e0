package profile

import (
	"math"
	"strings"
	"testing"
	"time"
)

// whole is a dialogue's call in which nothing is missing.
func whole() *USSDSpec {
	return &USSDSpec{
		CallSpec: CallSpec{Body: "json", Reply: &ReplySpec{Type: "application/json", Body: `{"t":"{{.Text}}","m":{{.More}}}`}},
		Phone:    "/p", Session: "/s", Entry: "/e", Event: "/k",
		Events: map[string][]string{Begin: {"b"}, Entry: {"e"}, End: {"x"}},
	}
}

// Each mistake in the description of a call is named by its key.
func TestBuildNamesTheKey(t *testing.T) {
	trust := &TrustSpec{By: "address", From: []string{"192.0.2.1"}}
	look := secretsOf(map[string]string{"KEY": vectorSecret})
	ussd := func(change func(*USSDSpec)) Spec {
		u := whole()
		change(u)
		return Spec{Trust: trust, USSD: u}
	}
	receipt := func(change func(*ReceiptSpec)) Spec {
		r := &ReceiptSpec{CallSpec: CallSpec{Body: "json"}, ID: "/i", State: "/s", States: map[string][]string{Delivered: {"d"}}}
		change(r)
		return Spec{Trust: trust, Receipt: r}
	}
	sms := func(change func(*SMSSpec)) Spec {
		m := &SMSSpec{CallSpec: CallSpec{Body: "form"}, ID: "i", Phone: "p", Text: "t"}
		change(m)
		return Spec{Trust: trust, SMS: m}
	}
	for _, tt := range []struct {
		name string
		spec Spec
		want string
	}{
		{"as it is", ussd(func(*USSDSpec) {}), ""},
		{"a text", sms(func(*SMSSpec) {}), ""},
		{"a receipt", receipt(func(*ReceiptSpec) {}), ""},
		{"our own format", Spec{Trust: trust}, ""},
		{"nobody trusted", Spec{USSD: whole()}, "trust: say who may call"},
		{"our own format, nobody trusted", Spec{}, "trust: say who may call"},
		{"only sending", Spec{Push: &PushSpec{URL: "https://heron.example/"}}, ""},
		{"country code", Spec{Trust: trust, CountryCode: "+44"}, "country_code"},
		{"method", ussd(func(s *USSDSpec) { s.Method = "HEAD" }), "ussd: method"},
		{"GET with a body", ussd(func(s *USSDSpec) { s.Method = "GET" }), "ussd: body"},
		{"no body", ussd(func(s *USSDSpec) { s.Body = "" }), "ussd: body"},
		{"unknown body", ussd(func(s *USSDSpec) { s.Body = "yaml" }), "ussd: body"},
		{"charset", ussd(func(s *USSDSpec) { s.Charset = "x" }), "ussd: charset"},
		{"coding", ussd(func(s *USSDSpec) { s.Coding = "hex" }), "ussd: coding"},
		{"time", ussd(func(s *USSDSpec) { s.Time = "noon" }), "ussd: time"},
		{"no phone", ussd(func(s *USSDSpec) { s.Phone = "" }), "ussd: phone: say where"},
		{"no session", ussd(func(s *USSDSpec) { s.Session = "" }), "ussd: session: say where"},
		{"no entry", ussd(func(s *USSDSpec) { s.Entry = "" }), "ussd: entry: say where"},
		{"no pointer", ussd(func(s *USSDSpec) { s.Phone = "p" }), "ussd: phone: this is not a JSON pointer"},
		{"no XPath", ussd(func(s *USSDSpec) { s.Body = "xml"; s.Phone = "/a[" }), "ussd: phone: this is not an XPath"},
		{"an XPath that cannot work", ussd(func(s *USSDSpec) { s.Body = "xml"; s.Phone = "true()" }), "ussd: phone: this"},
		{"no word", ussd(func(s *USSDSpec) { s.Body = "text"; s.Phone = "first" }), "ussd: phone: this is neither"},
		{"strip of nothing there", ussd(func(s *USSDSpec) { s.Strip = map[string][]string{"number": {"x"}} }), "ussd: strip: there is no field number"},
		{"strip nothing", ussd(func(s *USSDSpec) { s.Strip = map[string][]string{"phone": {""}} }), "ussd: strip.phone"},
		{"no reply", ussd(func(s *USSDSpec) { s.Reply = nil }), "ussd: reply"},
		{"a reply without a screen", ussd(func(s *USSDSpec) { s.Reply = &ReplySpec{} }), "ussd: reply: body"},
		{"words without a field", ussd(func(s *USSDSpec) { s.Event = "" }), "ussd: events"},
		{"a field without words", ussd(func(s *USSDSpec) { s.Events = nil }), "ussd: events"},
		{"nothing begins", ussd(func(s *USSDSpec) { s.Event, s.Events = "", nil }), "ussd: event: say how"},
		{"no word begins", ussd(func(s *USSDSpec) { s.Events[Begin] = nil }), "ussd: events.begin"},
		{"no word enters", ussd(func(s *USSDSpec) { s.Events[Entry] = nil }), "ussd: events.entry"},
		{"a word for two", ussd(func(s *USSDSpec) { s.Events[Entry] = []string{"b"} }), `ussd: events: entry: "b" stands under begin too`},
		{"an unknown event", ussd(func(s *USSDSpec) { s.Events["middle"] = []string{"m"} }), "ussd: events: there is no middle"},
		{"begins", ussd(func(s *USSDSpec) { s.Begins = "soon" }), "ussd: begins"},
		{"ends by a word, begins otherwise", ussd(func(s *USSDSpec) {
			s.Begins, s.Events = "new-session", map[string][]string{End: {"x"}}
		}), ""},
		{"begins in two ways", ussd(func(s *USSDSpec) { s.Begins = "no-entry" }), "ussd: begins: a word of events begins"},
		{"a value without a dot", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{Text}}"}` }), "ussd: reply: body: there is no function \"Text\"; a value has a dot"},
		{"no such value", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{.Words}}","m":{{.More}}}` }), "ussd: reply: body: there is no .Words here; there are .Text, .TextHex, .More, .Session, .ID"},
		{"no such value in a header", ussd(func(s *USSDSpec) { s.Reply.Headers = map[string]string{"X-Go": "{{.Go}}"} }), "ussd: reply: headers: X-Go: there is no .Go here"},
		{"no end", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{.Text}}","m":{{if .More}}1}` }), "ussd: reply: body: an {{if}} has no {{end}}"},
		{"an end too many", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{.Text}}","m":{{.More}}{{end}}}` }), "ussd: reply: body: an {{end}} has no {{if}}"},
		{"one bracket too few", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{.Text}","m":{{.More}}}` }), "ussd: reply: body: a {{ has only one } after it"},
		{"no bracket", ussd(func(s *USSDSpec) { s.Reply.Body = `{"t":"{{.Text` }), "ussd: reply: body: a {{ has no }} after it"},
		{"an attribute without quotes", ussd(func(s *USSDSpec) { s.Reply = &ReplySpec{Type: "text/xml", Body: `<r m={{.More}}>{{.Text}}</r>`} }), "it is not XML any more; each tag is closed"},
		{"holds", ussd(func(s *USSDSpec) { s.Holds = "some" }), "ussd: holds"},
		{"separator of nothing", ussd(func(s *USSDSpec) { s.Separator = "*" }), "ussd: separator"},
		{"trouble", ussd(func(s *USSDSpec) { s.TroubleStatus = 302 }), "ussd: trouble_status"},
		{"ours with a trouble", Spec{Trust: trust, USSD: &USSDSpec{TroubleStatus: 99}}, "ussd: trouble_status"},
		{"ours with a reply", Spec{Trust: trust, USSD: &USSDSpec{CallSpec: CallSpec{Reply: whole().Reply}}}, ""},
		{"sms without an id", sms(func(s *SMSSpec) { s.ID = "" }), "sms: id"},
		{"sms reply", sms(func(s *SMSSpec) { s.Reply = &ReplySpec{Status: 404} }), "sms: reply: status"},
		{"receipt without words", receipt(func(s *ReceiptSpec) { s.States = nil }), "receipt: states.delivered"},
		{"receipt, an unknown state", receipt(func(s *ReceiptSpec) { s.States["seen"] = []string{"s"} }), "receipt: states: there is no seen"},
		{"receipt with a coding", receipt(func(s *ReceiptSpec) { s.Coding = "ucs2-hex" }), "receipt: coding"},
		{"signed, in the query", Spec{Trust: &TrustSpec{By: "signature", Secrets: []string{"KEY"}},
			SMS: &SMSSpec{CallSpec: CallSpec{Body: "json"}, ID: "query:id", Phone: "/p", Text: "/t"}}, "sms: a signature covers the body only"},
	} {
		_, err := tt.spec.Build("heron", look)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if err != nil && !strings.HasPrefix(err.Error(), "gateways.heron: ") {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
	rate := math.NaN()
	if _, err := (Spec{Push: &PushSpec{URL: "https://heron.example/", Rate: &rate}}).Build("heron", nil); err == nil {
		t.Error("no rate at all is a rate")
	}
}

// What is not described is not there; what has nothing described is ours.
func TestBuildTakesOnlyWhatIsDescribed(t *testing.T) {
	trust := &TrustSpec{By: "address", From: []string{"192.0.2.1"}}
	for _, tt := range []struct {
		name               string
		spec               Spec
		ussd, sms, receipt string // methods
		ours               bool   // the dialogue's
	}{
		{"nothing", Spec{Trust: trust}, "POST", "POST", "POST", true},
		{"a dialogue", Spec{Trust: trust, USSD: whole()}, "POST", "", "", false},
		{"an empty table", Spec{Trust: trust, USSD: &USSDSpec{}, SMS: &SMSSpec{}}, "POST", "POST", "", true},
		{"sending", Spec{Push: &PushSpec{URL: "https://heron.example/"}}, "", "", "", true},
	} {
		p, err := tt.spec.Build("heron", nil)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if p.USSD.Method != tt.ussd || p.SMS.Method != tt.sms || p.Receipt.Method != tt.receipt || (p.USSD.Format == Ours) != tt.ours {
			t.Errorf("%s: %q %q %q", tt.name, p.USSD.Method, p.SMS.Method, p.Receipt.Method)
		}
	}
}

func TestInstants(t *testing.T) {
	want := time.Date(2026, 6, 1, 6, 0, 30, 0, time.UTC)
	for _, tt := range []struct{ layout, in, again string }{
		{"", "2026-06-01T08:00:30+02:00", "2026-06-01T06:00:30Z"},
		{"rfc3339", "2026-06-01T06:00:30Z", "2026-06-01T06:00:30Z"},
		{"unix", "1780293630", "1780293630"},
		{"unix-ms", "1780293630000", "1780293630000"},
		{"02/01/2006 15:04:05", "01/06/2026 06:00:30", "01/06/2026 06:00:30"},
	} {
		layout, err := newLayout(tt.layout)
		if err != nil {
			t.Fatal(err)
		}
		if got := (Call{layout: layout}).ParseTime(tt.in); !got.Equal(want) {
			t.Errorf("%s: %q is %s", tt.layout, tt.in, got)
		}
		if got := formatTime(layout, want); got != tt.again {
			t.Errorf("%s: written %q, want %q", tt.layout, got, tt.again)
		}
		for _, bad := range []string{"", "soon", "-1", "99999999999999999999", "9223372036854775807"} {
			if got := (Call{layout: layout}).ParseTime(bad); !got.IsZero() {
				t.Errorf("%s: %q is %s", tt.layout, bad, got)
			}
		}
	}
}
