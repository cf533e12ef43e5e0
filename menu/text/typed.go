package text

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"
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
