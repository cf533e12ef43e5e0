package profile

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/htmlindex"

	"rowbell/menu/text"
)

// Charset is a character encoding, which says how characters are written as octets. The zero Charset is UTF-8.
type Charset struct {
	name string
	enc  encoding.Encoding // nil: the charset is UTF-8
}

// newCharset finds a charset by a name of the WHATWG Encoding Standard, where latin-1 means windows-1252.
func newCharset(name string) (Charset, error) {
	if name == "" {
		return Charset{}, nil
	}
	enc, err := htmlindex.Get(name)
	if err != nil {
		return Charset{}, errors.New("there is no charset of this name; " +
			"there are utf-8, iso-8859-1, windows-1252 and others")
	}
	canonical, err := htmlindex.Name(enc)
	// In ISO-2022-JP an escape character in a text changes what the rest of a body means.
	if err != nil || canonical == "replacement" || canonical == "iso-2022-jp" {
		return Charset{}, errors.New("this charset is not safe to read; most networks can send utf-8")
	}
	if canonical == "utf-8" {
		return Charset{}, nil
	}
	return Charset{strings.ToLower(name), enc}, nil
}

// String is the charset's name as a content type writes it.
func (c Charset) String() string {
	if c.enc == nil {
		return "utf-8"
	}
	return c.name
}

// is reports whether name is a name of c, or of US-ASCII, which is part of every charset in use.
func (c Charset) is(name string) bool {
	if strings.EqualFold(name, "us-ascii") {
		return true
	}
	other, err := newCharset(name)
	return err == nil && other.enc == c.enc
}

var errCharset = CallError("This is not in the charset that was agreed on.")

// decode turns octets in the charset c into a string, or returns errCharset.
func (c Charset) decode(s string) (string, error) {
	if c.enc == nil {
		if !utf8.ValidString(s) {
			return "", errCharset
		}
		return s, nil
	}
	out, err := c.enc.NewDecoder().String(s)
	if err != nil || strings.ContainsRune(out, utf8.RuneError) {
		return "", errCharset
	}
	return out, nil
}

// encode turns a string into octets in the charset c, with substitute(r) for a character r that the charset lacks.
func (c Charset) encode(s string, substitute func(r rune) string) string {
	if c.enc == nil {
		return s
	}
	e := c.enc.NewEncoder()
	if out, err := e.String(s); err == nil {
		return out
	}
	var b strings.Builder
	for _, r := range s {
		e.Reset()
		out, err := e.String(string(r))
		if err != nil {
			e.Reset()
			out, _ = e.String(substitute(r))
		}
		b.WriteString(out)
	}
	return b.String()
}

// Coding says how the text of a call is written in its field.
type Coding uint8

// Plain is the text as it is. UCS2Hex is the text's UCS-2 units in hexadecimal digits, high octet first. GSM7HexUSSD
// and GSM7HexSMS are septets of the GSM 7-bit alphabet, packed into octets in hexadecimal digits: for USSD by 3GPP TS
// 23.038, clause 6.1.2.3.1, for SMS by clause 6.1.2.1.
const (
	Plain Coding = iota
	UCS2Hex
	GSM7HexUSSD
	GSM7HexSMS
)

// newCoding reads the name of a coding, for a call of USSD or of SMS.
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
	errHex     = CallError("This is not written in hexadecimal digits, two an octet.")
	errUCS2Hex = CallError("This is not UCS-2 in hexadecimal digits, four a character.")
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
		if strings.ContainsRune(s, utf8.RuneError) { // one half of a surrogate pair stands without the other half
			return "", errUCS2Hex
		}
		return s, nil
	case GSM7HexSMS:
		s, err := text.Unpack(b, len(b)*8/7)
		if len(b) > 0 && len(b)%7 == 0 { // seven zero bits at the end are padding, not a letter "@" (code 0)
			s = strings.TrimSuffix(s, "@")
		}
		return s, err
	}
	return text.UnpackUSSD(b), nil
}

// ucs2Hex writes a text as UCS-2 units in hexadecimal digits, high octet first.
func ucs2Hex(s string) string {
	var b []byte
	for _, unit := range utf16.Encode([]rune(s)) {
		b = binary.BigEndian.AppendUint16(b, unit)
	}
	return strings.ToUpper(hex.EncodeToString(b))
}
