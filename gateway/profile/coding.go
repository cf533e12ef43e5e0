package profile

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"rowbell/menu/text"
)

// Coding is how the text of a call is written within its field.
type Coding uint8

// The codings: as it is; UCS-2 units, the high octet first, in hexadecimal
// digits; septets of the GSM 7-bit alphabet packed into octets, in hexadecimal
// digits, for USSD (3GPP TS 23.038, clause 6.1.2.3.1) and for SMS (6.1.2.1).
const (
	Plain Coding = iota
	UCS2Hex
	GSM7HexUSSD
	GSM7HexSMS
)

// newCoding reads the name of a coding for a call of USSD or SMS.
func newCoding(name string, ussd bool) (Coding, error) {
	switch {
	case name == "" || name == "plain":
		return Plain, nil
	case name == "ucs2-hex":
		return UCS2Hex, nil
	case name == "gsm7-hex" && ussd:
		return GSM7HexUSSD, nil
	case name == "gsm7-hex":
		return GSM7HexSMS, nil
	}
	return 0, errors.New("this is not one of plain, ucs2-hex, gsm7-hex")
}

var (
	errHex     = Wrong("This is not written in hexadecimal digits, two an octet.")
	errUCS2Hex = Wrong("This is not UCS-2 in hexadecimal digits, four a character.")
)

func (c Coding) decode(s string) (string, error) {
	b, err := hex.DecodeString(s)
	if err != nil {
		return "", errHex
	}
	switch c {
	case UCS2Hex:
		if len(b)%2 != 0 {
			return "", errUCS2Hex
		}
		units := make([]uint16, len(b)/2)
		for i := range units {
			units[i] = binary.BigEndian.Uint16(b[2*i:])
		}
		s = string(utf16.Decode(units))
		if strings.ContainsRune(s, utf8.RuneError) { // half of a pair
			return "", errUCS2Hex
		}
		return s, nil
	case GSM7HexSMS:
		s, err := text.Unpack(b, len(b)*8/7)
		// Nobody counts the septets here: seven bits left over are taken for
		// filling, and not for the "@" that they spell.
		if len(b) > 0 && len(b)%7 == 0 {
			s = strings.TrimSuffix(s, "@")
		}
		return s, err
	}
	return text.UnpackUSSD(b), nil
}

// ucs2Hex writes a text as UCS-2 units in hexadecimal digits.
func ucs2Hex(s string) string {
	var b []byte
	for _, unit := range utf16.Encode([]rune(s)) {
		b = binary.BigEndian.AppendUint16(b, unit)
	}
	return strings.ToUpper(hex.EncodeToString(b))
}
