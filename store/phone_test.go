package store

import (
	"fmt"
	"testing"
)

func TestPhoneIsMasked(t *testing.T) {
	for _, c := range []struct{ phone, want string }{
		{"+447700900123", "+4477…123"}, {"+4477" + "0090012", "+4477…012"}, {"+4477" + "009001", "+4477…001"},
		{"+4477" + "00900", "…"}, {"", "…"}, // too short: no digits are shown
	} {
		p := Phone(c.phone)
		text, err := p.MarshalText()
		errorIf(t, err != nil || string(text) != c.want, "MarshalText of %s: %s, %v", c.phone, text, err)
		for _, verb := range []string{"%v", "%s", "%#v", "%+v"} {
			equal(t, fmt.Sprintf(verb, p), c.want, "%s of %s prints", verb, c.phone)
		}
		errorIf(t, p.E164() != c.phone, "E164 of %s is %s", c.phone, p.E164())
	}
}
