package menu

import (
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rowbell/menu/text"
)

// dateWords are what growers type for months and days, as dateKey writes it.
type dateWords struct {
	months map[string]time.Month
	own    map[string]time.Month // those of the grower's language; nil: all are
	days   map[string]int        // 0 today, -1 yesterday
	week   map[string]bool       // weekdays, which say nothing beside a date
}

// wordsOfDates gathers them for each language that is offered.
func wordsOfDates(cat *text.Catalogue) map[string]dateWords {
	all := map[string]dateWords{}
	for _, lang := range cat.Languages() {
		words := dateWords{map[string]time.Month{}, map[string]time.Month{}, map[string]int{}, map[string]bool{}}
		for w, m := range cat.MonthWords(lang) {
			words.own[dateKey(w)] = m
		}
		for w, m := range cat.AllMonthWords(lang) {
			words.months[dateKey(w)] = m
		}
		for w, off := range cat.AllDayWords(lang) {
			words.days[dateKey(w)] = off
		}
		for _, w := range cat.AllWeekdayWords() {
			words.week[dateKey(w)] = true
		}
		all[lang] = words
	}
	return all
}

// dateKey is how a word of a date is compared.
func dateKey(s string) string { return apostrophe.ReplaceAllString(text.Fold(s), "$1$2") }

// apostrophe is one within a word: aujourd'hui. Between figures it says nothing
// that could be a date.
var apostrophe = regexp.MustCompile(`(\pL)['’ʼ](\pL)`)

// dateFillers are words around the parts of a date: 1st of, 1er, le, tarehe 5,
// 5 de, tanggal 5, 5 तारीख.
var dateFillers = func() map[string]bool {
	words := map[string]bool{}
	for w := range strings.FieldsSeq("st nd rd th of the er le du de do em on tarehe tar ya mwezi wa tanggal tgl तारीख ता को feira") {
		words[dateKey(w)] = true
	}
	return words
}()

// day is what an entry of nothing but day words means: "yesterday", or several
// words for one day, "hari ini".
func (w dateWords) day(entry string) (off int, ok bool) {
	for f := range strings.FieldsSeq(entry) {
		n, known := w.days[f]
		if !known && dayFillers[f] {
			continue
		}
		if !known || ok && n != off {
			return 0, false
		}
		off, ok = n, true
	}
	return off, ok
}

// dayFillers are words for "day" that stand beside a word for which: hari ini,
// siku ya leo.
var dayFillers = map[string]bool{"hari": true, "hr": true, "siku": true, "ya": true, "le": true, "jour": true, "dia": true, "day": true}

// withoutWeekday drops the name of a weekday, or a longer form of it, that stands
// beside a whole date: Thu 5 Nov. With a day alone it may mean weeks (minggu),
// and with no other word it may be the month (mar).
func (w dateWords) withoutWeekday(tokens []string) []string {
	for i, t := range tokens {
		if len(tokens) < 3 || !w.isWeekday(t) {
			continue
		}
		others := slices.Delete(slices.Clone(tokens), i, i+1)
		_, month := monthOf(t, w.months)
		if !month || slices.ContainsFunc(others, func(o string) bool { _, ok := monthOf(o, w.months); return ok }) {
			return others
		}
	}
	return tokens
}

func (w dateWords) isWeekday(t string) bool {
	if w.week[t] {
		return true
	}
	for name := range w.week {
		if utf8.RuneCountInString(name) >= 3 && strings.HasPrefix(t, name) {
			return true
		}
	}
	return false
}

// monthOf finds the one month that a word stands for: a word of the list, or
// the beginning of it, or a longer form of it.
func monthOf(word string, months map[string]time.Month) (time.Month, bool) {
	if m, ok := months[word]; ok {
		return m, true
	}
	const enough = 3 // letters
	var found time.Month
	for w, m := range months {
		begins := utf8.RuneCountInString(word) >= enough && strings.HasPrefix(w, word)
		longer := utf8.RuneCountInString(w) >= enough && strings.HasPrefix(word, w)
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
