package gateway

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"rowbell/gateway/profile"
)

func TestParsePhone(t *testing.T) {
	const want = "+447700900123"
	for _, tt := range []struct {
		in, code, want string // want "" = the number must be refused
	}{
		{"+447700900123", "", want},
		{" +44 7700 900-123 ", "", want},
		{"+44 (7700) 900.123", "", want},
		{"+44\u00a07700\u2011900123", "", want},
		{"tel:+44-7700-900123;ext=1", "", want},
		{"TEL: +44 7700 900123", "", want},
		{"0044 7700 900123", "", want},
		{"00 44 7700 900123", "44", want},
		{"07700 900123", "44", want},
		{"7700 900123", "44", want},
		{"44 7700 900123", "44", want},
		{"+447700900123", "7", want}, // a plus comes first, so the configured country code 7 is ignored

		{"07700 900123", "", ""},
		{"44 7700 900123", "", ""}, // refused: no plus, and no country code is configured
		{"", "44", ""},
		{"0", "44", ""},
		{"00", "44", ""},
		{"000447700900123", "44", ""},
		{"44+" + "7700900123", "44", ""},
		{"+" + strings.Repeat("1", 7), "", ""},
		{"+" + strings.Repeat("1", 8), "", "+" + strings.Repeat("1", 8)},
		{"+" + strings.Repeat("1", 15), "", "+" + strings.Repeat("1", 15)},
		{"+" + strings.Repeat("1", 16), "", ""},
	} {
		got, err := ParsePhone(tt.in, tt.code)
		if got.E164() != tt.want || (err == nil) != (tt.want != "") {
			t.Errorf("ParsePhone(%q, %q) = %q, %v; want %q", tt.in, tt.code, got.E164(), err, tt.want)
		}
	}
}

// For any input that ParsePhone accepts, the result is an E.164 number that ParsePhone returns unchanged.
func FuzzParsePhone(f *testing.F) {
	for _, s := range []string{
		"+447700900123", "07700 900123", "tel:+44-7700-900123;x", "0044", "+", "00", "(+44) 7700",
	} {
		f.Add(s, "44")
		f.Add(s, "")
	}
	f.Fuzz(func(t *testing.T, s, code string) {
		if strings.Trim(code, "0123456789") != "" || len(code) > 3 || strings.HasPrefix(code, "0") {
			t.Skip("profile.Validate refuses such a code")
		}
		p, err := ParsePhone(s, code)
		if err != nil {
			if p != "" {
				t.Fatalf("an error, and a number all the same")
			}
			return
		}
		n := p.E164()
		if !regexp.MustCompile(`^\+[1-9][0-9]{7,14}$`).MatchString(n) {
			t.Fatalf("ParsePhone(%q, %q) = %q", s, code, n)
		}
		if again, err := ParsePhone(n, code); err != nil || again != p {
			t.Fatalf("%q reads as %q, %v", n, again.E164(), err)
		}
	})
}

// For any body, an accepted call has values within their bounds, and the error of a refused call names the field with
// the mistake.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{
		`{"phone":"+447700900123","session":"s1","event":"begin","dialled":"*123#","step":0}`,
		`{"id":"t1","phone":"07700900123","text":"hello","sent_at":"2026-06-01T06:00:00Z"}`,
		`{"id":"k1","state":"delivered","at":"2026-06-01T06:00:00Z","reason":""}`,
		`phone=%2B447700900123&session=s1&event=entry&entry=1&step=1`,
		`{"phone":{"a":[1,2,{}]}}`, `{"step":1e400}`, "{\"entry\":\"\\u0000\"}", `{"entry":"\ud800"}`, `a=1&a=2`,
		`null`, `[]`, ``,
	} {
		f.Add(s, true)
		f.Add(s, false)
	}
	p := profile.Default("local")
	p.CountryCode = "44"
	f.Fuzz(func(t *testing.T, body string, asJSON bool) {
		kind := "application/x-www-form-urlencoded"
		if asJSON {
			kind = "application/json"
		}
		doc, err := p.USSD.Read(http.Header{"Content-Type": {kind}}, "", []byte(body))
		if err != nil {
			return
		}
		in := &fields{doc: doc}
		u, err := readUSSD(&call{network: &p, in: in})
		if err != nil {
			if len(in.bad) == 0 || in.bad[0].Pointer == "" || in.bad[0].Detail == "" {
				t.Fatalf("refused without a place: %v", err)
			}
			return
		}
		if u.phone == "" || u.session == "" || len(u.session) > 4*maxID || u.event == "" {
			t.Fatalf("let through: %+v", u)
		}
		for _, s := range []string{u.session, u.dialled, u.entry} {
			if !utf8.ValidString(s) || utf8.RuneCountInString(s) > maxText {
				t.Fatalf("let through: %q", s)
			}
		}
		if u.key != "" && len(u.key) > 64 {
			t.Fatalf("key %q", u.key)
		}
	})
}
