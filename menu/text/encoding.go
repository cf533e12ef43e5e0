package text

import (
	"fmt"
	"iter"
	"unicode/utf16"
)

// Encoding says how a whole text is coded: its alphabet and, in the GSM 7-bit alphabet, the national language tables
// that replace the default alphabet (Locking) and its extension table (Single); 0 = not replaced.
type Encoding struct {
	Alphabet        Alphabet
	Locking, Single Shift
}

// unshifted is the default alphabet with its extension table, without national tables.
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

// valid reports whether TS 23.038 has the alphabet and the national tables of e.
func (e Encoding) valid() bool {
	switch e.Alphabet {
	case GSM7:
		return e.Locking <= Urdu && lockingPages[e.Locking] != nil && e.Single <= Urdu && singlePages[e.Single] != nil
	case UCS2:
		return e.Locking == 0 && e.Single == 0
	}
	return false
}

// mixed reports whether the locking and the single shift table of e are of different languages.
func (e Encoding) mixed() bool { return e.Locking != 0 && e.Single != 0 && e.Locking != e.Single }

// choose picks the encoding for s: the default alphabet if it covers s; else the pair of allowed national tables that
// needs the fewest parts (with 8-bit references); else UCS-2. Of pairs that need equally many parts it takes the one
// with the most room left in the last part, then one of a single language, then the first in allowed.
//
// Tables are used only if allowed, because a phone that does not know a table shows wrong letters, and the sender
// cannot find out what a phone knows: the operator allows the tables that phones were seen to show. An allowed language
// that has no tables is ignored.
func choose(s string, allowed []Shift) Encoding {
	if unshifted.covers(s) {
		return unshifted
	}
	best := Encoding{Alphabet: UCS2}
	var fewest, most int
	shifts := append([]Shift{0}, allowed...)
	for _, locking := range shifts {
		for _, single := range shifts {
			e := Encoding{GSM7, locking, single}
			if !e.valid() || !e.covers(s) {
				continue
			}
			n, left := e.segments(s)
			roomier := left > most || left == most && best.mixed() && !e.mixed()
			if best.Alphabet == UCS2 || n < fewest || n == fewest && roomier {
				best, fewest, most = e, n, left
			}
		}
	}
	return best
}

// Encoder chooses the encoding of each text. The zero Encoder allows no
// national table. An Encoder is immutable and safe for concurrent use.
type Encoder struct{ sets [][]Shift }

// NewEncoder makes an encoder that may use the national tables of the sets. A set holds the tables allowed for one
// language, preferred ones first. Where the language of a text is not known, pass the sets of all languages: Encode
// takes the encoding with the fewest parts, and of equals that of the first set.
func NewEncoder(sets ...[]Shift) Encoder { return Encoder{sets} }

// Encoded is a text with the encoding chosen for it. The encoding is chosen once and passed on, so that a text is
// charged and sent in the same encoding.
type Encoded struct {
	Text     string
	Encoding Encoding
	Segments int // SMS parts, counted with 8-bit references; 0 for the empty text
}

// Encode chooses the encoding of s and counts its parts.
func (e Encoder) Encode(s string) Encoded {
	best := encodeIn(s, nil)
	for i, set := range e.sets {
		if best.Encoding == unshifted {
			break // a text in the default alphabet needs no national table
		}
		other := encodeIn(s, set)
		if i == 0 || other.Segments < best.Segments {
			best = other
		}
	}
	return best
}

func encodeIn(s string, allowed []Shift) Encoded {
	e := choose(s, allowed)
	n, _ := e.segments(s)
	return Encoded{s, e, n}
}

// segments counts the parts of s and the room left in the last one, in septets or 16-bit units.
func (e Encoding) segments(s string) (n, left int) {
	for _, used := range e.cut(s, Reference{}) {
		n, left = n+1, used
	}
	return n, e.capacity(len(e.header(Reference{}, n, n))) - left
}

// cut yields the text of each SMS part of s, with its length in septets or 16-bit units. It never divides an escaped
// character or a surrogate pair (TS 23.040, clause 9.2.3.24.1), so one septet or unit of a part may stay free. e must
// cover s.
func (e Encoding) cut(s string, ref Reference) iter.Seq2[string, int] {
	return func(yield func(string, int) bool) {
		if s == "" {
			return
		}
		room := e.capacity(len(e.header(ref, 1, 1)))
		if n, _ := e.units(s); n > room {
			room = e.capacity(len(e.header(ref, 1, 2)))
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

// covers reports whether e has every character of s.
func (e Encoding) covers(s string) bool {
	_, ok := e.units(s)
	return ok
}

// units counts the septets or 16-bit units of s; ok is false if e lacks a character.
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

// commonWidths holds the widths of the first 256 characters without national
// tables: most texts consist of them, and an array is faster than a map.
var commonWidths = func() (widths [0x100]uint8) {
	for r := range rune(len(widths)) {
		if _, ok := lockingPages[0].codes[r]; ok {
			widths[r] = 1
		} else if _, ok := singlePages[0].codes[r]; ok {
			widths[r] = 2
		}
	}
	return widths
}()

// width is the length of r in septets or 16-bit units; 0 if e lacks it.
func (e Encoding) width(r rune) int {
	if e == unshifted && r >= 0 && int(r) < len(commonWidths) {
		return int(commonWidths[r])
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

// encode converts s to septets. It fails with ErrAlphabet.
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

// decode reads septets as a phone does (clause 6.2.1.1 and its note): a code after an escape that the extension table
// lacks is read from the main table, and an escape before another one or at the end is a space. A code without a
// character is read as U+FFFD.
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
