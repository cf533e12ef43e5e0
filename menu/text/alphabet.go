package text

import (
	"strings"
	"unicode"
	"unicode/utf16"

	"golang.org/x/text/unicode/norm"
)

// Alphabet is one of the two ways in which a text travels to a phone.
type Alphabet uint8

const (
	GSM7 Alphabet = iota + 1 // the GSM 7-bit default alphabet with its extension table
	UCS2                     // 16-bit units, for every other script
)

func (a Alphabet) String() string {
	switch a {
	case GSM7:
		return "gsm7"
	case UCS2:
		return "ucs2"
	}
	return "unknown"
}

// What one USSD string and one SMS hold.
const (
	// USSDMaxOctets is maxUSSD-StringLength of 3GPP TS 29.002, clause 17.7.4:
	// 182 septets (TS 23.038, clause 6.1.2.3) or 80 UCS-2 units.
	USSDMaxOctets = 160

	// 3GPP TS 23.040, clause 9.2.3.24: 140 octets of user data; clause
	// 9.2.3.24.1: a concatenated part gives 6 of them (7 septets) to its header.
	smsSeptets, smsPartSeptets = 160, 153
	smsUnits, smsPartUnits     = 70, 67
)

const escape = 0x1B // leads to the extension table

// basic is the GSM 7-bit default alphabet: 3GPP TS 23.038, clause 6.2.1, in
// the order of its codes. Code 0x1B is the escape, no symbol of its own.
var basic = [128]rune([]rune("" +
	"@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ" +
	" !\"#¤%&'()*+,-./" +
	"0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNO" +
	"PQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmno" +
	"pqrstuvwxyzäöñüà"))

// extended is the extension table, clause 6.2.1.1: each symbol is sent as the
// escape and its code, two septets.
var extended = map[byte]rune{
	0x0A: '\f', 0x14: '^', 0x28: '{', 0x29: '}', 0x2F: '\\',
	0x3C: '[', 0x3D: '~', 0x3E: ']', 0x40: '|', 0x65: '€',
}

// code is where a symbol stands.
type code struct {
	septet   byte
	extended bool
}

var codes = func() map[rune]code {
	m := make(map[rune]code, len(basic)+len(extended))
	for i, r := range basic {
		if i != escape {
			m[r] = code{septet: byte(i)}
		}
	}
	for b, r := range extended {
		m[r] = code{septet: b, extended: true}
	}
	return m
}()

// IsGSM7 reports whether every character of s is in the GSM 7-bit default
// alphabet or its extension table.
func IsGSM7(s string) bool {
	_, ok := Septets(s)
	return ok
}

// Septets counts the septets of s, two for a symbol of the extension table; ok
// is false where a character is in neither table.
func Septets(s string) (n int, ok bool) {
	for _, r := range s {
		c, known := codes[r]
		if !known {
			return 0, false
		}
		n += c.width()
	}
	return n, true
}

func (c code) width() int {
	if c.extended {
		return 2
	}
	return 1
}

// UCS2Units counts the 16-bit units of s; a character above U+FFFF takes two.
func UCS2Units(s string) (n int) {
	for _, r := range s {
		n += utf16.RuneLen(r)
	}
	return n
}

// Bad returns the characters of s, each once, that force it out of the GSM
// 7-bit alphabet.
func Bad(s string) (bad []rune) {
	seen := map[rune]bool{}
	for _, r := range s {
		if _, ok := codes[r]; !ok && !seen[r] {
			seen[r] = true
			bad = append(bad, r)
		}
	}
	return bad
}

// ToGSM7 writes s with the GSM 7-bit alphabet alone: a letter loses the accent
// that the alphabet lacks, any other foreign character becomes "?". It never
// gets longer.
func ToGSM7(s string) string {
	if IsGSM7(s) {
		return s
	}
	var b strings.Builder
	for _, r := range norm.NFC.String(s) {
		if _, ok := codes[r]; ok {
			b.WriteRune(r)
			continue
		}
		if unicode.Is(unicode.Mn, r) { // an accent that no single letter holds
			continue
		}
		base := []rune(norm.NFD.String(string(r)))[0]
		if _, ok := codes[base]; !ok {
			base = '?'
		}
		b.WriteRune(base)
	}
	return b.String()
}

// USSDOctets is the length of s as a USSD string, in octets: packed septets
// (with the carriage return that clause 6.1.2.3.1 of TS 23.038 adds where
// needed), or two octets a UCS-2 unit.
func USSDOctets(s string) int {
	septets, ok := Septets(s)
	if !ok {
		return 2 * UCS2Units(s)
	}
	if septets%8 == 0 && strings.HasSuffix(s, "\r") {
		septets++
	}
	return octets(septets)
}

func octets(septets int) int { return (septets*7 + 7) / 8 }

// FitsUSSD reports whether s fits one USSD string.
func FitsUSSD(s string) bool { return USSDOctets(s) <= USSDMaxOctets }

// Segments counts the SMS parts of s and names its alphabet. An escaped symbol
// and a surrogate pair stay in one part (TS 23.040, clause 9.2.3.24.1), so a
// part may be left one short. The empty text has no part.
func Segments(s string) (n int, a Alphabet) {
	if s == "" {
		return 0, GSM7
	}
	total, ok := Septets(s)
	a, whole, part := GSM7, smsSeptets, smsPartSeptets
	width := func(r rune) int { return codes[r].width() }
	if !ok {
		a, whole, part = UCS2, smsUnits, smsPartUnits
		width, total = utf16.RuneLen, UCS2Units(s)
	}
	if total <= whole {
		return 1, a
	}
	n, used := 1, 0
	for _, r := range s {
		w := width(r)
		if used+w > part {
			n, used = n+1, 0
		}
		used += w
	}
	return n, a
}
