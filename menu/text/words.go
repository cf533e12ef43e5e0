package text

import (
	"maps"
	"slices"
	"strings"
	"time"
	"unicode"
)

// typed are the words that a grower may type in a language, in both of its
// spellings and folded.
type typed struct {
	months map[string]time.Month
	days   map[string]int
}

// MonthWords maps every word for a month that a grower may type, folded, to the
// month.
func (c *Catalogue) MonthWords(lang string) map[string]time.Month {
	return maps.Clone(c.language(lang).typed.months)
}

// AllMonthWords are the MonthWords of a language and those of all others that
// say nothing else in it. What means two months in two other languages is left
// out.
func (c *Catalogue) AllMonthWords(first string) map[string]time.Month {
	return all(c, first, func(t typed) map[string]time.Month { return t.months })
}

// AllDayWords are the words for today (0) and yesterday (-1), as AllMonthWords.
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

// has reports whether a word, folded, is one of them.
func (t typed) has(w string) bool {
	_, month := t.months[w]
	_, day := t.days[w]
	return month || day
}

// AllWeekdayWords lists the names of the weekdays in every language, in small
// letters and in both of its spellings.
func (c *Catalogue) AllWeekdayWords() []string {
	var out []string
	for _, l := range c.languages {
		for _, name := range l.calendar.weekdays {
			for _, w := range []string{name.proper, name.words} {
				out = append(out, strings.Trim(strings.ToLower(w), "."))
			}
		}
	}
	return out
}

// spellings are the words of a text, in small letters, each as it stands and as
// the rules write it. Dots around a word are not part of it.
func (s *sheet) spellings(words string) []string {
	var out []string
	for _, w := range strings.Fields(words + " " + s.lang.rules.write(words)) {
		w = strings.Trim(strings.ToLower(w), ".")
		if w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// monthWords notes what a grower may type for each month. A word with a digit
// in it could not be told from a number, so it is left out.
func (s *sheet) monthWords(list template, name string) {
	for i, words := range list {
		m := time.Month(i + 1)
		for _, w := range s.spellings(words.proper) {
			if strings.ContainsFunc(w, unicode.IsNumber) {
				continue
			}
			if other, ok := s.lang.typed.months[Fold(w)]; ok && other != m {
				s.fail(Clash, "calendar."+name, "%q stands for month %d and month %d", w, other, m)
			}
			s.lang.typed.months[Fold(w)] = m
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
	for _, w := range s.spellings(s.letters(key, words).proper) {
		folded := Fold(w)
		switch other, ok := s.lang.typed.days[folded]; {
		case strings.ContainsFunc(w, unicode.IsNumber):
			s.fail(Faulty, key, "%q has a digit in it: it could not be told from a date", w)
		case ok && other != day:
			s.fail(Clash, key, "%q stands for today and for yesterday", w)
		case s.lang.typed.months[folded] != 0:
			s.fail(Clash, key, "%q stands for a month already", w)
		}
		s.lang.typed.days[folded] = day
	}
}
