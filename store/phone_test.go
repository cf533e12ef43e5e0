package store

import (
	"fmt"
	"testing"
)

func TestPhoneIsMasked(t *testing.T) {
	for _, c := range []struct{ phone, want string }{
		{"+447700900123", "+4477…123"}, {"+4477" + "0090012", "+4477…012"}, {"+4477" + "009001", "+4477…001"},
		{"+4477" + "00900", "…"}, {"", "…"}, // too short to mask
	} {
		p := Phone(c.phone)
		text, err := p.MarshalText()
		if err != nil || string(text) != c.want {
			t.Errorf("MarshalText of %s: %s, %v", c.phone, text, err)
		}
		for _, verb := range []string{"%v", "%s", "%#v", "%+v"} {
			if got := fmt.Sprintf(verb, p); got != c.want {
				t.Errorf("%s of %s prints %s", verb, c.phone, got)
			}
		}
		if p.E164() != c.phone {
			t.Errorf("E164 of %s is %s", c.phone, p.E164())
		}
	}
}
