package text

import (
	"cmp"
	"strings"
	"unicode"
	"unicode/utf16"

	"golang.org/x/text/unicode/norm"
)

// Alphabet says how SMS and USSD code characters (3GPP TS 23.038).
type Alphabet uint8

const (
	GSM7 Alphabet = iota + 1 // the GSM 7-bit default alphabet with its extension table
	UCS2                     // UTF-16, for text that the GSM alphabet lacks
)

var alphabetNames = map[Alphabet]string{GSM7: "gsm7", UCS2: "ucs2"}

func (a Alphabet) String() string { return cmp.Or(alphabetNames[a], "unknown") }

// USSDMaxOctets is the greatest length of a USSD string in octets: maxUSSD-StringLength of 3GPP TS 29.002, clause
// 17.7.4. 160 octets hold 182 septets (TS 23.038, clause 6.1.2.3) or 80 UCS-2 units.
const USSDMaxOctets = 160

const escape = 0x1B // the code that follows an escape is looked up in the extension table

// symbols is a character table of TS 23.038. The index is the code; 0 means that the code has no character.
type symbols [128]rune

// symbolTable makes a table from 128 characters in the order of their codes. The character · means that the code has no
// character.
func symbolTable(s string) symbols {
	return symbols([]rune(strings.ReplaceAll(s, "·", "\x00")))
}

// basic is the GSM 7-bit default alphabet: 3GPP TS 23.038, clause 6.2.1. Code 0x1B is the escape and is not a
// character.
var basic = symbolTable("" +
	"@£$¥èéùìòÇ\nØø\rÅå" +
	"Δ_ΦΓΛΩΠΨΣΘΞ·ÆæßÉ" +
	" !\"#¤%&'()*+,-./" +
	"0123456789:;<=>?" +
	"¡ABCDEFGHIJKLMNO" +
	"PQRSTUVWXYZÄÖÑÜ§" +
	"¿abcdefghijklmno" +
	"pqrstuvwxyzäöñüà")

// extended is the extension table of the GSM 7-bit alphabet: 3GPP TS 23.038, clause 6.2.1.1. One of its characters is
// sent as two septets: the escape and the code.
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

// Septets counts the septets of s. A character of the extension table counts as two. ok is false if a character is in
// neither the default alphabet nor the extension table.
func Septets(s string) (n int, ok bool) { return unshifted.units(s) }

// UCS2Units counts the 16-bit units of s. A character above U+FFFF has two units.
func UCS2Units(s string) (n int) {
	for _, r := range s {
		n += utf16.RuneLen(r)
	}
	return n
}

// NotGSM7 lists the characters of s that are in neither the GSM 7-bit alphabet nor its extension table, each character
// once.
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

// ToGSM7 converts s to the GSM 7-bit alphabet. A letter that the alphabet lacks loses its accent; any other character
// that the alphabet lacks becomes "?". The result never has more characters than s in the form NFC.
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
		if unicode.Is(unicode.Mn, r) { // an accent for which Unicode has no letter with this accent
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

// USSDOctets returns the length of s in octets as a USSD string. If all characters are in the GSM 7-bit alphabet, s is
// sent as packed septets, to which TS 23.038, clause 6.1.2.3.1, may add a carriage return. Otherwise each UCS-2 unit
// takes two octets. A USSD string has no header that could name a national language table (TS 23.038, clause 6.2.1.2),
// so USSD uses no national tables.
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

// FitsUSSD reports whether s fits into one USSD string.
func FitsUSSD(s string) bool { return USSDOctets(s) <= USSDMaxOctets }
