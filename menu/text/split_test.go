package text

import (
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// TestSplitExample uses a published example of the first of two parts. The part has the 8-bit reference 6F, one fill
// bit (3GPP TS 23.040, clause 9.2.3.24) and 153 septets (clause 9.2.3.24.1).
func TestSplitExample(t *testing.T) {
	first := strings.Repeat("this is a testmessage. ", 6) + "cut here .....:"
	parts, err := split(first+" and the rest", unshifted, Ref8(0x6F))
	if err != nil || len(parts) != 2 {
		t.Fatalf("%d parts, %v", len(parts), err)
	}
	p := parts[0]
	const header, begin = "0500036f0201", "e8e8f41c949e83c2207a794e6f97e7f3f0b9ec02"
	if p.Text != first || hex.EncodeToString(p.Header) != header || p.Length != 160 || len(p.Data) != 134 {
		t.Errorf("%q, header %x, length %d, %d octets", p.Text, p.Header, p.Length, len(p.Data))
	}
	if got := hex.EncodeToString(p.Data); !strings.HasPrefix(got, begin) {
		t.Errorf("octets %s, want %s...", got, begin)
	}
	if hex.EncodeToString(parts[1].Header) != "0500036f0202" || parts[1].Text != " and the rest" {
		t.Errorf("second part %q, header %x", parts[1].Text, parts[1].Header)
	}
}

// The expected octets were computed by hand from TS 23.038, clause 6.1.2.1, and TS 23.040, clause 9.2.3.24. The octets
// of UCS-2 are those of the Unicode code charts.
func TestSplitOctets(t *testing.T) {
	for _, c := range []struct {
		text         string
		e            Encoding
		header, data string
		length       int
	}{
		{"hello", unshifted, "", "e8329bfd06", 5},
		{"ж😀", Encoding{Alphabet: UCS2}, "", "0436d83dde00", 6},
		// The header has 4 octets, which take 5 septets and leave 3 fill bits. ç is 1B 63 (TS 23.038, clause A.2.1).
		// Shifted by the fill bits, 1B<<3 = D8 and 63<<10 = 18C00: D8 8C 01.
		{"ç", Encoding{GSM7, 0, Turkish}, "03240101", "d88c01", 7},
		// The header is as long as in the row before, so there are 3 fill bits. क is 15 (TS 23.038, clause A.3.6):
		// 15<<3 = A8.
		{"क", Encoding{GSM7, Hindi, 0}, "03250106", "a800", 6},
		// The header has 7 octets, which take exactly 8 septets, so there are no fill bits. । is 1B 19 (TS 23.038,
		// clause A.2.6): 1B | 19<<7 = 0C9B.
		{"।", Encoding{GSM7, Hindi, Hindi}, "06240106250106", "9b0c", 10},
	} {
		parts, err := split(c.text, c.e, ref16(1))
		if err != nil || len(parts) != 1 {
			t.Errorf("%q: %d parts, %v", c.text, len(parts), err)
			continue
		}
		p := parts[0]
		if p.Text != c.text || p.Length != c.length || hex.EncodeToString(p.Header) != c.header ||
			hex.EncodeToString(p.Data) != c.data {
			t.Errorf("%q in %s: header %x, octets %x, length %d; want %s, %s, %d", c.text, c.e, p.Header, p.Data,
				p.Length, c.header, c.data, c.length)
		}
	}
}

// TestSplitCounts has texts whose number of parts is not the length divided by the capacity of a part. The rows also
// show how much room an 8-bit and a 16-bit reference take: TS 23.040, clauses 9.2.3.24.1 and 9.2.3.24.8.
func TestSplitCounts(t *testing.T) {
	ucs2, turkish, hindi := Encoding{Alphabet: UCS2}, Encoding{GSM7, 0, Turkish}, Encoding{GSM7, Hindi, Hindi}
	for _, c := range []struct {
		text       string
		e          Encoding
		with8, w16 string // number of characters in each part, with an 8-bit and with a 16-bit reference
	}{
		{"", unshifted, "[]", "[]"},
		{strings.Repeat("a", 160), unshifted, "[160]", "[160]"},
		{strings.Repeat("a", 161), unshifted, "[153 8]", "[152 9]"},
		{strings.Repeat("a", 306), unshifted, "[153 153]", "[152 152 2]"},
		{strings.Repeat("€", 81), unshifted, "[76 5]", "[76 5]"},
		{strings.Repeat("€", 153), unshifted, "[76 76 1]", "[76 76 1]"}, // € must not be divided
		{strings.Repeat("€", 152), unshifted, "[76 76]", "[76 76]"},     // the last septet of each part stays unused
		{strings.Repeat("ж", 71), ucs2, "[67 4]", "[66 5]"},
		{strings.Repeat("ж", 134), ucs2, "[67 67]", "[66 66 2]"},
		{strings.Repeat("😀", 67), ucs2, "[33 33 1]", "[33 33 1]"}, // 😀 must not be divided
		{strings.Repeat("ç", 77), turkish, "[77]", "[77]"},        // 154 septets fit into one SMS of 155
		{strings.Repeat("ç", 78), turkish, "[74 4]", "[74 4]"},    // 156 septets need two SMS
		{strings.Repeat("क", 152), hindi, "[152]", "[152]"},
		{strings.Repeat("क", 153), hindi, "[146 7]", "[145 8]"},
		{strings.Repeat("क", 145) + "।" + strings.Repeat("क", 144), hindi, "[145 145]", "[145 144 1]"},
		// 292 septets would fit into two parts of 146, but the escaped character । cannot be divided: three parts
		{strings.Repeat("क", 145) + "।" + strings.Repeat("क", 145), hindi, "[145 145 1]", "[145 144 2]"},
	} {
		for ref, want := range map[Reference]string{Ref8(1): c.with8, ref16(1): c.w16} {
			parts := must(split(c.text, c.e, ref))
			counts := []int{}
			for _, p := range parts {
				counts = append(counts, utf8.RuneCountInString(p.Text))
			}
			if got := fmt.Sprint(counts); got != want {
				t.Errorf("%d of %.5q in %s, %+v: %s, want %s", utf8.RuneCountInString(c.text), c.text, c.e, ref, got,
					want)
			}
		}
	}
}

// TestSplitRefuses checks the limit of 255 parts, which hold 39015 characters of the default alphabet (TS 23.040,
// clause 9.2.3.24.1).
func TestSplitRefuses(t *testing.T) {
	if parts, err := split(strings.Repeat("a", 39015), unshifted, Ref8(0)); err != nil || len(parts) != 255 {
		t.Errorf("%d parts, %v", len(parts), err)
	}
	for _, c := range []struct {
		text string
		e    Encoding
		want error
		says string
	}{
		{strings.Repeat("a", 39016), unshifted, ErrTooLong, "256 parts are needed and there can be 255"},
		{"ça", unshifted, ErrAlphabet, `'ç'`},
		{"धж", Encoding{GSM7, Hindi, 0}, ErrAlphabet, `'ж' in gsm7, Hindi locking shift`},
		{"a", Encoding{GSM7, Spanish, 0}, ErrAlphabet, "there is no encoding gsm7, Spanish locking shift"},
		{"a", Encoding{GSM7, 0, 14}, ErrAlphabet, "no encoding gsm7, unknown single shift"},
		{"a", Encoding{UCS2, Hindi, 0}, ErrAlphabet, "no encoding"},
		{"a", Encoding{}, ErrAlphabet, "no encoding unknown"},
	} {
		if _, err := split(c.text, c.e, Ref8(0)); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.5q in %s: %v, want %q", c.text, c.e, err, c.says)
		}
	}
}

