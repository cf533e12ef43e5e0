package text

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/unicode/norm"
)

// rules say how a language is written with the GSM 7-bit alphabet alone, the
// longest first.
type rules []rule

// rule rewrites a character, or a few, at least one of them outside the
// alphabet.
type rule struct{ from, to string }

// rules reads the table [to-gsm7].
func (s *sheet) rules(t map[string]any) {
	if len(t) > 0 && s.lang.alphabet == UCS2 {
		s.fail(Faulty, "to-gsm7", "a language in ucs2 is not rewritten: it needs no rules")
		return
	}
	for _, from := range slices.Sorted(maps.Keys(t)) {
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
		default:
			s.lang.rules = append(s.lang.rules, rule{composed, to})
		}
	}
	slices.SortStableFunc(s.lang.rules, func(a, b rule) int { return len(b.from) - len(a.from) })
}

// next is the rule for what s begins with; where there is none, one that leaves
// the first character as it is.
func (rs rules) next(s string) rule {
	for _, r := range rs {
		if strings.HasPrefix(s, r.from) {
			return r
		}
	}
	_, n := utf8.DecodeRuneInString(s)
	return rule{s[:n], s[:n]}
}

// write rewrites s, which is composed (NFC). What no rule covers stays.
func (rs rules) write(s string) string {
	if len(rs) == 0 || IsGSM7(s) {
		return s
	}
	var b strings.Builder
	for s != "" {
		r := rs.next(s)
		b.WriteString(r.to)
		s = s[len(r.from):]
	}
	return b.String()
}

// spelling is a language's words in one of its two spellings.
type spelling struct {
	texts    map[Key]entry
	calendar calendar
}

// written is the spelling as the rules write it.
func (sp *spelling) written(rs rules) *spelling {
	if len(rs) == 0 {
		return sp
	}
	c := sp.calendar
	out := &spelling{texts: make(map[Key]entry, len(sp.texts)), calendar: calendar{
		weekdays: rs.words(c.weekdays), months: rs.words(c.months), date: rs.template(c.date), dayMonth: rs.template(c.dayMonth)}}
	for k, e := range sp.texts {
		forms := make(map[plural.Form]template, len(e.forms))
		for form, t := range e.forms {
			forms[form] = rs.template(t)
		}
		e.forms = forms
		out.texts[k] = e
	}
	return out
}

func (rs rules) words(list []string) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = rs.write(w)
	}
	return out
}

func (rs rules) template(t template) template {
	out := make(template, len(t))
	for i, p := range t {
		out[i] = piece{words: rs.write(p.words), arg: p.arg}
	}
	return out
}

// each hands over all words of the spelling, without their values.
func (sp *spelling) each(do func(words string)) {
	pieces := func(t template) {
		for _, p := range t {
			do(p.words)
		}
	}
	for _, e := range sp.texts {
		for _, t := range e.forms {
			pieces(t)
		}
	}
	pieces(sp.calendar.date)
	pieces(sp.calendar.dayMonth)
	for _, w := range slices.Concat(sp.calendar.weekdays, sp.calendar.months) {
		do(w)
	}
}

// letters are the characters of the spelling, each once, in their order.
func (sp *spelling) letters() string {
	seen := map[rune]bool{}
	sp.each(func(words string) {
		for _, r := range words {
			seen[r] = true
		}
	})
	return string(slices.Sorted(maps.Keys(seen)))
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
	l.proper.each(func(words string) {
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
	out := &Catalogue{languages: maps.Clone(c.languages), tags: c.tags}
	for tag, allowed := range tables {
		if c.Holds(tag, allowed) && c.Alphabet(tag) == GSM7 {
			l := *c.languages[tag]
			l.spelling, l.tables, l.letters = l.proper, allowed, l.proper.letters()
			out.languages[tag] = &l
		}
	}
	return out
}

// Holds reports whether the national language shift tables hold every letter
// of a language's own spelling; false for an unknown language.
func (c *Catalogue) Holds(lang string, tables []Shift) bool {
	l := c.languages[lang]
	return l != nil && Choose(l.proper.letters(), tables).Alphabet == GSM7
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
