package answer

import (
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rowbell/menu/text"
)

// DateWords are the words that growers type for months and days.
type DateWords struct {
	months   map[string]time.Month
	own      map[string]time.Month // those of the grower's language; nil: all of months
	days     map[string]int        // 0 today, -1 yesterday
	weekdays map[string]bool       // say nothing beside a date
}

// NewDateWords prepares the words of all languages: months, days (0 today, -1 yesterday) and weekdays. own are the
// months of the grower's language: a month of another language is doubted (20 ago: August, or 20 days ago). nil
// trusts all months.
func NewDateWords(own, months map[string]time.Month, days map[string]int, weekdays []string) DateWords {
	w := DateWords{months: map[string]time.Month{}, days: map[string]int{}, weekdays: map[string]bool{}}
	if own != nil {
		w.own = map[string]time.Month{}
	}
	for word, m := range own {
		w.own[dateKey(word)] = m
	}
	for word, m := range months {
		w.months[dateKey(word)] = m
	}
	for word, offset := range days {
		w.days[dateKey(word)] = offset
	}
	for _, word := range weekdays {
		w.weekdays[dateKey(word)] = true
	}
	return w
}

// dateKey folds a word of a date for comparison.
func dateKey(s string) string { return apostrophe.ReplaceAllString(text.Fold(s), "$1$2") }

// apostrophe matches an apostrophe between two letters (aujourd'hui). An apostrophe between figures stays, so that
// 5'11 is not read as a date.
var apostrophe = regexp.MustCompile(`(\pL)['’ʼ](\pL)`)

// dateFillers are words around the parts of a date: 1st of, 1er, le, tarehe 5, 5 de, tanggal 5, 5 तारीख.
var dateFillers = keySet("st nd rd th of the er le du de do em on tarehe tar ya mwezi wa tanggal tgl तारीख ता को feira")

// dayFillers are words for "day" beside a word for which day: hari ini, siku ya leo.
var dayFillers = keySet("hari hr siku ya le jour dia day")

func keySet(words string) map[string]bool {
	set := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		set[dateKey(w)] = true
	}
	return set
}

// day reads an entry of day words only: "yesterday", or several words for one day, "hari ini". offset is in days from
// today.
func (w DateWords) day(entry string) (offset int, ok bool) {
	for f := range strings.FieldsSeq(entry) {
		n, known := w.days[f]
		if !known && dayFillers[f] {
			continue
		}
		if !known || ok && n != offset {
			return 0, false
		}
		offset, ok = n, true
	}
	return offset, ok
}

// withoutWeekday drops a weekday, or a longer form of it, beside a whole date: Thu 5 Nov. With a day alone the word
// may mean weeks (minggu), and without another word it may be the month (mar).
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

// monthOf finds the one month that a word stands for: a word of the list, the first three or more letters of one, or
// a longer form of one.
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
