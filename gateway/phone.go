package gateway

import (
	"errors"
	"strings"

	"rowbell/store"
)

// ErrPhone is the error for an unreadable phone number. The error never contains the number.
var ErrPhone = errors.New("not a phone number in international form")

// A number of ITU-T E.164 has at most 15 digits; a number of fewer than 8 digits is a short code of one network (both
// from memory).
const (
	minDigits = 8
	maxDigits = 15
)

// ParsePhone reads a phone number as networks and people write it. Spaces, dashes, dots, brackets and a leading
// tel: are ignored; a leading 00 is read as +.
//
// A number without + or 00 is refused unless countryCode (digits, no plus) is set. Then a leading 0 is the trunk prefix
// of a local number, a number of more than ten digits that begins with the country code is international, and any other
// number is local (common practice of networks, no source).
func ParsePhone(s, countryCode string) (store.Phone, error) {
	s, plus := strings.CutPrefix(withoutScheme(s), "+")
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

// withoutScheme returns s without spaces around it. From a tel URI (RFC 3966) it takes away the scheme and the
// parameters, which follow a semicolon.
func withoutScheme(s string) string {
	const scheme = "tel:"
	s = strings.TrimSpace(s)
	if len(s) >= len(scheme) && strings.EqualFold(s[:len(scheme)], scheme) {
		s, _, _ = strings.Cut(s[len(scheme):], ";")
	}
	return strings.TrimSpace(s)
}

// separators are the characters that ParsePhone ignores: spaces, brackets, dots, slashes, dashes of several widths.
const separators = " \u00a0\u202f()[]./-\u2010\u2011\u2012\u2013\u2014"
