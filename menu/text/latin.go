package text

import (
	"strings"
	"unicode"
)

// Latin writes names that are in one of nine scripts of South Asia in Latin letters without accents, so that phones
// that show only the GSM 7-bit alphabet can show the names. Other characters stay as they are. The letters follow the
// Hunterian system, the national system of romanization in India (from memory).
func Latin(s string) string {
	var b strings.Builder
	letters := []rune(s)
	for i, r := range letters {
		o := indic(r)
		switch {
		case o < 0:
			b.WriteRune(r)
		case o >= digitZero:
			b.WriteByte('0' + byte(o-digitZero))
		case !isConsonant(o):
			b.WriteString(indicLetters[o])
		default:
			next := indicAt(letters, i+1)
			sound := indicLetters[o]
			if with := withNukta[o]; next == nuktaSign {
				next = indicAt(letters, i+2)
				if with != "" {
					sound = with
				}
			}
			b.WriteString(sound)
			if isSign := next >= firstSign && next <= virama; !isSign && !(next < 0 && mute(letters, i)) {
				b.WriteByte('a')
			}
		}
	}
	name := b.String()
	if len(letters) > 0 && indic(letters[0]) >= 0 && name != "" {
		return strings.ToUpper(name[:1]) + name[1:]
	}
	return name
}

// Unicode has the letters of these scripts in the same order, in blocks of 128 characters that begin at U+0900:
// Devanagari, Bengali, Gurmukhi, Gujarati, Oriya, Tamil, Telugu, Kannada, Malayalam. The numbers below are places in a
// block.
const (
	firstIndic, lastIndic = 0x0900, 0x0D7F
	firstSign             = 0x3E // first sign of a vowel that follows a consonant
	nuktaSign             = 0x3C // the dot that makes another consonant
	virama                = 0x4D // the sign that a consonant has no vowel
	digitZero             = 0x66
	lastDigit             = 0x6F
)

// indicLetters has the Latin letters of each place in a block; "" stands for signs without a sound.
var indicLetters = func() (all [digitZero]string) {
	for place, row := range map[int]string{
		0x01: "n n h a a a i i u u ri li e e e ai o o o au",
		0x15: "k kh g gh n ch chh j jh n t th d dh n t th d dh n n p ph b bh m y r r l l l v sh sh s h",
		0x3E: "a i i u u ri ri e e e ai o o o au",
		0x4E: "t", // the Bengali letter khanda ta
		0x58: "q kh gh z r rh f y ri li li li",
	} {
		for i, letters := range strings.Fields(row) {
			all[place+i] = letters
		}
	}
	return all
}()

var withNukta = map[int]string{0x15: "q", 0x1C: "z", 0x21: "r", 0x22: "rh", 0x2B: "f"}

// indic returns the place of a character in its block, or -1 if the character is of no such script.
func indic(r rune) int {
	place := int(r % 0x80)
	if r < firstIndic || r > lastIndic || place > lastDigit || !unicode.In(r, unicode.L, unicode.M, unicode.Nd) {
		return -1
	}
	return place
}

func indicAt(letters []rune, i int) int {
	if i >= len(letters) {
		return -1
	}
	return indic(letters[i])
}

func isConsonant(place int) bool {
	return place >= 0x15 && place <= 0x39 || place >= 0x58 && place <= 0x5F
}

// mute reports whether the consonant i, which ends a word, is spoken without its vowel. In the scripts of the north it
// is, if the word has another letter.
func mute(letters []rune, i int) bool {
	return i > 0 && indic(letters[i-1]) >= 0 &&
		unicode.In(letters[i], unicode.Devanagari, unicode.Bengali, unicode.Gurmukhi, unicode.Gujarati)
}
