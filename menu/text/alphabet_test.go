package text

import (
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"
)

// notASCII lists the codes of 3GPP TS 23.038, clause 6.2.1, that have another character than the same codes in ASCII.
var notASCII = map[byte]rune{
	0x00: '@', 0x01: 0xA3, 0x02: '$', 0x03: 0xA5, 0x04: 0xE8, 0x05: 0xE9, 0x06: 0xF9, 0x07: 0xEC,
	0x08: 0xF2, 0x09: 0xC7, 0x0A: '\n', 0x0B: 0xD8, 0x0C: 0xF8, 0x0D: '\r', 0x0E: 0xC5, 0x0F: 0xE5,
	0x10: 0x394, 0x11: '_', 0x12: 0x3A6, 0x13: 0x393, 0x14: 0x39B, 0x15: 0x3A9, 0x16: 0x3A0, 0x17: 0x3A8,
	0x18: 0x3A3, 0x19: 0x398, 0x1A: 0x39E, 0x1C: 0xC6, 0x1D: 0xE6, 0x1E: 0xDF, 0x1F: 0xC9,
	0x24: 0xA4, 0x40: 0xA1, 0x5B: 0xC4, 0x5C: 0xD6, 0x5D: 0xD1, 0x5E: 0xDC, 0x5F: 0xA7, 0x60: 0xBF,
	0x7B: 0xE4, 0x7C: 0xF6, 0x7D: 0xF1, 0x7E: 0xFC, 0x7F: 0xE0,
}

func TestDefaultAlphabet(t *testing.T) {
	for i, got := range basic {
		want, other := notASCII[byte(i)]
		if !other {
			want = rune(i)
		}
		if i == escape {
			want = 0
		}
		if got != want {
			t.Errorf("code %02X is %U, want %U", i, got, want)
		}
	}
	// These are the characters of the extension table: 3GPP TS 23.038, clause 6.2.1.1.
	for _, c := range []struct {
		code   byte
		symbol rune
	}{{0x0A, '\f'}, {0x14, '^'}, {0x28, '{'}, {0x29, '}'}, {0x2F, '\\'}, {0x3C, '['}, {0x3D, '~'}, {0x3E, ']'},
		{0x40, '|'}, {0x65, '€'}} {
		if extended[c.code] != c.symbol {
			t.Errorf("code %02X after the escape is %U, want %U", c.code, extended[c.code], c.symbol)
		}
	}
	if n, want := len(unshifted.letters()), 127+10; n != want { // TS 23.038: 127 by clause 6.2.1, 10 by 6.2.1.1
		t.Errorf("%d symbols, want %d", n, want)
	}
}

func TestSeptetsAndUnits(t *testing.T) {
	for _, c := range []struct {
		text    string
		septets int // -1 if a character of the text is not in the alphabet
		units   int
		bad     string
	}{
		{"", 0, 0, ""}, {"hello", 5, 5, ""}, {"@£ÆΩ\n", 5, 5, ""},
		{"^{}\\[~]|€\f", 20, 10, ""}, // each character needs two septets (TS 23.038, clause 6.2.1.1)
		{"Ça", 2, 2, ""},
		{"ça", -1, 2, "ç"}, // refused: the alphabet has only the capital Ç
		{"it’s – “so”…", -1, 12, "’–“”…"}, {"a\tb\u00a0c`", -1, 6, "\t\u00a0`"}, {"áíóú", -1, 4, "áíóú"},
		{"ধান", -1, 3, "ধান"}, {"😀😀", -1, 4, "😀"},
	} {
		n, ok := Septets(c.text)
		if ok != (c.septets >= 0) || ok && n != c.septets || IsGSM7(c.text) != ok {
			t.Errorf("%q: %d septets, %v; want %d", c.text, n, ok, c.septets)
		}
		if n := UCS2Units(c.text); n != c.units {
			t.Errorf("%q: %d units, want %d", c.text, n, c.units)
		}
		if bad := string(NotGSM7(c.text)); bad != c.bad {
			t.Errorf("%q: bad %q, want %q", c.text, bad, c.bad)
		}
	}
}

