package menu

import (
	"slices"
	"strings"
	"unicode"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// keyword is a word that works in any text, whatever question is open.
type keyword uint8

const (
	wordNone keyword = iota
	wordStop
	wordStart
	wordHelp
	wordMenu
	wordLanguage
)

var keywordTexts = map[text.Key]keyword{
	"words.stop": wordStop, "words.start": wordStart, "words.help": wordHelp, "words.menu": wordMenu,
	"words.language": wordLanguage,
}

// command is a keyword with its language. The language is "" if several languages have the word, or if the menu does
// not offer the language.
type command struct {
	kind keyword
	lang string
}

// commands collects the folded keywords of every language. Languages that the menu does not offer are included, because
// a STOP must work in any language. A word has only one kind, because a catalogue with a word of two kinds does not
// load.
func commands(cat *text.Catalogue) map[string]command {
	words := map[string]command{}
	for k, kind := range keywordTexts {
		for w, lang := range cat.AllWords(k) {
			if !slices.Contains(cat.Languages(), lang) {
				lang = ""
			}
			words[w] = command{kind, lang}
		}
	}
	return words
}

// keyword looks for a keyword that is the whole text or the first word of the text. Case, accents and punctuation do
// not matter. It also returns the keyword's language.
func (m *Menu) keyword(entry string) (kind keyword, lang string) {
	c := m.words[firstWord(entry)]
	return c.kind, c.lang
}

// firstWord returns the first word of an entry, folded, without punctuation.
func firstWord(entry string) string {
	mark := func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) && r != '\''
	}
	first := strings.TrimLeftFunc(text.Fold(entry), mark)
	if i := strings.IndexFunc(first, mark); i > 0 {
		first = first[:i]
	}
	return first
}

// Stops reports whether a text is a STOP. It is for callers that do not know the state of the phone's dialogue.
func (m *Menu) Stops(entry string) bool { return m.word(answer.Digits(entry)) == wordStop }

// word returns the kind of a keyword without its language.
func (m *Menu) word(entry string) keyword {
	kind, _ := m.keyword(entry)
	return kind
}
