package answer

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/hbollon/go-edlib"

	"rowbell/menu/text"
)

// Sense is what a word or a phrase means in a short answer. The catalogue lists the words of each sense.
type Sense string

// These senses mean the same in every question. All other senses belong to the questions in which they are answers.
const (
	SenseYes    Sense = "yes"
	SenseNo     Sense = "no"   // no, not: says no, or denies what stands beside it
	SenseDone   Sense = "done" // also a tick
	SenseNotYet Sense = "not-yet"
	SenseOr     Sense = "or"        // makes an answer unclear
	SenseBefore Sense = "yesterday" // the day before
	SensePart   Sense = "part"      // a part, without saying how much
	SenseHalf   Sense = "half"
	SenseQuart  Sense = "quarter"
	SenseMost   Sense = "three-quarters"
	SenseLeft   Sense = "remains"   // weeds are left: it answers another question than "weeded?"
	SenseWith   Sense = "with-me"   // with my wife: more people worked, without saying how many
	SenseWho    Sense = "who"       // asks who sends the texts
	SenseAgain  Sense = "replanted" // the plot was planted again
	SenseThanks Sense = "thanks"    // thanks, all right: words that need no answer
	SenseStop   Sense = "stop"      // the grower wants no more texts
	SensePolite Sense = "polite"
	SenseAbout  Sense = "about" // words that go with a number of hours: it took, about
	SenseField  Sense = "field" // a thing: a number beside it counts or names it, and is no answer
	SenseOther  Sense = "other" // words that mean something else, and are one letter from a word that is listed
)

// shares are the parts of a plot for which there are words.
var shares = map[Sense]float64{SenseHalf: 0.5, SenseQuart: 0.25, SenseMost: 0.75}

// numerals are the senses of the words for the numbers 1 to 9, in this order.
var numerals = []Sense{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// numeral returns the digit that a word for a number stands for, or 0.
func numeral(senses []Sense) byte {
	for i, s := range numerals {
		if slices.Contains(senses, s) {
			return '1' + byte(i)
		}
	}
	return 0
}

// Senses lists the senses whose words the catalogue must have, besides those of single questions.
func Senses() []Sense {
	return append([]Sense{SenseYes, SenseNo, SenseDone, SenseNotYet, SenseOr, SenseBefore, SensePart, SenseHalf,
		SenseQuart, SenseMost, SenseLeft, SenseWith, SenseWho, SenseAgain, SenseThanks, SenseStop, SensePolite,
		SenseAbout, SenseField, SenseOther}, numerals...)
}

// Vocabulary has the words and phrases of all senses, in all languages at once. It does not change.
type Vocabulary struct {
	phrases phrases
	longest int               // the number of words of the longest phrase
	single  map[rune][]string // phrases of one word of minSlip letters and more, by their first letter
}

// phrases has the senses of each phrase. A phrase is folded, and a single space is between its words.
type phrases map[string][]Sense

// add adds a phrase in the form in which a text is divided into words. Of a phrase of several words, add also adds the
// form without spaces.
func (p phrases) add(phrase string, s Sense) {
	var words []string
	for _, w := range divide(phrase) {
		words = append(words, w.text)
	}
	forms := []string{strings.Join(words, " ")}
	joined := strings.Join(words, "")
	if len(words) > 1 && utf8.RuneCountInString(joined) >= minJoined && !HasDigit(joined) {
		forms = append(forms, joined)
	}
	for _, f := range forms {
		if f != "" && !slices.Contains(p[f], s) {
			p[f] = append(p[f], s)
		}
	}
}

// These limits keep short words, of which many resemble each other, from being taken for another word (judgement).
const (
	minJoined = 6 // letters of a phrase that is read without its spaces
	minSlip   = 5 // letters of a word that is read with one letter wrong
	minHalf   = 3 // letters of each of two words that are read without the space between them
	maxLetter = 30
	maxWords  = 30 // a longer text is no short answer
)

// NewVocabulary makes a vocabulary from the phrases of each sense.
func NewVocabulary(said map[Sense][]string) *Vocabulary {
	v := &Vocabulary{phrases: phrases{}, single: map[rune][]string{}}
	for s, list := range said {
		for _, phrase := range list {
			v.phrases.add(phrase, s)
		}
	}
	for p := range v.phrases {
		v.longest = max(v.longest, 1+strings.Count(p, " "))
		if r, _ := utf8.DecodeRuneInString(p); !strings.Contains(p, " ") && utf8.RuneCountInString(p) >= minSlip {
			v.single[r] = append(v.single[r], p)
		}
	}
	return v
}

// word is a part of a text: a word, a number or a sign.
type word struct {
	text  string
	after bool // a comma, a full stop or the like is between the word before and this word
}

var (
	percent      = regexp.MustCompile(`(\d+) ?%`)
	fractionForm = regexp.MustCompile(`(^|[^\d/])([1-3]/[234])($|[^\d/])`)
	parts        = regexp.MustCompile(`\d+(?:[.,:/x*-]\d+)*|[\p{L}\p{M}]+|[^\s]`)
)

const (
	boundary  = ".,;:!|"
	questions = "?❓❔¿"
)

// partSign stands for a part that has no word; the maps have the signs of the others.
const partSign = "⅓"

var (
	ofPercent  = map[string]string{"25": "¼", "50": "½", "75": "¾", "100": " "}
	ofFraction = map[string]string{"1/4": "¼", "1/2": "½", "2/4": "½", "3/4": "¾"}
)

// signs are the pictures and signs that answer by themselves.
var signs = map[string]Sense{
	"👍": SenseYes, "👎": SenseNo, "✅": SenseDone, "✔": SenseDone, "☑": SenseDone, "✓": SenseDone, "❌": SenseNo,
	"✖": SenseNo, "✗": SenseNo, "✘": SenseNo, "½": SenseHalf, "¼": SenseQuart,
	"¾": SenseMost, partSign: SensePart,
}

// divide divides a text into folded words, numbers and signs. Punctuation is left out.
func divide(s string) (words []word) {
	s = strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune("'’‘`´", r), unicode.Is(unicode.Variation_Selector, r), r == '\u20E3':
			return -1 // don't is dont; the marks that make a digit or a tick a picture do not count
		case r >= '\U0001F3FB' && r <= '\U0001F3FF': // the colour of a hand
			return -1
		}
		return r
	}, foldDigits(strings.ToValidUTF8(s, " ")))
	if strings.Contains(s, "%") { // most texts have none, and the expressions cost more than the rest
		s = percent.ReplaceAllStringFunc(s, func(p string) string {
			return cmp.Or(ofPercent[strings.TrimRight(p, " %")], partSign)
		})
	}
	if strings.Contains(s, "/") {
		if f := fractionForm.FindStringSubmatchIndex(s); f != nil {
			s = s[:f[4]] + " " + cmp.Or(ofFraction[s[f[4]:f[5]]], partSign) + " " + s[f[5]:]
		}
	}
	after := false
	for _, p := range parts.FindAllString(text.Fold(s), -1) {
		r, _ := utf8.DecodeRuneInString(p)
		switch {
		case strings.Contains(boundary, p):
			after = true
		case unicode.IsLetter(r), unicode.IsDigit(r), strings.Contains(questions, p), signs[p] != "":
			words = append(words, word{p, after})
			after = false
		}
	}
	return words
}