func TestJoinRefuses(t *testing.T) {
	split := func(s string, ref Reference) []Part { return must(split(s, unshifted, ref)) }
	one, other, wide := split(strings.Repeat("a", 400), Ref8(1)), split(strings.Repeat("b", 400), Ref8(1)),
		split(strings.Repeat("a", 400), ref16(1))
	bad := func(change func(*Part)) []Part {
		p := split("hello", Ref8(0))[0]
		change(&p)
		return []Part{p}
	}
	for _, c := range []struct {
		name  string
		parts []Part
		want  error
		says  string
	}{
		{"missing", one[:2], ErrParts, "part 3 of 3 is missing"},
		{"another reference", []Part{one[0], wide[1], one[2]}, ErrParts, "parts of two texts"},
		{"another length", []Part{one[0], split(strings.Repeat("a", 200), Ref8(1))[1], one[2]}, ErrParts,
			"parts of two texts"},
		{"twice, unlike", []Part{one[0], other[0], one[1], one[2]}, ErrParts, "part 1 came twice"},
		{"two whole ones", slices.Concat(split("a", Ref8(0)), split("b", Ref8(0))), ErrParts, "part 1 came twice"},
		{"header", bad(func(p *Part) { p.Header = []byte{3, 0} }), ErrHeader, "a header of 1 octets says 3"},
		{"septets", bad(func(p *Part) { p.Length = 6 }), ErrPacked, "5 octets for 6 septets"},
		{"less than its header", bad(func(p *Part) { p.Header, p.Length = []byte{0}, 1 }), ErrPacked, "for -1 septets"},
		{"odd", bad(func(p *Part) { p.Alphabet = UCS2 }), ErrPacked, "5 octets for 5 of UCS-2"},
		{"units", bad(func(p *Part) { p.Alphabet, p.Length = UCS2, 6 }), ErrPacked, "5 octets for 6 of UCS-2"},
	} {
		if s, err := Join(c.parts...); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q, %v; want %q", c.name, s, err, c.says)
		}
	}
	if s, err := Join(one[2], one[0], one[2], one[1]); err != nil || s != strings.Repeat("a", 400) {
		t.Errorf("in another order, one twice: %d characters, %v", len(s), err)
	}
}

