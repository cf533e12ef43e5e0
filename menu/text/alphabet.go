package text

import (
	"cmp"
	"strings"
	"unicode"
	"unicode/utf16"

	"golang.org/x/text/unicode/norm"
)

// Alphabet is a character coding of SMS and USSD (3GPP TS 23.038).
type Alphabet uint8

const (
	GSM7 Alphabet = iota + 1 // the GSM 7-bit default alphabet with its extension table
	UCS2                     // UTF-16, for text that the GSM alphabet lacks
)

var alphabetNames = map[Alphabet]string{GSM7: "gsm7", UCS2: "ucs2"}

func (a Alphabet) String() string { return cmp.Or(alphabetNames[a], "unknown") }

// USSDMaxOctets is maxUSSD-StringLength of 3GPP TS 29.002, clause 17.7.4:
// 182 septets (TS 23.038, clause 6.1.2.3) or 80 UCS-2 units.
const USSDMaxOctets = 160

const escape = 0x1B // the code after an escape is looked up in the extension table

// symbols is a character table of TS 23.038, indexed by code; 0 for a code without a character.
type symbols [128]rune

// symbolTable reads 128 characters in the order of their codes; · stands for a code without a character.
func symbolTable(s string) symbols {
	return symbols([]rune(strings.ReplaceAll(s, "·", "\x00")))
}

// basic is the GSM 7-bit default alphabet: 3GPP TS 23.038, clause 6.2.1. Code 0x1B is the escape and has no character.
var basic = symbolTable("" +
	"@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ·ÆæßÉ" +
	" !\"#¤%&'()*+,-./" +
	"0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNO" +
	"PQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmno" +
	"pqrstuvwxyzäöñüà")

// extended is the extension table, clause 6.2.1.1. A character of it is sent as the escape and its code: two septets.
var extended = symbolTable("" +
	"··········\f·····" +
	"····^···········" +
	"········{}·····\\" +
	"············[~]·" +
	"|···············" +
	"················" +
	"·····€··········" +
	"················")

// IsGSM7 reports whether every character of s is in the GSM 7-bit default alphabet or its extension table.
func IsGSM7(s string) bool { return unshifted.covers(s) }

// Septets counts the septets of s, two for a character of the extension table.
// ok is false if a character is in neither table.
func Septets(s string) (n int, ok bool) { return unshifted.units(s) }

// UCS2Units counts the 16-bit units of s: two for a character above U+FFFF.
func UCS2Units(s string) (n int) {
	for _, r := range s {
		n += utf16.RuneLen(r)
	}
	return n
}

// NotGSM7 lists the characters of s, each once, that the GSM 7-bit alphabet and its extension table lack.
func NotGSM7(s string) (bad []rune) {
	seen := map[rune]bool{}
	for _, r := range s {
		if unshifted.width(r) == 0 && !seen[r] {
			seen[r] = true
			bad = append(bad, r)
		}
	}
	return bad
}

// ToGSM7 converts s to the GSM 7-bit alphabet: a letter that the alphabet lacks loses its accent, any other character
// becomes "?". The result has at most as many characters as s.
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
		if unicode.Is(unicode.Mn, r) { // an accent that NFC could not join to its letter
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

// USSDOctets is the length of s as a USSD string, in octets: packed septets, with the carriage return that TS 23.038,
// clause 6.1.2.3.1, may add; else two octets for each UCS-2 unit. USSD has no header that could name a national
// language table (TS 23.038, clause 6.2.1.2), so such tables are not used.
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
