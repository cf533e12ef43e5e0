package menu

import (
	"slices"
	"strings"
	"unicode"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// keyword is a word such as STOP, which works in any text, whatever the menu has asked.
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

// commands returns the keywords of every language; the key of the map is the folded word. Languages that the menu does
// not offer are included, because a STOP must work in any language. No word has two kinds: such a catalogue cannot be
// loaded.
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

// keyword returns the kind and the language of the keyword with which the text begins. The kind is wordNone if the
// first word is no keyword. Case, accents and punctuation do not matter.
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

// Stops reports whether a text ends all texts: it begins with STOP or another word that means STOP, in any language, or
// it says in other words that no more texts are wanted. Callers that do not know the state of the phone's dialogue use
// it.
func (m *Menu) Stops(entry string) bool {
	return m.word(answer.Digits(entry)) == wordStop || m.spoken().Stops(entry)
}

// word returns the kind of the keyword with which the entry begins, or wordNone.
func (m *Menu) word(entry string) keyword {
	kind, _ := m.keyword(entry)
	return kind
}
