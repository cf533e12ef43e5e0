package text

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// rules is the table [to-gsm7] of a language. The rules replace letters that the GSM 7-bit alphabet lacks.
type rules struct {
	list   []rule // the rule with the longest from is first, because a longer match is preferred
	writer *strings.Replacer
}

// rule replaces the characters from by the characters to. At least one character of from is not in the GSM 7-bit
// alphabet.
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

// next returns the rule that applies at the beginning of s. If no rule applies, next returns a rule that replaces the
// first character of s by itself.
func (rs rules) next(s string) rule {
	for _, r := range rs.list {
		if strings.HasPrefix(s, r.from) {
			return r
		}
	}
	_, n := utf8.DecodeRuneInString(s)
	return rule{s[:n], s[:n]}
}

// write applies the rules to s, whose letters must be composed (Unicode NFC). Characters for which there is no rule are
// not changed.
func (rs rules) write(s string) string {
	if len(rs.list) == 0 || IsGSM7(s) {
		return s
	}
	return rs.writer.Replace(s)
}

// eachPiece calls do for each piece of text between placeholders, in the language's own spelling.
func (l *language) eachPiece(do func(words string)) {
	all := []template{l.calendar.date, l.calendar.weekdays, l.calendar.months}
	for _, e := range l.texts {
		all = append(all, e.templates()...)
	}
	for _, p := range slices.Concat(all...) {
		do(p.proper)
	}
}

// ownLetters lists the characters of the language's own spelling, each character once, sorted. National tables must
// have all of them before SMS may use that spelling.
func (l *language) ownLetters() string {
	seen := map[rune]bool{}
	l.eachPiece(func(words string) {
		for _, r := range words {
			seen[r] = true
		}
	})
	return string(sortedKeys(seen))
}

// Foreign is a character, or several together, of a language's texts that the GSM 7-bit alphabet lacks.
type Foreign struct {
	From  string
	To    string // the characters by which the rules replace From; equal to From in a ucs2 language
	Count int    // how many times From is in the texts and the calendar
}

// Foreign lists the characters of a language's own spelling that the GSM 7-bit alphabet lacks, the most frequent first.
// Foreign returns nil for an unknown language.
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

// Spelled returns a catalogue for SMS that may use national language tables. The key of tables is the language tag. If
// the given tables of a gsm7 language have all letters of its texts, the texts stay in the language's own spelling. A
// value also stays as it is if the tables have its letters; otherwise it is rewritten by the rules. All other languages
// are as before, and unknown tags are ignored. The result is not for USSD, because USSD has no national tables.
func (c *Catalogue) Spelled(tables map[string][]Shift) *Catalogue {
	out := &Catalogue{languages: maps.Clone(c.languages), tags: c.tags, words: c.words, said: c.said}
	for tag, allowed := range tables {
		if c.Covers(tag, allowed) && c.Alphabet(tag) == GSM7 {
			l := *c.languages[tag]
			l.spelled, l.tables, l.letters = true, allowed, l.ownLetters()
			out.languages[tag] = &l
		}
	}
	return out
}

// Covers reports whether SMS in 7-bit characters, with these national tables, can write all letters of the language. It
// returns false for an unknown language.
func (c *Catalogue) Covers(lang string, tables []Shift) bool {
	l := c.languages[lang]
	return l != nil && choose(l.ownLetters(), tables).Alphabet == GSM7
}

// inAlphabet converts a value to the language's alphabet. inAlphabet is needed because growers type values, such as the
// name of a plot, in any characters.
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
