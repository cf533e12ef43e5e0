package text

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Fold writes words as they are compared when somebody types them: in small
// letters, without accents, and Devanagari in one of its spellings. What it
// gives is not for reading.
func Fold(s string) string {
	s = strings.ToLower(s)
	if strings.IndexFunc(s, func(r rune) bool { return r > unicode.MaxASCII }) < 0 {
		return s
	}
	s = strings.Map(func(r rune) rune {
		if r >= '\u0300' && r <= '\u036F' || r == nukta {
			return -1
		}
		return r
	}, norm.NFD.String(s))
	return devanagariNasals.Replace(devanagariLetters.Replace(s))
}

const nukta = '\u093C' // the dot of फ़, which phones and people leave out

// devanagariLetters writes one sign of Devanagari for those that are written for each
// other: long and short vowels, retroflex and dental t, b and v; devanagariNasals does
// so for a nasal before its consonant. So सितंबर and सितम्बर, अक्टूबर and अक्तूबर, घंटे and
// घण्टे are one word each. Common practice, no source.
var (
	devanagariLetters = strings.NewReplacer("ी", "ि", "ू", "ु", "ई", "इ", "ऊ", "उ", "ै", "े", "ऐ", "ए", "ट", "त", "व", "ब", "ँ", "ं")
	devanagariNasals  = strings.NewReplacer("म्ब", "ंब", "म्प", "ंप", "म्भ", "ंभ", "ण्त", "ंत", "ण्ड", "ंड", "न्त", "ंत", "न्द", "ंद")
)