func TestFitsUSSD(t *testing.T) {
	for _, c := range []struct {
		text   string
		octets int
		fits   bool
	}{
		{"", 0, true},
		{"a", 1, true},
		{strings.Repeat("a", 7), 7, true},        // \r fills the seven free bits (TS 23.038, clause 6.1.2.3.1)
		{strings.Repeat("a", 8), 7, true},        // 56 bits are exactly 7 octets
		{strings.Repeat("a", 7) + "\r", 8, true}, // the last \r fills the last octet, so a second \r is added
		{strings.Repeat("a", 182), 160, true},    // the most in 160 octets (TS 23.038, clause 6.1.2.3)
		{strings.Repeat("a", 183), 161, false}, {strings.Repeat("€", 91), 160, true},
		{strings.Repeat("€", 92), 161, false},
		{strings.Repeat("ж", 80), 160, true}, // UCS-2: 80 units of two octets
		{strings.Repeat("ж", 81), 162, false}, {strings.Repeat("😀", 40), 160, true},
		{strings.Repeat("a", 80) + "ж", 162, false},
	} {
		if n := USSDOctets(c.text); n != c.octets || FitsUSSD(c.text) != c.fits {
			t.Errorf("%d characters: %d octets, fits %v; want %d, %v", utf8.RuneCountInString(c.text), n,
				FitsUSSD(c.text), c.octets, c.fits)
		}
	}
}

// The expected numbers follow from 3GPP TS 23.040. One SMS holds 160 septets or 70 units (clause 9.2.3.24). Each of
// several parts holds 153 septets or 67 units, and an escaped character or a surrogate pair is never divided between
// two parts (clause 9.2.3.24.1 of the same standard).
func TestSegments(t *testing.T) {
	for _, c := range []struct {
		text  string
		parts int
		in    Alphabet
	}{
		{"", 0, GSM7}, {strings.Repeat("a", 307), 3, GSM7}, {strings.Repeat("€", 80), 1, GSM7},
		{strings.Repeat("a", 152) + "€" + strings.Repeat("a", 151), 2, GSM7},
		{strings.Repeat("a", 152) + "€" + strings.Repeat("a", 152), 3, GSM7}, // € is not divided: 3 parts
		{strings.Repeat("a", 39015), 255, GSM7},                              // 255 x 153 septets is the most
		{strings.Repeat("ж", 70), 1, UCS2},
		{strings.Repeat("ж", 135), 3, UCS2},
		{strings.Repeat("ж", 66) + "😀" + strings.Repeat("ж", 65), 2, UCS2},
		{strings.Repeat("ж", 66) + "😀" + strings.Repeat("ж", 66), 3, UCS2}, // 😀 is not divided: 3 parts
		{strings.Repeat("a", 70) + "ç", 2, UCS2},
	} {
		if e := (Encoder{}).Encode(c.text); e.Segments != c.parts || e.Encoding.Alphabet != c.in {
			t.Errorf("%d characters of %.3q: %d parts of %s, want %d of %s",
				utf8.RuneCountInString(c.text), c.text, e.Segments, e.Encoding.Alphabet, c.parts, c.in)
		}
	}
}

func TestToGSM7(t *testing.T) {
	for in, want := range map[string]string{
		"upper":    "upper",
		"Rió Bá":   "Rio Ba",
		"e\u0300":  "è", // NFC makes one character è of e and the accent; GSM7 has è
		"ruộng":    "ruong",
		"ধান 1":    "??? 1",
		"g\u0303a": "ga", // no Unicode character is g with tilde: the tilde is dropped
		"it’s":     "it?s", "a\xffb": "a?b", "{€}": "{€}", "Ça va, garçon": "Ça va, garcon",
	} {
		if got := ToGSM7(in); got != want {
			t.Errorf("ToGSM7(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		out := ToGSM7(s)
		if !IsGSM7(out) {
			t.Fatalf("%q is not GSM 7-bit", out)
		}
		if utf8.RuneCountInString(out) > utf8.RuneCountInString(norm.NFC.String(s)) {
			t.Fatalf("%q is longer", out)
		}
		if ToGSM7(out) != out {
			t.Fatalf("%q changes again", out)
		}
	})
}

// gsm7 draws texts whose characters are all in the GSM 7-bit alphabet.
func gsm7() *rapid.Generator[string] {
	return rapid.StringOfN(rapid.SampledFrom(unshifted.letters()), 0, 400, -1)
}
