package text

import (
	"maps"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/feature/plural"
)

// typed are the words that a grower may type in a language, in small letters
// and in both of its spellings.
type typed struct {
	months map[string]time.Month
	days   map[string]int
}

// MonthWords maps every word for a month that a grower may type, in lower
// case, to the month.
func (c *Catalogue) MonthWords(lang string) map[string]time.Month {
	return maps.Clone(c.language(lang).typed.months)
}

// DayWords maps every word for today (0) and yesterday (-1) that a grower may
// type, in lower case.
func (c *Catalogue) DayWords(lang string) map[string]int {
	return maps.Clone(c.language(lang).typed.days)
}

// AllMonthWords are the MonthWords of a language and those of all others that
// say nothing else in it. What means two months in two other languages is left
// out.
func (c *Catalogue) AllMonthWords(first string) map[string]time.Month {
	return all(c, first, func(t typed) map[string]time.Month { return t.months })
}

// AllDayWords are the DayWords, as AllMonthWords.
func (c *Catalogue) AllDayWords(first string) map[string]int {
	return all(c, first, func(t typed) map[string]int { return t.days })
}

func all[V comparable](c *Catalogue, first string, words func(typed) map[string]V) map[string]V {
	own := c.language(first).typed
	out, doubtful := map[string]V{}, map[string]bool{}
	for tag, l := range c.languages {
		if tag == first {
			continue
		}
		for w, v := range words(l.typed) {
			if had, ok := out[w]; ok && had != v {
				doubtful[w] = true
			}
			out[w] = v
		}
	}
	for w := range out {
		if doubtful[w] || own.has(w) {
			delete(out, w)
		}
	}
	maps.Copy(out, words(own))
	return out
}

func (t typed) has(w string) bool {
	_, month := t.months[w]
	_, day := t.days[w]
	return month || day
}

// spellings are the words of a text, in small letters, each as it stands and as
// the rules write it. Dots around a word are not part of it.
func (s *sheet) spellings(words string) []string {
	var out []string
	for _, w := range strings.Fields(words + " " + s.lang.rules.write(words)) {
		w = strings.Trim(strings.ToLower(w), ".")
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// monthWords notes what a grower may type for each month. A word with a digit
// in it could not be told from a number, so it is left out.
func (s *sheet) monthWords(list []string, name string) {
	for i, words := range list {
		for _, w := range s.spellings(words) {
			if strings.ContainsFunc(w, unicode.IsNumber) {
				continue
			}
			m := time.Month(i + 1)
			if other, ok := s.lang.typed.months[w]; ok && other != m {
				s.fail(Clash, "calendar."+name, "%q stands for month %d and month %d", w, other, m)
			}
			s.lang.typed.months[w] = m
		}
	}
}

// dayWords notes what a grower may type for a day.
func (s *sheet) dayWords(t map[string]any, name string, day int) {
	v, ok := t[name]
	if !ok {
		return
	}
	key := "calendar." + name
	words, _ := v.(string)
	if strings.TrimSpace(words) == "" {
		s.fail(Faulty, key, "must be words, with spaces between them")
		return
	}
	words = s.letters(key, words)
	for _, w := range s.spellings(words) {
		switch other, ok := s.lang.typed.days[w]; {
		case strings.ContainsFunc(w, unicode.IsNumber):
			s.fail(Faulty, key, "%q has a digit in it: it could not be told from a date", w)
		case ok && other != day:
			s.fail(Clash, key, "%q stands for today and for yesterday", w)
		case s.lang.typed.months[w] != 0:
			s.fail(Clash, key, "%q stands for a month already", w)
		}
		s.lang.typed.days[w] = day
	}
}

// commandWords are the texts whose words work at any moment, in every language.
var commandWords = []Key{"words.stop", "words.start", "words.help", "words.menu", "words.language"}

// commands checks the words that work at any moment: a word in one language
// must not be another command in a second one, nor an answer in any.
func commands(sheets []*sheet) {
	type use struct {
		key Key
		at  place
	}
	known := map[string]use{}
	for _, s := range sheets {
		for _, k := range commandWords {
			e, ok := s.lang.proper.texts[k]
			if !ok {
				continue
			}
			if e.plural || len(e.args) > 0 {
				s.fail(Faulty, string(k), "must be plain words, with spaces between them")
				continue
			}
			at := s.places[string(k)]
			for _, p := range e.forms[plural.Other] {
				for _, w := range s.spellings(p.words) {
					if strings.ContainsFunc(w, unicode.IsNumber) {
						s.fail(Faulty, string(k), "%q has a digit in it: it could not be told from an answer", w)
					}
					if was, ok := known[w]; ok && was.key != k {
						s.fail(Clash, string(k), "%q stands for %s too, at %s", w, was.key, was.at)
						continue
					}
					known[w] = use{k, at}
				}
			}
		}
	}
	for _, s := range sheets {
		for _, w := range slices.Sorted(maps.Keys(known)) {
			if s.lang.typed.has(w) {
				s.fail(Clash, "calendar", "%q stands for a day or a month and for %s, at %s", w, known[w].key, known[w].at)
			}
		}
	}
}
