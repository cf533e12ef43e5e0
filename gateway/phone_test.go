package gateway

import (
	"regexp"
	"strings"
	"testing"
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

// Whatever ParsePhone accepts, the result is an E.164 number, and parsing the result again does not change it.
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
