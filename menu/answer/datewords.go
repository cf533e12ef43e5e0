package answer

import (
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rowbell/menu/text"
)

// DateWords are the words that growers type for months, days and weekdays.
type DateWords struct {
	months   map[string]time.Month
	own      map[string]time.Month // months in the grower's language; nil: no month is doubted
	days     map[string]text.DayWord
	weekdays map[string]bool // a weekday beside a date is ignored
}

// NewDateWords prepares the words of all languages. In days a hyphen in a word stands for a space too. own holds the
// months of the grower's language. A month that is only in another language is doubted, because the word may mean
// something else: "20 ago" is 20 August in Portuguese, but 20 days ago in English. If own is nil, no month is doubted.
func NewDateWords(own, months map[string]time.Month, days map[string]text.DayWord, weekdays []string) DateWords {
	w := DateWords{months: map[string]time.Month{}, days: map[string]text.DayWord{}, weekdays: map[string]bool{}}
	if own != nil {
		w.own = map[string]time.Month{}
	}
	for word, m := range own {
		w.own[dateKey(word)] = m
	}
	for word, m := range months {
		w.months[dateKey(word)] = m
	}
	for word, day := range days {
		w.days[spaced(dateKey(word))] = day
	}
	for _, word := range weekdays {
		w.weekdays[dateKey(word)] = true
	}
	return w
}

// dateKey makes the words of a date comparable: text.Fold makes them lower case without accents, and apostrophes
// between letters are removed.
func dateKey(s string) string { return apostrophe.ReplaceAllString(text.Fold(s), "$1$2") }

// apostrophe matches an apostrophe between two letters, as in aujourd'hui. It does not match an apostrophe between
// digits, because 5'11 (feet and inches) must not be read as a date.
var apostrophe = regexp.MustCompile(`(\pL)['’ʼ](\pL)`)

// dateFillers are words that growers type around day and month and that do not change the date, so they are dropped:
// 1st of, 1er, le, tarehe 5, 5 de, tanggal 5, 5 तारीख.
var dateFillers = keySet("st nd rd th of the er le du de do em on tarehe tar ya mwezi wa tanggal tgl तारीख ता को feira")

// dayFillers are words for "day" that growers type beside a word such as "today": hari ini, siku ya leo.
var dayFillers = keySet("hari hr siku ya le jour dia day")

func keySet(words string) map[string]bool {
	set := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		set[dateKey(w)] = true
	}
	return set
}

// ownLacks reports whether a word is no month of the grower's language.
func (w DateWords) ownLacks(word string) bool { return w.own != nil && w.own[word] == 0 }

// day reads an entry that holds only day words: "yesterday", "day before yesterday", or several words for one day, such
// as "hari ini".
func (w DateWords) day(entry string) (day text.DayWord, ok bool) {
	entry = spaced(entry)
	for _, e := range []string{entry, strings.TrimPrefix(entry, "the ")} {
		if day, ok = w.days[e]; ok {
			return day, true
		}
	}
	for f := range strings.FieldsSeq(entry) {
		d, known := w.days[f]
		if !known && dayFillers[f] {
			continue
		}
		if !known || ok && d != day {
			return text.DayWord{}, false
		}
		day, ok = d, true
	}
	return day, ok
}

// spaced replaces hyphens by spaces.
func spaced(s string) string { return strings.ReplaceAll(s, "-", " ") }

// withoutWeekday drops the weekday from a date of at least three words, such as Thu 5 Nov or Thursday 5 Nov.
// withoutWeekday keeps the weekday beside a day without a month, because the word may mean something else: minggu is
// Sunday or week. withoutWeekday also keeps a word that may be a month (mar: mardi or March) if no other word is a
// month.
func (w DateWords) withoutWeekday(tokens []string) []string {
	isMonth := func(t string) bool { _, ok := monthOf(t, w.months); return ok }
	for i, t := range tokens {
		if len(tokens) < 3 || !w.isWeekday(t) {
			continue
		}
		others := slices.Delete(slices.Clone(tokens), i, i+1)
		if !isMonth(t) || slices.ContainsFunc(others, isMonth) {
			return others
		}
	}
	return tokens
}

func (w DateWords) isWeekday(t string) bool {
	if w.weekdays[t] {
		return true
	}
	for name := range w.weekdays {
		if utf8.RuneCountInString(name) >= 3 && strings.HasPrefix(t, name) {
			return true
		}
	}
	return false
}

// monthOf finds the month that a word means. The word may be in the list, or be the first three or more letters of a
// word in the list, or begin with a word in the list. monthOf reports false if the word fits no month, or more than one
// month.
func monthOf(word string, months map[string]time.Month) (time.Month, bool) {
	if m, ok := months[word]; ok {
		return m, true
	}
	const minLetters = 3
	var found time.Month
	for w, m := range months {
		begins := utf8.RuneCountInString(word) >= minLetters && strings.HasPrefix(w, word)
		longer := utf8.RuneCountInString(w) >= minLetters && strings.HasPrefix(word, w)
		if !begins && !longer {
			continue
		}
		if found != 0 && found != m {
			return 0, false
		}
		found = m
	}
	return found, found != 0
}
