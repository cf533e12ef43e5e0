package proof

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"rowbell/menu"
	"rowbell/menu/text"
)

// answerDigit finds the digits in an English text that a grower may answer with, such as "1 done, 2 not yet".
var answerDigit = regexp.MustCompile(`(?:^|[\s(:,.])(0{1,3}|[1-9])(?: \p{L}| \{)`)

// loneDigit finds every number in a text that is no part of a date, a range, a size or a fraction.
var loneDigit = regexp.MustCompile(`[0-9][0-9.,*/-]*[0-9]|[0-9]`)

// commandWords are the texts that list the words which work at any moment, and what these words do.
var commandWords = []struct {
	key  text.Key
	does string
}{
	{"words.stop", "stops texts"}, {"words.start", "starts texts again"}, {"words.help", "asks for help"},
	{"words.menu", "opens the menu"},
}

// leftOut reports the texts of a language that do not tell what the built-in English text tells of answers: a digit
// that answers a reminder, a key, or the word for STOP. A grower could then not answer, or not get rid of the texts.
func leftOut(m *menu.Menu, lang string) ([]string, error) {
	english, err := text.Default()
	if err != nil {
		return nil, err
	}
	cat := m.SMSCatalogue()
	words := map[text.Key][]string{} // for each key of commandWords, the words of all languages
	for _, c := range commandWords {
		for _, tag := range m.Languages() {
			words[c.key] = append(words[c.key], strings.Fields(cat.Template(tag, c.key))...)
		}
	}
	var problems []string
	for _, k := range cat.Keys(lang) {
		group, _, _ := strings.Cut(string(k), ".")
		told, tells := english.Template(text.Source, k), cat.Template(lang, k)
		problem := func(format string, a ...any) {
			problems = append(problems,
				fmt.Sprintf("%s: %s: ", cat.Position(lang, k), k)+fmt.Sprintf(format, a...)+":\n"+tells)
		}
		if group == "ring" || group == "sms" || group == "keys" {
			has := loneDigit.FindAllString(tells, -1)
			for _, d := range answerDigit.FindAllStringSubmatch(told, -1) {
				if !slices.Contains(has, d[1]) {
					problem("leaves out the answer %s, which the English text has", d[1])
				}
			}
		}
		if group == "words" || group == "said" {
			continue
		}
		for _, c := range commandWords {
			own := strings.Fields(english.Template(text.Source, c.key))
			if hasWord(told, own) && !hasWord(tells, words[c.key]) {
				problem("leaves out the word that %s: %s", c.does, cat.Template(lang, c.key))
			}
		}
	}
	return problems, nil
}

// hasWord reports whether a text has one of these words, in capitals or as the words are written.
func hasWord(s string, words []string) bool {
	return slices.ContainsFunc(strings.FieldsFunc(s, func(r rune) bool {
		return !unicode.In(r, unicode.L, unicode.M, unicode.Nd)
	}), func(word string) bool { return slices.Contains(words, word) })
}
