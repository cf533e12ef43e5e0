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

// typed has the words for months and days that growers may type in a language. Fold has been applied to the words. Each
// word is there in the language's own spelling and in the spelling that the rules [to-gsm7] make.
type typed struct {
	months map[string]time.Month
	days   map[string]DayWord
}

// DayWord is the day that a word means: how many days after today, below 0 for days before. If a word means a day
// before and a day after today, as कल does in Hindi, Or is the day after; else it is 0.
type DayWord struct{ Days, Or int }

type dayName struct {
	name string
	days int
}

// dayNames are the keys of the table [calendar] that list words for days.
var dayNames = []dayName{{"today", 0}, {"before-yesterday", -2}, {"yesterday", -1}, {"tomorrow", 1},
	{"after-tomorrow", 2}}

// MonthWords returns the month that each word means in the language. Fold has been applied to the words, as it is to
// what growers type.
func (c *Catalogue) MonthWords(lang string) map[string]time.Month {
	return maps.Clone(c.language(lang).typed.months)
}

// AllMonthWords returns the words for months in all languages. The parameter first is the tag of the preferred
// language, and all its words are included. A word of another language is left out if it means a month or a day in the
// preferred language, or if two other languages use it for different months.
func (c *Catalogue) AllMonthWords(first string) map[string]time.Month {
	return all(c, first, func(t typed) map[string]time.Month { return t.months })
}

// AllDayWords returns the words for days in all languages. Fold has been applied to the words. As in AllMonthWords, the
// words of the language first have priority.
func (c *Catalogue) AllDayWords(first string) map[string]DayWord {
	return all(c, first, func(t typed) map[string]DayWord { return t.days })
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

// has reports whether w means a month or a day. Fold must have been applied to w.
func (t typed) has(w string) bool {
	_, month := t.months[w]
	_, day := t.days[w]
	return month || day
}

// AllWeekdayWords lists the names of the weekdays in all languages, in lower case. Each name is there in the language's
// own spelling and in the spelling after the rules of [to-gsm7]: sáb and sab.
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

// spellings returns the words of a string, in lower case. If the rules of [to-gsm7] change a word, both forms are
// returned: março and marco. Dots before and after a word are removed.
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

// monthWords records the words for each month. A word with a digit is left out, because it could be confused with a
// number.
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

// dayWords records the words for a day, day days after today. A word may mean two days if they are as far before as
// after today.
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
		word := DayWord{Days: day}
		switch other, ok := s.lang.typed.days[folded]; {
		case strings.ContainsFunc(w, unicode.IsNumber):
			s.fail(Faulty, key, "%q has a digit in it: it could not be told from a date", w)
		case ok && other.Days == -day:
			word = DayWord{Days: -day, Or: day}
		case ok && other.Days != day:
			i := slices.IndexFunc(dayNames, func(d dayName) bool { return d.days == other.Days })
			s.fail(Clash, key, "%q stands for %s and for %s", w, dayNames[i].name, name)
		case s.lang.typed.months[folded] != 0:
			s.fail(Clash, key, "%q stands for a month already", w)
		}
		s.lang.typed.days[folded] = word
	}
}

// commandWords are the texts that list commands such as STOP. Growers may type commands at any moment and in any
// language.
var commandWords = []Key{"words.stop", "words.start", "words.help", "words.menu", "words.language"}

// AllWords returns the commands in a text of the table [words]. The value is the language that has the command, or ""
// if several languages have it. Fold has been applied to the commands. Languages that Only removed are included,
// because STOP must work in every language.
func (c *Catalogue) AllWords(k Key) map[string]string { return maps.Clone(c.words[k]) }

// command is a command such as STOP, with the text that lists it and its language.
type command struct {
	key  Key
	word string // in lower case, before Fold
	in   *compiler
}

func (c command) at() Position { return c.in.read.at(string(c.key)) }

// commands collects the commands for AllWords and checks them. No word may be two different commands, in one language
// or in two. No word may be both a command and a word for a month or a day. Words are compared after Fold, because Fold
// is also applied to what growers type.
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

// command returns the commands that a text of one language lists, in the language's own spelling and in the spelling
// after the rules of [to-gsm7].
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

// Fold changes typed words so that they can be compared: to lower case, without accents, and with one spelling for
// words that are written in several ways in Devanagari. The result is only for comparison and is not shown.
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

const nukta = '\u093C' // the dot below a Devanagari letter, as in फ़; many writers leave the dot out

// devanagariLetters replaces letters of Devanagari that people often confuse by one of them: long vowels by short ones,
// retroflex t by dental t, v by b. devanagariNasals does the same for a nasal before its consonant.
// So सितंबर equals सितम्बर, अक्टूबर equals अक्तूबर, and घंटे equals घण्टे. Common practice, no source.
var (
	devanagariLetters = strings.NewReplacer("ी", "ि", "ू", "ु", "ई", "इ", "ऊ", "उ", "ै", "े", "ऐ", "ए",
		"ट", "त", "व", "ब", "ँ", "ं")
	devanagariNasals = strings.NewReplacer("म्ब", "ंब", "म्प", "ंप", "म्भ", "ंभ", "ण्त", "ंत",
		"ण्ड", "ंड", "न्त", "ंत", "न्द", "ंद")
)
