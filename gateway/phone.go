package gateway

import (
	"errors"
	"strings"

	"rowbell/store"
)

// ErrPhone says that a phone number cannot be read. It never holds the number.
var ErrPhone = errors.New("not a phone number in international form")

// E.164 numbers have at most 15 digits; fewer than 8 are short codes and the
// like, never a grower's phone (from memory).
const (
	minDigits = 8
	maxDigits = 15
)

// ParsePhone reads a phone number as networks and people write it. Spaces,
// dashes, dots, brackets and a leading tel: are dropped, 00 is read as +.
//
// Without + or 00 the number needs countryCode (digits, no plus; "" = refuse):
// a leading 0 is the trunk prefix of a local number; otherwise more than ten
// digits that begin with the country code are a whole number without its plus
// (common practice of networks, no source), and the rest is local.
func ParsePhone(s, countryCode string) (store.Phone, error) {
	s = strings.TrimSpace(s)
	if len(s) >= 4 && strings.EqualFold(s[:4], "tel:") {
		s, _, _ = strings.Cut(s[4:], ";") // parameters of RFC 3966
		s = strings.TrimSpace(s)
	}
	s, plus := strings.CutPrefix(s, "+")
	var d strings.Builder
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			d.WriteRune(r)
		case !strings.ContainsRune(separators, r):
			return "", ErrPhone
		}
	}
	digits := d.String()
	if !plus {
		digits, plus = strings.CutPrefix(digits, "00")
	}
	if !plus {
		local, trunk := strings.CutPrefix(digits, "0")
		switch {
		case countryCode == "":
			return "", ErrPhone
		case trunk:
			digits = countryCode + local
		case len(digits) > 10 && strings.HasPrefix(digits, countryCode):
		default:
			digits = countryCode + digits
		}
	}
	if len(digits) < minDigits || len(digits) > maxDigits || digits[0] == '0' {
		return "", ErrPhone
	}
	return store.Phone("+" + digits), nil
}

// separators may stand between digits: spaces, brackets, dots, slashes, dashes
// of several widths.
const separators = " \u00a0\u202f()[]./-\u2010\u2011\u2012\u2013\u2014"