// A text must be joined completely from its parts in any order. Each part must fit into one SMS, and the number of
// parts must be the one that Encode counts.
func TestSplitRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := shifted().Draw(t, "s")
		ref := rapid.SampledFrom([]Reference{Ref8(0), Ref8(255), ref16(0), ref16(0xFFFF)}).Draw(t, "ref")
		allowed := []Shift{Turkish, Spanish, Portuguese, Bengali, Gujarati, Hindi, Kannada, Malayalam, Oriya, Punjabi,
			Tamil, Telugu, Urdu}
		encoded, none := NewEncoder(allowed).Encode(s), Encoder{}.Encode(s)
		n, e := encoded.Segments, encoded.Encoding
		if plain, first := none.Segments, none.Encoding; (first == unshifted) != IsGSM7(s) || first == unshifted &&
			(plain != n || e != unshifted) {
			t.Fatalf("%q: %d parts of %s without tables, %d of %s with them", s, plain, first, n, e)
		}
		for _, e := range []Encoding{e, {Alphabet: UCS2}} {
			splitRoundTrip(t, s, e, ref)
		}
		narrow, err := split(s, e, Ref8(7)) // n is counted by Encode, with 8-bit references
		if err != nil || len(narrow) != n {
			t.Fatalf("%d parts in %s, counted %d, %v", len(narrow), e, n, err)
		}
	})
}

func splitRoundTrip(t failer, s string, e Encoding, ref Reference) {
	t.Helper()
	parts, err := split(s, e, ref)
	if err != nil {
		t.Fatalf("%q in %s: %v", s, e, err)
	}
	whole := ""
	for i, p := range parts {
		whole += p.Text
		if n := len(p.Header) + len(p.Data); n > 140 || e.Alphabet == GSM7 &&
			(p.Length > 160 || n != octets(p.Length)) || e.Alphabet == UCS2 && n != p.Length {
			t.Fatalf("part %d in %s: %d octets, length %d", i+1, e, n, p.Length)
		}
		if back, err := Join(p); len(parts) == 1 != (err == nil) {
			t.Fatalf("part %d of %d alone: %q, %v", i+1, len(parts), back, err)
		}
	}
	if whole != s {
		t.Fatalf("%q is cut into %q", s, whole)
	}
	slices.Reverse(parts)
	if back, err := Join(parts...); err != nil || back != string([]rune(s)) {
		t.Fatalf("%q in %s comes back as %q, %v", s, e, back, err)
	}
}