// heard is a phrase that was recognised in a text.
type heard struct {
	senses []Sense // empty: not recognised
	text   string
	digit  byte // the digit, if the phrase is one; 0 otherwise
	after  bool // as in word
	many   bool // the phrase has several words
	thing  bool // one of them is of SenseField
}

// recognise divides a text into the longest phrases that the vocabulary or own has.
func (v *Vocabulary) recognise(s string, own phrases) (all []heard) {
	words := divide(s)
	longest := v.longest
	for p := range own {
		longest = max(longest, 1+strings.Count(p, " "))
	}
	for i := 0; i < len(words); {
		h, n := v.phraseAt(words[i:min(len(words), i+longest)], own)
		if n > 0 {
			all = append(all, h)
			i += n
			continue
		}
		all = append(all, v.unlisted(words[i])...)
		i++
	}
	return all
}

// phraseAt returns the longest phrase with which the words begin, and its number of words; 0 if there is none.
func (v *Vocabulary) phraseAt(words []word, own phrases) (heard, int) {
	for n := len(words); n > 0; n-- {
		list := make([]string, n)
		apart := false
		for i, w := range words[:n] {
			list[i] = w.text
			apart = apart || i > 0 && w.after
		}
		phrase := strings.Join(list, " ")
		senses := own[phrase]
		if !apart { // "not yet, done" has not the phrase "not yet done"
			senses = slices.Concat(senses, v.phrases[phrase])
		}
		if len(senses) > 0 {
			h := heard{senses: senses, text: phrase, after: words[0].after, many: n > 1}
			h.thing = slices.ContainsFunc(list, func(w string) bool {
				return slices.Contains(v.phrases[w], SenseField)
			})
			if n == 1 && len(phrase) == 1 && isDigit(phrase[0]) {
				h.digit = phrase[0]
			}
			return h, n
		}
	}
	return heard{}, 0
}

// unlisted reads a word that is not listed: a digit, a sign, two listed words without a space between them, or a listed
// word with one letter wrong.
func (v *Vocabulary) unlisted(w word) []heard {
	h := heard{text: w.text, after: w.after}
	n := utf8.RuneCountInString(w.text)
	switch {
	case len(w.text) == 1 && isDigit(w.text[0]):
		h.digit = w.text[0]
		return []heard{h}
	case signs[w.text] != "":
		h.senses = []Sense{signs[w.text]}
		return []heard{h}
	case n > maxLetter || isDigit(w.text[0]):
		return []heard{h}
	}
	letters := []rune(w.text)
	for i := minHalf; i <= n-minHalf; i++ {
		first, second := string(letters[:i]), string(letters[i:])
		if a, b := v.phrases[first], v.phrases[second]; len(a) > 0 && len(b) > 0 && numeral(a)+numeral(b) == 0 {
			return []heard{{senses: a, text: first, after: w.after}, {senses: b, text: second}}
		}
	}
	for _, listed := range v.single[letters[0]] { // a slip in the first letter is rare, and makes other words
		size := utf8.RuneCountInString(listed)
		if n >= minSlip && size >= n-1 && size <= n+1 && edlib.OSADamerauLevenshteinDistance(w.text, listed) == 1 {
			h.senses = append(h.senses, v.phrases[listed]...)
		}
	}
	return []heard{h}
}
