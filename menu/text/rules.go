package text

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// rules say how a language is written with the GSM 7-bit alphabet alone.
type rules struct {
	list   []rule // the longest first
	writer *strings.Replacer
}

// rule rewrites a character, or a few, at least one of them outside the
// alphabet.
type rule struct{ from, to string }

// rules reads the table [to-gsm7].
func (s *sheet) rules(t map[string]any) {
	if len(t) > 0 && s.lang.alphabet == UCS2 {
		s.fail(Faulty, "to-gsm7", "a language in ucs2 is not rewritten: it needs no rules")
		return
	}
	list := &s.lang.rules.list
	for _, from := range sortedKeys(t) {
		key := "to-gsm7." + from
		to, ok := t[from].(string)
		composed := norm.NFC.String(from)
		switch {
		case !ok:
			s.fail(Faulty, key, "is %s, not a text: put it in quotes", kindOf(t[from]))
		case IsGSM7(composed):
			s.fail(Faulty, key, "%q is in the alphabet and needs no rule", from)
		case !IsGSM7(to):
			s.fail(Letters, key, "%q, which should stand in its place, is outside the alphabet itself", Bad(to))
		case strings.ContainsAny(to, "\r\n\f"):
			s.fail(Faulty, key, "holds a control character")
		case slices.ContainsFunc(*list, func(r rule) bool { return r.from == composed }):
			s.fail(Clash, key, "%q stands here twice: composed and with its accent apart it is one letter", composed)
		default:
			*list = append(*list, rule{composed, to})
		}
	}
	slices.SortStableFunc(*list, func(a, b rule) int { return len(b.from) - len(a.from) })
	var pairs []string
	for _, r := range *list {
		pairs = append(pairs, r.from, r.to)
	}
	s.lang.rules.writer = strings.NewReplacer(pairs...)
}

// next is the rule for what s begins with; where there is none, one that leaves
// the first character as it is.
func (rs rules) next(s string) rule {
	for _, r := range rs.list {
		if strings.HasPrefix(s, r.from) {
			return r
		}
	}
	_, n := utf8.DecodeRuneInString(s)
	return rule{s[:n], s[:n]}
}

// write rewrites s, which is composed (NFC). What no rule covers stays.
func (rs rules) write(s string) string {
	if len(rs.list) == 0 || IsGSM7(s) {
		return s
	}
	return rs.writer.Replace(s)
}

// each hands over all words of the language's own spelling, without their
// values.
func (l *language) each(do func(words string)) {
	pieces := func(t template) {
		for _, p := range t {
			do(p.proper)
		}
	}
	for _, e := range l.texts {
		for _, t := range e.templates() {
			pieces(t)
		}
	}
	for _, t := range []template{l.calendar.date, l.calendar.dayMonth, l.calendar.weekdays, l.calendar.months} {
		pieces(t)
	}
}

// ownLetters are the characters of the language's own spelling, each once, in
// their order.
func (l *language) ownLetters() string {
	seen := map[rune]bool{}
	l.each(func(words string) {
		for _, r := range words {
			seen[r] = true
		}
	})
	return string(sortedKeys(seen))
}

// Foreign is a character of a language's texts, or a few, outside the GSM 7-bit
// alphabet.
type Foreign struct {
	From  string
	To    string // what a rule writes for it; in a ucs2 language From itself
	Count int    // how often the texts and the calendar have it
}

// Foreign lists what a language's own spelling has outside the GSM 7-bit
// alphabet, the most frequent first; nil for an unknown language.
func (c *Catalogue) Foreign(lang string) []Foreign {
	l := c.language(lang)
	count := map[rule]int{}
	l.each(func(words string) {
		if IsGSM7(words) {
			return
		}
		for words != "" {
			r := l.rules.next(words)
			if !IsGSM7(r.from) {
				count[r]++
			}
			words = words[len(r.from):]
		}
	})
	var out []Foreign
	for r, n := range count {
		out = append(out, Foreign{r.from, r.to, n})
	}
	slices.SortFunc(out, func(a, b Foreign) int { return cmp.Or(b.Count-a.Count, strings.Compare(a.From, b.From)) })
	return out
}

// Spelled is the catalogue for a channel that has national language shift
// tables, which USSD has not: a language whose tables (by its tag) hold all of
// its letters keeps its own spelling there, and so do values that they hold
// too. The other languages are as they were; a language that is not there is
// passed over.
func (c *Catalogue) Spelled(tables map[string][]Shift) *Catalogue {
	out := &Catalogue{languages: maps.Clone(c.languages), tags: c.tags, words: c.words}
	for tag, allowed := range tables {
		if c.Holds(tag, allowed) && c.Alphabet(tag) == GSM7 {
			l := *c.languages[tag]
			l.spelled, l.tables, l.letters = true, allowed, l.ownLetters()
			out.languages[tag] = &l
		}
	}
	return out
}

// Holds reports whether the national language shift tables hold every letter
// of a language's own spelling; false for an unknown language.
func (c *Catalogue) Holds(lang string, tables []Shift) bool {
	l := c.languages[lang]
	return l != nil && Choose(l.ownLetters(), tables).Alphabet == GSM7
}

// plain is a value as the language's texts can hold it, whatever was typed.
func (l *language) plain(v string) string {
	if l.alphabet != GSM7 || IsGSM7(v) {
		return v
	}
	v = norm.NFC.String(v)
	if l.tables != nil && Choose(l.letters+v, l.tables).Alphabet == GSM7 {
		return v
	}
	return ToGSM7(l.rules.write(v))
}
