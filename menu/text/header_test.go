package text

import (
	"encoding/hex"
	"errors"
	"strings"
	"testing"
)

// What a part has left beside its header: 3GPP TS 23.040, clauses 9.2.3.24
// (140 octets, 160 septets), 9.2.3.24.1 (153), 9.2.3.24.8 (152), 9.2.3.24.15
// and 9.2.3.24.16 (an element of one octet for each table); the rest worked
// out from these.
func TestRoom(t *testing.T) {
	plain, single, both := unshifted, Encoding{GSM7, 0, Turkish}, Encoding{GSM7, Hindi, Hindi}
	locking, wide := Encoding{GSM7, Hindi, 0}, Encoding{Alphabet: UCS2}
	for _, c := range []struct {
		e      Encoding
		ref    Reference
		parts  int
		header string
		room   int
	}{
		{plain, Ref8(0x6F), 1, "", 160},
		{wide, Ref8(0x6F), 1, "", 70},
		{plain, Ref8(0x6F), 2, "0500036f0202", 153},
		{wide, Ref8(0x6F), 2, "0500036f0202", 67},
		{plain, ref16(0x016F), 2, "060804016f0202", 152},
		{wide, ref16(0x016F), 2, "060804016f0202", 66},
		{single, Ref8(0x6F), 1, "03240101", 155},
		{locking, Ref8(0x6F), 1, "03250106", 155},
		{both, Ref8(0x6F), 1, "06240106250106", 152},
		{single, Ref8(0x6F), 2, "0800036f0202240101", 149},
		{both, Ref8(0x6F), 2, "0b00036f0202240106250106", 146},
		{single, ref16(0x016F), 2, "090804016f0202240101", 148},
		{both, ref16(0x016F), 2, "0c0804016f0202240106250106", 145},
	} {
		h := c.e.header(c.ref, c.parts, c.parts)
		if hex.EncodeToString(h) != c.header || c.e.room(len(h)) != c.room {
			t.Errorf("%s, %d parts: header %x and room for %d; want %s and %d", c.e, c.parts, h, c.e.room(len(h)), c.header, c.room)
		}
		at, err := readHeader(h)
		want := position{n: c.parts, parts: c.parts, locking: c.e.Locking, single: c.e.Single}
		if c.parts > 1 {
			want.ref = c.ref
		}
		if err != nil || at != want {
			t.Errorf("header %x reads %+v, %v; want %+v", h, at, err, want)
		}
	}
}

// TS 23.040, clauses 9.2.3.24 (unknown elements are skipped, the last of two
// counts), 9.2.3.24.1 and 9.2.3.24.8 (numbers that cannot be are ignored).
func TestReadHeader(t *testing.T) {
	for _, c := range []struct {
		name, header string
		want         position
	}{
		{"none", "", position{n: 1, parts: 1}},
		{"empty", "00", position{n: 1, parts: 1}},
		{"unknown element before", "08 7f0155 00036f0302", position{ref: Ref8(0x6F), n: 2, parts: 3}},
		{"ports before", "0b 050415811581 00036f0302", position{ref: Ref8(0x6F), n: 2, parts: 3}},
		{"the last counts", "0b 00036f0302 0804aabb0504", position{ref: ref16(0xAABB), n: 4, parts: 5}},
		{"the last counts, the other way", "0b 0804aabb0504 00036f0302", position{ref: Ref8(0x6F), n: 2, parts: 3}},
		{"part 0", "05 00036f0300", position{n: 1, parts: 1}},
		{"of none", "05 00036f0000", position{n: 1, parts: 1}},
		{"past the last", "05 00036f0304", position{n: 1, parts: 1}},
		{"two languages", "06 240101 240106", position{n: 1, parts: 1, single: Hindi}},
		{"a language to come", "06 24010e 25010e", position{n: 1, parts: 1}}, // clause 9.2.3.24.15, from memory
		{"no such locking table", "03 250102", position{n: 1, parts: 1}},     // TS 23.038, clause A.3.2
	} {
		h, err := hex.DecodeString(strings.ReplaceAll(c.header, " ", ""))
		if err != nil {
			t.Fatal(err)
		}
		if got, err := readHeader(h); err != nil || got != c.want {
			t.Errorf("%s: %+v, %v; want %+v", c.name, got, err, c.want)
		}
	}
}

func TestReadHeaderRefuses(t *testing.T) {
	for _, c := range []struct{ header, tells string }{
		{"05", "a header of 0 octets says 5"},
		{"0400036f0302", "a header of 5 octets says 4"},
		{"0100", "element 00 is cut short"},
		{"0400036f03", "element 00 is cut short"},
		{"0400026f03", "element 00 has 2 octets, not 3"},
		{"050803000302", "element 08 has 3 octets, not 4"},
		{"0224 00", "element 24 has 0 octets, not 1"},
		{"0425020606", "element 25 has 2 octets, not 1"},
	} {
		h, err := hex.DecodeString(strings.ReplaceAll(c.header, " ", ""))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := readHeader(h); !errors.Is(err, ErrHeader) || !strings.Contains(err.Error(), c.tells) {
			t.Errorf("%s: %v, want %q", c.header, err, c.tells)
		}
	}
}