// FuzzJoin checks that, for any octets from a network, Join returns either an error or a text that can be sent again in
// the same alphabet.
func FuzzJoin(f *testing.F) {
	f.Add(uint8(GSM7), 5, []byte{}, []byte{0xE8, 0x32, 0x9B, 0xFD, 0x06})
	f.Add(uint8(GSM7), 6, []byte{3, 0x25, 1, 6}, []byte{0xA8, 0})
	f.Add(uint8(GSM7), 10, []byte{6, 0x24, 1, 6, 0x25, 1, 6}, []byte{0x9B, 0x0C})
	f.Add(uint8(UCS2), 6, []byte{}, []byte{4, 0x36, 0xD8, 0x3D, 0xDE, 0})
	f.Add(uint8(UCS2), 8, []byte{5, 0, 3, 1, 2, 1}, []byte{4, 0x36})
	f.Fuzz(func(t *testing.T, alphabet uint8, length int, header, data []byte) {
		p := Part{Alphabet: Alphabet(alphabet), Length: length, Header: header, Data: data}
		shown, err := Join(p)
		if err != nil {
			if !errors.Is(err, ErrHeader) && !errors.Is(err, ErrParts) && !errors.Is(err, ErrPacked) {
				t.Fatalf("%+v: %v", p, err)
			}
			return
		}
		if !utf8.ValidString(shown) {
			t.Fatalf("%+v shows %q", p, shown)
		}
		at, err := readHeader(header)
		if err != nil {
			t.Fatalf("%+v is read, though its header is %v", p, err)
		}
		e := Encoding{GSM7, at.locking, at.single}
		if p.Alphabet == UCS2 || !e.covers(shown) { // a code without a character was read as U+FFFD, which needs UCS-2
			e = Encoding{Alphabet: UCS2}
		}
		if n, _ := e.segments(shown); n <= maxParts {
			splitRoundTrip(t, shown, e, Ref8(0))
		}
	})
}

// The capacity of a part after its header follows from 3GPP TS 23.040: clauses 9.2.3.24 (140 octets, 160 septets),
// 9.2.3.24.1 (153 septets), 9.2.3.24.8 (152 septets), 9.2.3.24.15 and 9.2.3.24.16 (one octet of data names each
// national table). The other expected values are computed from these.
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
		{plain, Ref8(0x6F), 1, "", 160}, {wide, Ref8(0x6F), 1, "", 70}, {plain, Ref8(0x6F), 2, "0500036f0202", 153},
		{wide, Ref8(0x6F), 2, "0500036f0202", 67},
		{plain, ref16(0x016F), 2, "060804016f0202", 152},
		{wide, ref16(0x016F), 2, "060804016f0202", 66}, {single, Ref8(0x6F), 1, "03240101", 155},
		{locking, Ref8(0x6F), 1, "03250106", 155}, {both, Ref8(0x6F), 1, "06240106250106", 152},
		{single, Ref8(0x6F), 2, "0800036f0202240101", 149},
		{both, Ref8(0x6F), 2, "0b00036f0202240106250106", 146},
		{single, ref16(0x016F), 2, "090804016f0202240101", 148},
		{both, ref16(0x016F), 2, "0c0804016f0202240106250106", 145},
	} {
		h := c.e.header(c.ref, c.parts, c.parts)
		if hex.EncodeToString(h) != c.header || c.e.capacity(len(h)) != c.room {
			t.Errorf("%s, %d parts: header %x and room for %d; want %s and %d", c.e, c.parts, h, c.e.capacity(len(h)),
				c.header, c.room)
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

// unhex decodes hexadecimal digits. The digits may be separated by spaces.
func unhex(digits string) []byte { return must(hex.DecodeString(strings.ReplaceAll(digits, " ", ""))) }

// By 3GPP TS 23.040, clause 9.2.3.24, unknown elements of a header are skipped, and if an element occurs twice the
// second one is used. By clauses 9.2.3.24.1 and 9.2.3.24.8 of TS 23.040, impossible part numbers are ignored.
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
		{"a language to come", "06 24010e 25010e", position{n: 1, parts: 1}}, // must be ignored (from memory)
		{"no such locking table", "03 250102", position{n: 1, parts: 1}},     // Spanish has none (TS 23.038, A.3.2)
	} {
		if got, err := readHeader(unhex(c.header)); err != nil || got != c.want {
			t.Errorf("%s: %+v, %v; want %+v", c.name, got, err, c.want)
		}
	}
}

func TestReadHeaderRefuses(t *testing.T) {
	for _, c := range []struct{ header, tells string }{
		{"05", "a header of 0 octets says 5"}, {"0400036f0302", "a header of 5 octets says 4"},
		{"0100", "element 00 is cut short"}, {"0400036f03", "element 00 is cut short"},
		{"0400026f03", "element 00 has 2 octets, not 3"},
		{"050803000302", "element 08 has 3 octets, not 4"},
		{"0224 00", "element 24 has 0 octets, not 1"},
		{"0425020606", "element 25 has 2 octets, not 1"},
	} {
		_, err := readHeader(unhex(c.header))
		if !errors.Is(err, ErrHeader) || !strings.Contains(err.Error(), c.tells) {
			t.Errorf("%s: %v, want %q", c.header, err, c.tells)
		}
	}
}
