package text

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// rules are a language's table [to-gsm7]: they replace letters that the GSM 7-bit alphabet lacks.
type rules struct {
	list   []rule // longest from first, so that a longer match is preferred
	writer *strings.Replacer
}

// rule replaces the characters from, of which at least one is outside the GSM 7-bit alphabet, by the characters to.
type rule struct{ from, to string }

func (s *compiler) rules(t map[string]any) {
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
			s.fail(Letters, key, "%q, which should stand in its place, is outside the alphabet itself", NotGSM7(to))
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

// next finds the rule that applies at the beginning of s. If none applies, it returns a rule that keeps the first
// character.
func (rs rules) next(s string) rule {
	for _, r := range rs.list {
		if strings.HasPrefix(s, r.from) {
			return r
		}
	}
	_, n := utf8.DecodeRuneInString(s)
	return rule{s[:n], s[:n]}
}

// write applies the rules to s, which must be composed (NFC). Characters without a rule stay.
func (rs rules) write(s string) string {
	if len(rs.list) == 0 || IsGSM7(s) {
		return s
	}
	return rs.writer.Replace(s)
}

// eachPiece calls do with all words of the language in its own spelling, without values.
func (l *language) eachPiece(do func(words string)) {
	all := []template{l.calendar.date, l.calendar.dayMonth, l.calendar.weekdays, l.calendar.months}
	for _, e := range l.texts {
		all = append(all, e.templates()...)
	}
	for _, p := range slices.Concat(all...) {
		do(p.proper)
	}
}

// ownLetters lists the characters of the language's own spelling, each once, sorted.
func (l *language) ownLetters() string {
	seen := map[rune]bool{}
	l.eachPiece(func(words string) {
		for _, r := range words {
			seen[r] = true
		}
	})
	return string(sortedKeys(seen))
}

// Foreign is one or more characters of a language's texts that are outside the GSM 7-bit alphabet.
type Foreign struct {
	From  string
	To    string // the characters that the rules write in place of From; equal to From in a ucs2 language
	Count int    // how often From stands in the texts and the calendar
}

// Foreign lists the characters of a language's own spelling outside the GSM
// 7-bit alphabet, the most frequent first; nil for an unknown language.
func (c *Catalogue) Foreign(lang string) []Foreign {
	l := c.language(lang)
	count := map[rule]int{}
	l.eachPiece(func(words string) {
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

// Spelled returns the catalogue for SMS that may use national language tables, given by language tag. In a gsm7
// language whose tables cover all of its letters, texts keep the language's own spelling, and values that the tables
// cover keep theirs. Other languages stay as they are; unknown tags are ignored. USSD has no national tables.
func (c *Catalogue) Spelled(tables map[string][]Shift) *Catalogue {
	out := &Catalogue{languages: maps.Clone(c.languages), tags: c.tags, words: c.words}
	for tag, allowed := range tables {
		if c.Covers(tag, allowed) && c.Alphabet(tag) == GSM7 {
			l := *c.languages[tag]
			l.spelled, l.tables, l.letters = true, allowed, l.ownLetters()
			out.languages[tag] = &l
		}
	}
	return out
}

// Covers reports whether the national tables cover all letters of a language's
// own spelling; false for an unknown language.
func (c *Catalogue) Covers(lang string, tables []Shift) bool {
	l := c.languages[lang]
	return l != nil && choose(l.ownLetters(), tables).Alphabet == GSM7
}

// inAlphabet converts a value to the language's alphabet, whatever was typed.
func (l *language) inAlphabet(v string) string {
	if l.alphabet != GSM7 || IsGSM7(v) {
		return v
	}
	v = norm.NFC.String(v)
	if l.tables != nil && choose(l.letters+v, l.tables).Alphabet == GSM7 {
		return v
	}
	return ToGSM7(l.rules.write(v))
}
