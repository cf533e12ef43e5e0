package text

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
)

// commandWords are the texts whose words work at any moment, in every language.
var commandWords = []Key{"words.stop", "words.start", "words.help", "words.menu", "words.language"}

// AllWords maps the words of a text of [words], folded, to the language that has
// them; to "" where several do. They are those of every language that the files
// hold, offered by Only or not: whoever says stop in any of them is to be heard.
func (c *Catalogue) AllWords(k Key) map[string]string { return maps.Clone(c.words[k]) }

// command is a word that works at any moment.
type command struct {
	key  Key
	word string // as it was met first
	in   *sheet
}

func (c command) at() place { return c.in.places()[string(c.key)] }

// commands checks the words that work at any moment: a word in one language
// must not be another command in a second one, nor an answer in any. They are
// compared as they will be when they are typed, folded. It gives AllWords.
func commands(sheets []*sheet) map[Key]map[string]string {
	known := map[string]command{}
	all := map[Key]map[string]string{}
	for _, k := range commandWords {
		all[k] = map[string]string{}
	}
	for _, s := range sheets {
		for _, k := range commandWords {
			for _, w := range s.command(k) {
				folded := Fold(w)
				was, ok := known[folded]
				if !ok {
					known[folded] = command{k, w, s}
				} else if was.key != k {
					s.fail(Clash, string(k), "%s stands for %s too, at %s", alike(w, was.word), was.key, was.at())
					continue
				}
				lang := s.tag
				if had, ok := all[k][folded]; ok && had != lang {
					lang = ""
				}
				all[k][folded] = lang
			}
		}
	}
	for _, s := range sheets {
		for _, folded := range sortedKeys(known) {
			if c := known[folded]; s.lang.typed.has(folded) {
				s.fail(Clash, "calendar", "%q stands for a day or a month and for %s, at %s", c.word, c.key, c.at())
			}
		}
	}
	return all
}

// command is the words of a command in one language, in both spellings.
func (s *sheet) command(k Key) []string {
	e, ok := s.lang.texts[k]
	if !ok {
		return nil
	}
	if e.forms != nil || len(e.single) != 1 || e.single[0].arg != "" {
		s.fail(Faulty, string(k), "must be plain words, with spaces between them")
		return nil
	}
	var good []string
	for w := range strings.FieldsSeq(strings.ToLower(e.single[0].proper + " " + e.single[0].words)) {
		if !slices.Contains(good, w) {
			good = append(good, w)
		}
	}
	return slices.DeleteFunc(good, func(w string) bool {
		strange := strings.ContainsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) })
		if strange {
			s.fail(Faulty, string(k), "%q is not of letters alone: it could not be told from an answer, or from its neighbour", w)
		}
		return strange
	})
}

// alike shows a word, and one that is the same without its accents.
func alike(w, other string) string {
	if w == other {
		return fmt.Sprintf("%q", w)
	}
	return fmt.Sprintf("%q, which is %q without accents,", w, other)
}
