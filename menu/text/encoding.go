package text

import (
	"fmt"
	"iter"
	"unicode/utf16"
)

// Encoding says how a whole text is coded. In the GSM 7-bit alphabet a national language table may replace the default
// alphabet (Locking) or its extension table (Single); 0 = not replaced.
type Encoding struct {
	Alphabet        Alphabet
	Locking, Single Shift
}

// unshifted is the default alphabet with its extension table, without national language tables.
var unshifted = Encoding{Alphabet: GSM7}

// String returns a name of the encoding, such as "gsm7", "ucs2" or "gsm7, Hindi locking and single shift".
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

// valid reports whether TS 23.038 defines the alphabet and the national tables of e.
func (e Encoding) valid() bool {
	switch e.Alphabet {
	case GSM7:
		return e.Locking <= Urdu && lockingPages[e.Locking] != nil && e.Single <= Urdu && singlePages[e.Single] != nil
	case UCS2:
		return e.Locking == 0 && e.Single == 0
	}
	return false
}

// mixed reports whether e has a locking and a single shift table of two different languages.
func (e Encoding) mixed() bool { return e.Locking != 0 && e.Single != 0 && e.Locking != e.Single }

// choose returns the encoding for s. If the default alphabet has every character of s, choose returns the default
// alphabet. Otherwise it tries each pair of a locking and a single shift table from allowed, where either may be
// absent. It returns the pair with which s needs the fewest SMS parts; the parts are counted with 8-bit references. If
// no pair has every character, it returns UCS-2. If several pairs need the same number of parts, choose prefers the
// most room in the last part, then a pair of a single language, then the pair that comes first in allowed.
//
// National tables are used only if they are in allowed. A phone that does not know a table shows wrong letters, and the
// sender cannot find out which tables a phone knows. So the operator allows only the tables that the phones in the
// region are known to support. choose ignores a language in allowed that has no tables.
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

// Encoder chooses the encoding of each text. The zero Encoder never uses national tables. An Encoder does not change
// and is safe for concurrent use.
type Encoder struct{ sets [][]Shift }

// NewEncoder makes an encoder that may use the national tables of the sets. Each set has the tables that are allowed
// for one language, the preferred table first. If the language of a text is unknown, pass the sets of all languages.
// Encode then uses the set with which the text needs the fewest parts, and of equal sets the first.
func NewEncoder(sets ...[]Shift) Encoder { return Encoder{sets} }

// Encoded is a text and its encoding. The encoding is chosen only once, so that a text is charged and sent in the same
// encoding.
type Encoded struct {
	Text     string
	Encoding Encoding
	Segments int // number of SMS parts with 8-bit references; 0 for the empty text
}

// Encode chooses the default alphabet if it has every character of s, otherwise the encoding with which s needs the
// fewest SMS parts. Encode also counts these parts.
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

// segments counts the parts of s. left is how many septets or 16-bit units are free in the last part.
func (e Encoding) segments(s string) (n, left int) {
	for _, used := range e.cut(s, Reference{}) {
		n, left = n+1, used
	}
	return n, e.capacity(len(e.header(Reference{}, n, n))) - left
}

// cut yields the text of each SMS part of s, and the length of this text in septets or 16-bit units. cut never divides
// a character of the extension table or a surrogate pair between two parts (TS 23.040, clause 9.2.3.24.1), so one
// septet or unit of a part may stay unused. e must have every character of s.
func (e Encoding) cut(s string, ref Reference) iter.Seq2[string, int] {
	return func(yield func(string, int) bool) {
		if s == "" {
			return
		}
		if n, _ := e.units(s); n <= e.capacity(len(e.header(ref, 1, 1))) {
			yield(s, n)
			return
		}
		room := e.capacity(len(e.header(ref, 1, 2)))
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

// covers reports whether the encoding e has every character of s.
func (e Encoding) covers(s string) bool {
	_, ok := e.units(s)
	return ok
}

// units counts the septets or 16-bit units of s. ok is false if e lacks a character of s.
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

// commonWidths has the widths of the first 256 characters of Unicode in the encoding without national tables. Most
// texts have only these characters, and an array is faster than a map.
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

// width returns how many septets or 16-bit units the character r needs, or 0 if e lacks r.
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

// encode converts s to septets. encode returns ErrAlphabet if e lacks a character of s.
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

// decode reads septets as a phone does (3GPP TS 23.038, clause 6.2.1.1 and its note). If the extension table lacks the
// code after an escape, the character with this code in the main table is read. An escape before another escape or at
// the end is read as a space. A code without a character is read as U+FFFD.
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
