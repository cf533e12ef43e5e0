package text

import (
	"fmt"
	"iter"
	"unicode/utf16"
)

// Encoding is an alphabet and, in the GSM 7-bit one, the national tables that
// stand in for the default alphabet (locking) and for its extension table
// (single). It holds for a whole text, however many parts it has.
type Encoding struct {
	Alphabet        Alphabet
	Locking, Single Shift
}

// unshifted is the default alphabet with its extension table.
var unshifted = Encoding{Alphabet: GSM7}

// String names the encoding: "gsm7", "ucs2", "gsm7, Hindi locking and single shift".
func (e Encoding) String() string {
	s := e.Alphabet.String()
	switch {
	case e.Locking == 0 && e.Single == 0:
		return s
	case e.Single == 0:
		return fmt.Sprintf("%s, %s locking shift", s, e.Locking)
	case e.Locking == 0:
		return fmt.Sprintf("%s, %s single shift", s, e.Single)
	case e.Locking == e.Single:
		return fmt.Sprintf("%s, %s locking and single shift", s, e.Locking)
	}
	return fmt.Sprintf("%s, %s locking and %s single shift", s, e.Locking, e.Single)
}

// exists reports whether the standard has such an encoding.
func (e Encoding) exists() bool {
	switch e.Alphabet {
	case GSM7:
		return e.Locking <= Urdu && lockingPages[e.Locking] != nil && e.Single <= Urdu && singlePages[e.Single] != nil
	case UCS2:
		return e.Locking == 0 && e.Single == 0
	}
	return false
}

// mixed reports whether the two tables are of two languages.
func (e Encoding) mixed() bool { return e.Locking != 0 && e.Single != 0 && e.Locking != e.Single }

// Choose picks the encoding for s: the default alphabet if it holds s; else
// the national tables, among those allowed, that need the fewest parts (with
// 8-bit references), then leave the most room in the last one, then are of one
// language, then stand first in allowed; else UCS-2.
//
// Without allowed tables it is the default alphabet or UCS-2, and that is the
// rule: a phone that does not know a table shows other letters in its place,
// and nobody can tell from here what a phone knows. So an operator says which
// ones the phones of a place have been seen to show. What is allowed and has
// no tables is passed over.
func Choose(s string, allowed []Shift) Encoding {
	if unshifted.holds(s) {
		return unshifted
	}
	best := Encoding{Alphabet: UCS2}
	var fewest, most int
	shifts := append([]Shift{0}, allowed...)
	for _, locking := range shifts {
		for _, single := range shifts {
			e := Encoding{GSM7, locking, single}
			if !e.exists() || !e.holds(s) {
				continue
			}
			n, left := e.measure(s)
			if best.Alphabet == UCS2 || n < fewest || n == fewest && (left > most || left == most && best.mixed() && !e.mixed()) {
				best, fewest, most = e, n, left
			}
		}
	}
	return best
}

// Encoder chooses the encoding of each text. The zero Encoder allows no
// national table. An Encoder is immutable and safe for concurrent use.
type Encoder struct{ sets [][]Shift }

// NewEncoder makes an encoder for texts to phones that show the tables of one
// of the sets. A set holds the tables that the phones of one language show, in
// the order in which Choose prefers them. Where the language of a text is not
// known, pass the sets of all languages: Encode takes the encoding that needs
// the fewest parts, of equals the one of the first set.
func NewEncoder(sets ...[]Shift) Encoder { return Encoder{sets} }

// Encoded is a text with the encoding chosen for it. Choose the encoding once
// and hand the value on: whoever counts, prices or sends the text then agrees.
type Encoded struct {
	Text     string
	Encoding Encoding
	Segments int // SMS parts, with the 8-bit references that Split numbers them by; 0 for the empty text
}

// Encode chooses the encoding of s and counts its parts.
func (e Encoder) Encode(s string) Encoded {
	best := encodeIn(s, nil)
	for i, set := range e.sets {
		if best.Encoding == unshifted {
			break // the default alphabet goes first
		}
		other := encodeIn(s, set)
		if i == 0 || other.Segments < best.Segments {
			best = other
		}
	}
	return best
}

