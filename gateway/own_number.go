package gateway

import (
	"strings"

	"rowbell/gateway/profile"
)

// ownNumbers has each form in which a network may write our own sender: the sender of each network, and the USSD code.
// A text from such a sender is a text of ours that came back.
type ownNumbers map[string]bool

// minShortCode is the smallest number of digits in a number of ours. Short codes have three digits or more (common
// practice, no source).
const minShortCode = 3

func newOwnNumbers(networks []profile.Profile, dialCode string) ownNumbers {
	own := ownNumbers{}
	add := func(digits string) {
		if len(digits) >= minShortCode {
			own[digits] = true
		}
	}
	code := strings.Trim(dialCode, "*#")
	first, _, _ := strings.Cut(code, "*")
	add(first)
	add(strings.ReplaceAll(code, "*", ""))
	for _, p := range networks {
		sender, numeric := plainSender(p.Sender)
		if !numeric {
			if sender != "" {
				own[sender] = true
			}
			continue
		}
		add(sender)
		for _, n := range networks {
			rest, international := strings.CutPrefix(sender, n.CountryCode)
			// A sender without a country code is in the country of its network.
			abroad := !international && p.CountryCode != "" && p.CountryCode != n.CountryCode
			if n.CountryCode == "" || abroad {
				continue
			}
			local := strings.TrimPrefix(rest, "0")
			for _, form := range []string{local, "0" + local, n.CountryCode + local} {
				add(form)
			}
		}
	}
	return own
}

// has reports whether the sender of a text is this service.
func (own ownNumbers) has(sender string) bool {
	plain, _ := plainSender(sender)
	return own[plain]
}

// within reports whether digits contain a number of ours with minWithin digits or more.
func (own ownNumbers) within(digits string) bool {
	for n := range own {
		if len(n) >= minWithin && strings.Contains(digits, n) {
			return true
		}
	}
	return false
}

// plainSender returns a number as digits without a plus, 00 or separators, and any other sender in lower case.
func plainSender(s string) (plain string, numeric bool) {
	s = strings.ToLower(withoutScheme(s))
	digits := strings.Map(func(r rune) rune {
		if strings.ContainsRune(separators, r) {
			return -1
		}
		return r
	}, s)
	digits, _ = strings.CutPrefix(digits, "+")
	if digits == "" || strings.Trim(digits, "0123456789") != "" {
		return strings.Join(strings.Fields(s), " "), false
	}
	return strings.TrimPrefix(digits, "00"), true
}

// sentByUs reports whether the sender of a text is one of ours, and counts and logs such a text. It must not be
// answered, because the answer would come back too, without end.
func (g *Gateway) sentByUs(c *call) bool {
	sender, _ := c.in.optional(c.network.SMS.Phone).(string)
	if !g.own.has(sender) {
		return false
	}
	g.o.Meter.NotAnswered(c.network.Name, "own")
	e := g.o.Log.Debug()
	if g.ownLogged.add(c.now) == 1 { // once a minute: a loop of our own texts must not fill the log
		e = g.o.Log.Warn()
	}
	e.Str("request", c.id).Str("gateway", c.network.Name).
		Msg("a text came from a sender of ours and was not read: a network sends our texts back to us; tell it, " +
			"and check sender in rowbell.toml")
	return true
}
