package text

import (
	"encoding/hex"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Packing for SMS follows 3GPP TS 23.038, clause 6.1.2.1. The rows from "test text" to "enhanced" are from libosmocore,
// tests/sms/sms_test.c. The last rows were computed by hand from the tables of the standard.
func TestPack(t *testing.T) {
	for _, c := range []struct{ text, packed string }{
		{"hellohello", "E8329BFD4697D9EC37"}, // this example is in many public descriptions of SMS
		{"test text", "F4F29C0EA297F174"},
		{"!$ a more#^- complicated test@@?_%! case",
			"2101280C6ABFE5E5D186D2028DDF6D383B3D0ED3CB6410BD3CA70300BF4829041A87E765"},
		{"enhanced ^ {][} test |+~ ^ test", "65373AEC1E97C9A00D05B4416D7C1BDE2605A297E774D006B8DAF4401B0A885E9ED301"},
		{"enhanced ^ {][} test |+~ ^ tests", "65373AEC1E97C9A00D05B4416D7C1BDE2605A297E774D006B8DAF4401B0A885E9ED3E7"},
		{strings.Repeat("A", 16), strings.Repeat("C16030180C0683", 2)}, {"€", "9B32"}, {"{}", "1BD42605"},
		{"", ""}, {"hello", "E8329BFD06"}, {"test1234", "F4F29C1E93CD68"},
	} {
		packed, err := Pack(c.text)
		if err != nil || strings.ToUpper(hex.EncodeToString(packed)) != c.packed {
			t.Errorf("Pack(%q) = %X, %v; want %s", c.text, packed, err, c.packed)
		}
		n, _ := Septets(c.text)
		if back, err := Unpack(packed, n); err != nil || back != c.text {
			t.Errorf("Unpack(%s) = %q, %v; want %q", c.packed, back, err, c.text)
		}
	}
}

// Packing for USSD follows 3GPP TS 23.038, clause 6.1.2.3.1. The rows are from libosmocore, tests/ussd/ussd_test.c.
func TestUnpackUSSD(t *testing.T) {
	for _, c := range []struct{ text, packed, back string }{
		{"", "", ""}, {"0123456", "b0986c46abd91a", "0123456"}, {"01234567", "b0986c46abd96e", "01234567"},
		{"01234567\r", "b0986c46abd96e0d", "01234567\r"}, {"012345\r", "b0986c46ab351a", "012345\r"},
		{"0123456\r", "b0986c46abd91a0d", "0123456\r\r"}, // the \r fills the last octet, so a second \r is sent
		{"forty-two", "e6b79c9e6fd1ef6f", "forty-two"}, {"**321#", "2ad54c161b01", "**321#"},
	} {
		packed := unhex(c.packed)
		if back := UnpackUSSD(packed); back != c.back || len(packed) != USSDOctets(c.text) {
			t.Errorf("UnpackUSSD(%s) = %q, want %q; %d octets, counted %d", c.packed, back, c.back, len(packed),
				USSDOctets(c.text))
		}
	}
}

func TestPackErrors(t *testing.T) {
	if _, err := Pack("ça"); !errors.Is(err, ErrAlphabet) {
		t.Errorf("got %v, want ErrAlphabet", err)
	}
	for _, n := range []int{-1, 2, math.MaxInt} {
		if _, err := Unpack([]byte{0x41}, n); !errors.Is(err, ErrPacked) {
			t.Errorf("%d septets of one octet: %v, want ErrPacked", n, err)
		}
	}
}

func TestPackRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { roundTrip(t, gsm7().Draw(t, "s")) })
}

type failer interface {
	Helper()
	Fatalf(string, ...any)
}

func roundTrip(t failer, s string) {
	t.Helper()
	packed, err := Pack(s)
	n, ok := Septets(s)
	if !ok {
		if !errors.Is(err, ErrAlphabet) || len(NotGSM7(s)) == 0 {
			t.Fatalf("Pack(%q): %v, bad %q", s, err, NotGSM7(s))
		}
		return
	}
	if back, err2 := Unpack(packed, n); err != nil || err2 != nil || back != s {
		t.Fatalf("%q comes back as %q (%v, %v)", s, back, err, err2)
	}
}

func FuzzPack(f *testing.F) {
	for _, s := range []string{"", "0123456", "0123456\r", "{€}", "ça", "\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { roundTrip(t, s) })
}

// FuzzUnpack checks that, for any octets from a network, Unpack returns either an error or a text that can be sent.
func FuzzUnpack(f *testing.F) {
	f.Add([]byte{0xe8, 0x32, 0x9b, 0xfd, 0x06}, 5)
	f.Add([]byte{0x1b}, 1)
	f.Add([]byte{}, -1)
	f.Fuzz(func(t *testing.T, packed []byte, n int) {
		shown, err := Unpack(packed, n)
		if err != nil {
			if !errors.Is(err, ErrPacked) || n >= 0 && n <= len(packed) {
				t.Fatalf("%d septets of % X: %v", n, packed, err)
			}
			return
		}
		if !IsGSM7(shown) {
			t.Fatalf("%d septets of % X show %q", n, packed, shown)
		}
		roundTrip(t, shown)
	})
}

// FuzzUnpackUSSD checks that, for any octets from a network, UnpackUSSD returns a text that can be sent.
func FuzzUnpackUSSD(f *testing.F) {
	f.Add([]byte{0xb0, 0x98, 0x6c, 0x46, 0xab, 0xd9, 0x1a})
	f.Add([]byte{0x1b})
	f.Fuzz(func(t *testing.T, octets []byte) {
		if shown := UnpackUSSD(octets); !IsGSM7(shown) {
			t.Fatalf("% X shows %q", octets, shown)
		}
	})
}
