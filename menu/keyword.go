package menu

import (
	"slices"
	"strings"
	"unicode"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// keyword is a word that works at any moment of a text.
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
	"words.stop": wordStop, "words.start": wordStart, "words.help": wordHelp, "words.menu": wordMenu, "words.language": wordLanguage,
}

// command is a keyword and the language that alone has the word, "" if several
// do or growers are not offered it.
type command struct {
	kind keyword
	lang string
}

// commands are the keywords of every language, folded, also of those that are
// not offered: whoever says stop in any of them means it. The catalogue sees to
// it that no two kinds share a word.
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

// keyword recognises one: the whole text or its first word, whatever the case,
// accents and punctuation; and the language that it is of.
func (m *Menu) keyword(entry string) (kind keyword, lang string) {
	c := m.words[firstWord(entry)]
	return c.kind, c.lang
}

// firstWord is an entry's, folded, without what stands around it.
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

// Stops says whether a text, outside of any dialogue, is the word to stop.
func (m *Menu) Stops(entry string) bool { return m.word(answer.Digits(entry)) == wordStop }

// word is the kind alone.
func (m *Menu) word(entry string) keyword {
	kind, _ := m.keyword(entry)
	return kind
}
