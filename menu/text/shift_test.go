package text

import (
	"fmt"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

// every returns all GSM 7-bit encodings of TS 23.038: each locking table combined with each single shift table.
func every() (all []Encoding) {
	for locking := Shift(0); locking <= Urdu; locking++ {
		for single := Shift(0); single <= Urdu; single++ {
			if e := (Encoding{GSM7, locking, single}); e.valid() {
				all = append(all, e)
			}
		}
	}
	return all
}

// letters lists the characters of e. Those of the locking table come first.
func (e Encoding) letters() (all []rune) {
	for _, p := range []*page{lockingPages[e.Locking], singlePages[e.Single]} {
		for _, r := range p.symbols {
			if r != 0 {
				all = append(all, r)
			}
		}
	}
	return all
}

// TestShiftNames checks that the identifiers 1 to 13 have the names of these languages (3GPP TS 23.038, clause
// 6.2.1.2.4), and that only Spanish has no locking table (clause A.3.2 of the same standard).
func TestShiftNames(t *testing.T) {
	for id, want := range []string{
		"default", "Turkish", "Spanish", "Portuguese", "Bengali", "Gujarati", "Hindi", "Kannada", "Malayalam", "Oriya",
		"Punjabi", "Tamil", "Telugu", "Urdu", "unknown",
	} {
		s := Shift(id)
		if s.String() != want || s.Known() != (id >= 1 && id <= 13) {
			t.Errorf("identifier %d is %s, known %v; want %s", id, s, s.Known(), want)
		}
		if got, want := (Encoding{GSM7, s, 0}).valid(), id != 2 && id <= 13; got != want {
			t.Errorf("%s has a locking table: %v, want %v", s, got, want)
		}
		if got, want := (Encoding{GSM7, 0, s}).valid(), id <= 13; got != want {
			t.Errorf("%s has a single shift table: %v, want %v", s, got, want)
		}
	}
	if n := len(every()); n != 13*14 {
		t.Errorf("%d pairs of tables, want 13 locking ones by 14 single ones", n)
	}
	if (Encoding{UCS2, 0, Turkish}).valid() || (Encoding{}).valid() {
		t.Error("UCS-2 has no tables, and there is no third alphabet")
	}
}

// TestShiftTables counts the characters in which each table of TS 23.038, clauses A.2.1 to A.3.13, differs from the
// table that it extends. A language in Latin letters extends the default tables, any other language the shared tables.
// From Bengali on, the counted characters must be of one script, and must not replace a character of the shared table.
// The expected numbers were counted in this package. They show only that a table was changed by mistake; they do not
// prove that the tables are right.
func TestShiftTables(t *testing.T) {
	for _, c := range []struct {
		shift           Shift
		script          *unicode.RangeTable
		locking, single int
	}{
		{Turkish, unicode.Latin, 8, 7}, {Spanish, unicode.Latin, 0, 9}, {Portuguese, unicode.Latin, 30, 27},
		{Bengali, unicode.Bengali, 67, 24}, {Gujarati, unicode.Gujarati, 73, 12}, {Hindi, unicode.Devanagari, 80, 30},
		{Kannada, unicode.Kannada, 73, 15}, {Malayalam, unicode.Malayalam, 73, 24}, {Oriya, unicode.Oriya, 69, 17},
		{Punjabi, unicode.Gurmukhi, 63, 18}, {Tamil, unicode.Tamil, 55, 19}, {Telugu, unicode.Telugu, 73, 20},
		{Urdu, unicode.Arabic, 80, 32},
	} {
		latin := c.shift <= Portuguese
		locking, single := &lockingShared, &singleShared
		if latin {
			locking, single = &basic, &extended
		}
		for _, table := range []struct {
			name string
			page *page
			over *symbols // the default or extension table that the page of the language replaces
			own  int
		}{
			{"locking", lockingPages[c.shift], locking, c.locking},
			{"single shift", singlePages[c.shift], single, c.single},
		} {
			if table.page == nil && table.own == 0 {
				continue
			}
			own := 0
			for code, r := range table.page.symbols {
				over := table.over[code]
				if r == over {
					continue
				}
				own++
				if !latin && (over != 0 || !unicode.In(r, c.script, unicode.Common, unicode.Inherited)) {
					t.Errorf("%s %s: code %02X is %U, of another script or for %U", c.shift, table.name, code, r, over)
				}
			}
			if own != table.own || table.page.symbols[escape] != 0 {
				t.Errorf("%s %s: %d own symbols, want %d; the escape has none", c.shift, table.name, own, table.own)
			}
		}
	}
}

// The rows check some characters of each table of 3GPP TS 23.038. The clause is of the standard's annex A. If its
// version 9.1.1 has a misprint, the comment of the row gives the misprint.
func TestShiftSymbols(t *testing.T) {
	for _, c := range []struct {
		clause string
		page   *page
		code   byte
		want   rune
	}{
		{"A.2.1", singlePages[Turkish], 0x47, 'Ğ'}, {"A.2.1", singlePages[Turkish], 0x69, 'ı'},
		{"A.2.2", singlePages[Spanish], 0x09, 'ç'}, {"A.2.2", singlePages[Spanish], 0x75, 'ú'},
		{"A.2.3", singlePages[Portuguese], 0x7B, 'ã'}, {"A.2.3", singlePages[Portuguese], 0x14, '^'},
		{"A.2.4", singlePages[Bengali], 0x19, '০'}, {"A.2.4", singlePages[Bengali], 0x23, '৯'},
		{"A.2.5", singlePages[Gujarati], 0x1C, '૦'}, {"A.2.6", singlePages[Hindi], 0x19, '।'},
		{"A.2.6", singlePages[Hindi], 0x25, '९'}, {"A.2.7", singlePages[Kannada], 0x26, 'ೞ'},
		{"A.2.8", singlePages[Malayalam], 0x34, 'ൿ'}, {"A.2.9", singlePages[Oriya], 0x2C, 'ୱ'},
		{"A.2.10", singlePages[Punjabi], 0x2C, 0x0A5E},
		{"A.2.11", singlePages[Tamil], 0x24, 0x0BEE}, // version 9.1.1 has the misprint 0BEF
		{"A.2.11", singlePages[Tamil], 0x25, 0x0BEF},
		{"A.2.12", singlePages[Telugu], 0x22, 0x0C6C}, // version 9.1.1 has the misprint 06CC
		{"A.2.12", singlePages[Telugu], 0x23, 0x0C6D}, // version 9.1.1 has the misprint 06CD
		{"A.2.12", singlePages[Telugu], 0x19, 0},      // no character; other Indian languages have a danda here
		{"A.2.13", singlePages[Urdu], 0x1C, '۰'}, {"A.2.13", singlePages[Urdu], 0x3F, '۔'},
		{"A.3.1", lockingPages[Turkish], 0x04, '€'}, {"A.3.1", lockingPages[Turkish], 0x60, 'ç'},
		{"A.3.1", lockingPages[Turkish], 0x41, 'A'}, {"A.3.3", lockingPages[Portuguese], 0x15, '∞'},
		{"A.3.3", lockingPages[Portuguese], 0x7D, '`'}, {"A.3.4", lockingPages[Bengali], 0x14, 'ঔ'},
		{"A.3.5", lockingPages[Gujarati], 0x15, 'ક'}, {"A.3.6", lockingPages[Hindi], 0x15, 'क'},
		{"A.3.6", lockingPages[Hindi], 0x4D, 'ह'},
		{"A.3.7", lockingPages[Kannada], 0x24, 0x0CA1}, // version 9.1.1 has the misprint 0CAA
		{"A.3.8", lockingPages[Malayalam], 0x15, 'ക'}, {"A.3.9", lockingPages[Oriya], 0x15, 'କ'},
		{"A.3.10", lockingPages[Punjabi], 0x15, 'ਕ'}, {"A.3.11", lockingPages[Tamil], 0x15, 'க'},
		{"A.3.12", lockingPages[Telugu], 0x15, 'క'}, {"A.3.13", lockingPages[Urdu], 0x00, 'ا'},
		{"A.3.13", lockingPages[Urdu], 0x5B, 'ے'},
		{"A.3.6", lockingPages[Hindi], 0x28, ')'}, // the codes of the brackets are swapped compared with ASCII
		{"A.3.6", lockingPages[Hindi], 0x29, '('},
		{"A.3.6", lockingPages[Hindi], 0x41, 0x092D}, // a Hindi letter: the locking table has no capitals
		{"A.2.6", singlePages[Hindi], 0x41, 'A'},     // the single shift table has the capitals
		{"A.2.6", singlePages[Hindi], 0x65, '€'},
	} {
		if got := c.page.symbols[c.code]; got != c.want {
			t.Errorf("clause %s, code %02X: %U, want %U", c.clause, c.code, got, c.want)
		}
	}
}

// Every character of every table must be decoded to itself, from one septet or from two.
func TestEveryShiftedSymbol(t *testing.T) {
	for _, e := range every() {
		if e.Locking != 0 && e.Single != 0 && e.Locking != e.Single {
			continue // the other pairs already use every table
		}
		for _, r := range e.letters() {
			s := string(r)
			septets, err := e.encode(s)
			if err != nil || e.decode(septets) != s || len(septets) != e.width(r) {
				t.Errorf("%s: %U is % X, %v", e, r, septets, err)
			}
		}
	}
}

// By clause A.3.6 of 3GPP TS 23.038 a Hindi letter needs one septet. The words, such as "weed between the rows", were
// written for this test.
func TestHindiLetters(t *testing.T) {
	const words = "कतारों के बीच निराई करें"
	septets, err := Encoding{GSM7, Hindi, 0}.encode(words)
	if err != nil || len(septets) != len([]rune(words)) {
		t.Fatalf("%d septets for %d characters, %v", len(septets), len([]rune(words)), err)
	}
	// The full stop of Hindi is in the single shift table (TS 23.038, clause A.2.6).
	if e := choose(words+"।", []Shift{Hindi}); e != (Encoding{GSM7, Hindi, Hindi}) {
		t.Errorf("with a danda it goes in %s", e)
	}
}

// The expected texts follow from 3GPP TS 23.038, clauses A.2.6 and 6.2.1.1. If the extension or single shift table
// lacks the code after an escape, the code is read from the default or locking table. A second escape is a space. A
// code without a character in a locking table is read as U+FFFD.
func TestEscapes(t *testing.T) {
	for _, c := range []struct {
		e       Encoding
		septets []byte
		want    string
	}{
		{unshifted, []byte{escape, 0x41}, "A"}, {unshifted, []byte{escape, escape}, " "},
		{unshifted, []byte{escape}, " "}, {unshifted, []byte{escape, 0x65, 0x65}, "€e"},
		{Encoding{GSM7, Hindi, 0}, []byte{escape, 0x15}, "क"},
		{Encoding{GSM7, Hindi, Hindi}, []byte{escape, 0x19}, "।"},
		{Encoding{GSM7, 0, Turkish}, []byte{escape, 0x42}, "B"},
		{Encoding{GSM7, Turkish, Turkish}, []byte{escape, escape, escape}, "  "},
		{Encoding{GSM7, Bengali, 0}, []byte{0x0C}, "\uFFFD"},
	} {
		if got := c.e.decode(c.septets); got != c.want {
			t.Errorf("%s: % X shows %q, want %q", c.e, c.septets, got, c.want)
		}
	}
}

func TestChoose(t *testing.T) {
	all := []Shift{Turkish, Spanish, Portuguese, Bengali, Hindi}
	for _, c := range []struct {
		text    string
		allowed []Shift
		want    string
		parts   int
	}{
		{"", nil, "gsm7", 0}, {"", all, "gsm7", 0}, {"weed", all, "gsm7", 1},
		{strings.Repeat("^", 80), all, "gsm7", 1}, // GSM7 has ^, so it is preferred to Portuguese with fewer septets
		{"ça", nil, "ucs2", 1},
		{"ça", []Shift{Portuguese}, "gsm7, Portuguese locking shift", 1}, // the single shift table would need 3 septets
		{"ça", []Shift{Spanish}, "gsm7, Spanish single shift", 1},
		{"ação", []Shift{Spanish}, "ucs2", 1}, // the Spanish table (TS 23.038, clause A.2.2) lacks ã
		{"àèòção", []Shift{Portuguese}, "gsm7, Portuguese single shift", 1},
		{"ça va: ∞ è", []Shift{Portuguese}, "ucs2", 1}, // ∞ is only in the locking table, which has no è
		{"ça", []Shift{14, 0, 200}, "ucs2", 1},
		{"ça", []Shift{14, Spanish}, "gsm7, Spanish single shift", 1},
		{"ж", all, "ucs2", 1},
		{"ধান", all, "gsm7, Bengali locking shift", 1},
		{"धान A", all, "gsm7, Hindi locking and single shift", 1},
		{"धान ধান", []Shift{Bengali, Hindi}, "ucs2", 1},
		// Each Turkish table needs a header of the same length. A letter needs one septet in the locking table (TS
		// 23.038, clause A.3.1) and two in the single shift table (A.2.1), so the locking table is chosen.
		{"ış", []Shift{Turkish}, "gsm7, Turkish locking shift", 1},
		{"ışì", []Shift{Turkish}, "gsm7, Turkish single shift", 1}, // the Turkish locking table lacks ì
		// The header for two tables needs 8 septets, so 152 septets are left for the text (TS 23.040, clause 9.2.3.24).
		{strings.Repeat("ध", 150) + "A", []Shift{Hindi}, "gsm7, Hindi locking and single shift", 1},
		{strings.Repeat("ध", 151) + "A", []Shift{Hindi}, "gsm7, Hindi locking and single shift", 2},
		{strings.Repeat("ध", 155), []Shift{Hindi}, "gsm7, Hindi locking shift", 1},
		{strings.Repeat("ध", 156), []Shift{Hindi}, "gsm7, Hindi locking shift", 2},
	} {
		encoded := NewEncoder(c.allowed).Encode(c.text)
		n, e := encoded.Segments, encoded.Encoding
		if e.String() != c.want || n != c.parts || e != choose(c.text, c.allowed) {
			t.Errorf("%.12q in %v: %d parts, %s; want %d, %s", c.text, c.allowed, n, e, c.parts, c.want)
		}
	}
}

// TestEncoderOfSeveralSets checks that Encode uses the set of tables with which the text needs the fewest SMS parts. If
// two sets need the same number, it must use the first. If the default alphabet has all characters of the text, it must
// use no set.
func TestEncoderOfSeveralSets(t *testing.T) {
	e := NewEncoder([]Shift{Turkish}, []Shift{Hindi}, []Shift{Portuguese, Hindi})
	for body, want := range map[string]Encoded{
		"plain":                  {Encoding: Encoding{Alphabet: GSM7}, Segments: 1},
		"":                       {Encoding: Encoding{Alphabet: GSM7}},
		strings.Repeat("ş", 100): {Encoding: Encoding{Alphabet: GSM7, Locking: Turkish}, Segments: 1},
		strings.Repeat("ध", 100): {Encoding: Encoding{Alphabet: GSM7, Locking: Hindi}, Segments: 1},
		strings.Repeat("ã", 100): {Encoding: Encoding{Alphabet: GSM7, Locking: Portuguese}, Segments: 1},
		strings.Repeat("語", 100): {Encoding: Encoding{Alphabet: UCS2}, Segments: 2},
	} {
		want.Text = body
		if got := e.Encode(body); got != want {
			t.Errorf("%.12q: %s in %d, want %s in %d", body, got.Encoding, got.Segments, want.Encoding, want.Segments)
		}
	}
}

// The chosen encoding must have every character of the text. No other allowed encoding may need fewer parts, or leave
// more room with as many parts.
func TestChooseIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shift := rapid.Custom(func(t *rapid.T) Shift { return Shift(rapid.IntRange(0, 14).Draw(t, "shift")) })
		allowed := rapid.SliceOfN(shift, 0, 3).Draw(t, "allowed")
		s := shifted().Draw(t, "s")
		got := choose(s, allowed)
		if !got.covers(s) {
			t.Fatalf("%s cannot hold %q", got, s)
		}
		if IsGSM7(s) {
			if got != unshifted {
				t.Fatalf("%q in %s", s, got)
			}
			return
		}
		n, left := got.segments(s)
		may := map[Shift]bool{0: true}
		for _, shift := range allowed {
			may[shift] = true
		}
		if !may[got.Locking] || !may[got.Single] {
			t.Fatalf("%q in %s, allowed %v", s, got, allowed)
		}
		for _, e := range every() {
			if !may[e.Locking] || !may[e.Single] || !e.covers(s) {
				continue
			}
			if got.Alphabet == UCS2 {
				t.Fatalf("%q in UCS-2, though %s holds it", s, e)
			}
			if en, eleft := e.segments(s); en < n || en == n && eleft > left {
				t.Fatalf("%q: %d parts and %d left in %s, %d and %d in %s", s, n, left, got, en, eleft, e)
			}
		}
	})
}

// shifted draws texts whose characters are all in one encoding, and sometimes texts of any characters.
func shifted() *rapid.Generator[string] {
	all := every()
	return rapid.Custom(func(t *rapid.T) string {
		e := rapid.SampledFrom(all).Draw(t, "encoding")
		letter := rapid.SampledFrom(e.letters())
		short, long := rapid.StringOfN(letter, 0, 200, -1), rapid.StringOfN(letter, 130, 500, -1)
		return rapid.OneOf(short, long, rapid.StringN(0, 200, -1)).Draw(t, fmt.Sprint("text in ", e))
	})
}