func encodeIn(s string, allowed []Shift) Encoded {
	e := Choose(s, allowed)
	n, _ := e.measure(s)
	return Encoded{s, e, n}
}

// measure counts the parts of s and what the last of them has left, in
// septets or 16-bit units.
func (e Encoding) measure(s string) (n, left int) {
	for _, used := range e.pieces(s, Reference{}) {
		n, left = n+1, used
	}
	return n, e.room(len(e.header(Reference{}, n, n))) - left
}

// pieces cuts s into what each part carries, with its septets or units. An
// escaped symbol and a surrogate pair stay in one part (TS 23.040, clause
// 9.2.3.24.1), so a part may be left one short. All of s must be in e.
func (e Encoding) pieces(s string, ref Reference) iter.Seq2[string, int] {
	return func(yield func(string, int) bool) {
		if s == "" {
			return
		}
		room := e.room(len(e.header(ref, 1, 1)))
		if n, _ := e.units(s); n > room {
			room = e.room(len(e.header(ref, 1, 2)))
		}
		start, used := 0, 0
		for i, r := range s {
			w := e.width(r)
			if used+w > room {
				if !yield(s[start:i], used) {
					return
				}
				start, used = i, 0
			}
			used += w
		}
		yield(s[start:], used)
	}
}

// holds reports whether every character of s is in e.
func (e Encoding) holds(s string) bool {
	_, ok := e.units(s)
	return ok
}

// units counts the septets or 16-bit units of s; ok is false where a character
// is not in e.
func (e Encoding) units(s string) (n int, ok bool) {
	for _, r := range s {
		w := e.width(r)
		if w == 0 {
			return 0, false
		}
		n += w
	}
	return n, true
}

// usual are the widths, without national tables, of the characters that texts
// are mostly made of: every screen is measured, and a table is quicker to look
// up than a map.
var usual = func() (widths [0x100]uint8) {
	for r := range rune(len(widths)) {
		if _, ok := lockingPages[0].codes[r]; ok {
			widths[r] = 1
		} else if _, ok := singlePages[0].codes[r]; ok {
			widths[r] = 2
		}
	}
	return widths
}()

// width is the length of r in septets or 16-bit units; 0 where it is not in e.
func (e Encoding) width(r rune) int {
	if e == unshifted && r >= 0 && int(r) < len(usual) {
		return int(usual[r])
	}
	if e.Alphabet == UCS2 {
		return utf16.RuneLen(r)
	}
	if _, ok := lockingPages[e.Locking].codes[r]; ok {
		return 1
	}
	if _, ok := singlePages[e.Single].codes[r]; ok {
		return 2
	}
	return 0
}

// encode writes s in septets. It fails with ErrAlphabet.
func (e Encoding) encode(s string) ([]byte, error) {
	septets := make([]byte, 0, len(s))
	locking, single := lockingPages[e.Locking].codes, singlePages[e.Single].codes
	for _, r := range s {
		if c, ok := locking[r]; ok {
			septets = append(septets, c)
		} else if c, ok := single[r]; ok {
			septets = append(septets, escape, c)
		} else if e == unshifted {
			return nil, fmt.Errorf("text: %q: %w", r, ErrAlphabet)
		} else {
			return nil, fmt.Errorf("text: %q in %s: %w", r, e, ErrAlphabet)
		}
	}
	return septets, nil
}

// decode reads septets as a phone does: an escape before a code that the
// extension table lacks shows the code's symbol of the main table; an escape
// before an escape, or at the end, shows a space (clause 6.2.1.1 and its note).
// Where a locking table has no symbol it shows U+FFFD.
func (e Encoding) decode(septets []byte) string {
	locking, single := &lockingPages[e.Locking].symbols, &singlePages[e.Single].symbols
	shown := make([]rune, 0, len(septets))
	for i := 0; i < len(septets); i++ {
		r := locking[septets[i]]
		if septets[i] == escape {
			i++
			if i == len(septets) || septets[i] == escape {
				r = ' '
			} else if r = single[septets[i]]; r == 0 {
				r = locking[septets[i]]
			}
		}
		if r == 0 {
			r = '\uFFFD'
		}
		shown = append(shown, r)
	}
	return string(shown)
}
