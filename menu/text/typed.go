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

// typed holds the words for months and days that growers may type in a language, folded by Fold: each word in the
// language's own spelling and as the rules [to-gsm7] write it.
type typed struct {
	months map[string]time.Month
	days   map[string]int // 0 = today, -1 = yesterday
}

// MonthWords maps the folded words for months in a language to the month.
func (c *Catalogue) MonthWords(lang string) map[string]time.Month {
	return maps.Clone(c.language(lang).typed.months)
}

// AllMonthWords has the words of MonthWords for the language first, and those of all other languages that do not stand
// for a month or a day in first. A word that stands for different months in two other languages is left out.
func (c *Catalogue) AllMonthWords(first string) map[string]time.Month {
	return all(c, first, func(t typed) map[string]time.Month { return t.months })
}

// AllDayWords maps folded words for today to 0 and for yesterday to -1. The words are chosen as AllMonthWords chooses.
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

// has reports whether the folded word w stands for a month or a day.
func (t typed) has(w string) bool {
	_, month := t.months[w]
	_, day := t.days[w]
	return month || day
}

// AllWeekdayWords lists the names of the weekdays in all languages, in lower case, in both spellings.
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

// spellings lists the words in a string in lower case, each in the language's own spelling and as the rules write the
// word, without dots before or after the word.
func (s *compiler) spellings(words string) []string {
	var out []string
	for _, w := range strings.Fields(words + " " + s.lang.rules.write(words)) {
		w = strings.Trim(strings.ToLower(w), ".")
		if w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// monthWords records the words for each month. A word with a digit is left out: it could not be told from a number.
func (s *compiler) monthWords(list template, name string) {
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

// dayWords records the words for today (day 0) or yesterday (day -1).
func (s *compiler) dayWords(t map[string]any, name string, day int) {
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
	for _, w := range s.spellings(s.spell(key, words).proper) {
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

// commandWords are the texts that list the keywords, such as STOP, which work at any moment and in every language.
var commandWords = []Key{"words.stop", "words.start", "words.help", "words.menu", "words.language"}

// AllWords maps the folded keywords of a text of the table [words] to the language that has the keyword, or to "" if
// several languages have it. Languages that Only left out are included, because STOP must work in every language.
func (c *Catalogue) AllWords(k Key) map[string]string { return maps.Clone(c.words[k]) }

// command is a keyword with its text and its language.
type command struct {
	key  Key
	word string // in lower case, not folded
	in   *compiler
}

func (c command) at() place { return c.in.places()[string(c.key)] }

// commands collects the words for AllWords and checks them: no word may stand for two commands, in one language or in
// two, and no word may be both a command and a word for a month or a day. Words are compared folded, because typed
// words are folded too.
func commands(compilers []*compiler) map[Key]map[string]string {
	known := map[string]command{}
	all := map[Key]map[string]string{}
	for _, k := range commandWords {
		all[k] = map[string]string{}
	}
	for _, s := range compilers {
		for _, k := range commandWords {
			for _, w := range s.command(k) {
				folded := Fold(w)
				was, ok := known[folded]
				if !ok {
					known[folded] = command{k, w, s}
				} else if was.key != k {
					alike := ""
					if w != was.word {
						alike = fmt.Sprintf(", which is %q without accents,", was.word)
					}
					s.fail(Clash, string(k), "%q%s stands for %s too, at %s", w, alike, was.key, was.at())
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
	for _, s := range compilers {
		for _, folded := range sortedKeys(known) {
			if c := known[folded]; s.lang.typed.has(folded) {
				s.fail(Clash, "calendar", "%q stands for a day or a month and for %s, at %s", c.word, c.key, c.at())
			}
		}
	}
	return all
}

// command lists the words of a command in one language, in both spellings.
func (s *compiler) command(k Key) []string {
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
			s.fail(Faulty, string(k),
				"%q is not of letters alone: it could not be told from an answer, or from its neighbour", w)
		}
		return strange
	})
}

// Fold converts typed words to a form for comparison only: lower case, without
// accents, and variant spellings of Devanagari made one.
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

const nukta = '\u093C' // the dot below a Devanagari letter, as in फ़; writers often leave it out

// devanagariLetters replaces signs of Devanagari that are often written for each other by one of them: long and short
// vowels, retroflex and dental t, b and v. devanagariNasals does so with a nasal before its consonant. So सितंबर equals
// सितम्बर, अक्टूबर equals अक्तूबर, and घंटे equals घण्टे. Common practice, no source.
var (
	devanagariLetters = strings.NewReplacer("ी", "ि", "ू", "ु", "ई", "इ", "ऊ", "उ", "ै", "े", "ऐ", "ए",
		"ट", "त", "व", "ब", "ँ", "ं")
	devanagariNasals = strings.NewReplacer("म्ब", "ंब", "म्प", "ंप", "म्भ", "ंभ", "ण्त", "ंत",
		"ण्ड", "ंड", "न्त", "ंत", "न्द", "ंद")
)
