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

// USSDMaxOctets is maxUSSD-StringLength of 3GPP TS 29.002, clause 17.7.4:
// 182 septets (TS 23.038, clause 6.1.2.3) or 80 UCS-2 units.
const USSDMaxOctets = 160

const escape = 0x1B // leads to the extension table

// symbols is a table of TS 23.038 in the order of its codes; 0 where it has
// no symbol.
type symbols [128]rune

// grid reads a table of eight lines, with · for no symbol.
func grid(s string) symbols {
	return symbols([]rune(strings.ReplaceAll(s, "·", "\x00")))
}

// basic is the GSM 7-bit default alphabet: 3GPP TS 23.038, clause 6.2.1. Code
// 0x1B is the escape, no symbol of its own.
var basic = grid("" +
	"@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ·ÆæßÉ" +
	" !\"#¤%&'()*+,-./" +
	"0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNO" +
	"PQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmno" +
	"pqrstuvwxyzäöñüà")

// extended is the extension table, clause 6.2.1.1: each symbol is sent as the
// escape and its code, two septets.
var extended = grid("" +
	"··········\f·····" +
	"····^···········" +
	"········{}·····\\" +
	"············[~]·" +
	"|···············" +
	"················" +
	"·····€··········" +
	"················")

// IsGSM7 reports whether every character of s is in the GSM 7-bit default
// alphabet or its extension table.
func IsGSM7(s string) bool { return unshifted.holds(s) }

// Septets counts the septets of s, two for a symbol of the extension table; ok
// is false where a character is in neither table.
func Septets(s string) (n int, ok bool) { return unshifted.units(s) }

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
		if unshifted.width(r) == 0 && !seen[r] {
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
		if unshifted.width(r) > 0 {
			b.WriteRune(r)
			continue
		}
		if unicode.Is(unicode.Mn, r) { // an accent that no single letter holds
			continue
		}
		base := []rune(norm.NFD.String(string(r)))[0]
		if unshifted.width(base) == 0 {
			base = '?'
		}
		b.WriteRune(base)
	}
	return b.String()
}

// USSDOctets is the length of s as a USSD string, in octets: packed septets
// (with the carriage return that clause 6.1.2.3.1 of TS 23.038 adds where
// needed), or two octets a UCS-2 unit. A USSD string has no header that could
// name a national language table (TS 23.038, clause 6.2.1.2), so there is no
// shift to choose: what the default alphabet lacks goes as UCS-2.
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

// FitsUSSD reports whether s fits one USSD string.
func FitsUSSD(s string) bool { return USSDOctets(s) <= USSDMaxOctets }
