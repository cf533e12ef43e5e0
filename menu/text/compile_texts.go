package text

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/unicode/norm"
)

// isName reports whether s is of small letters, digits and these marks, and does
// not begin with one of them.
func isName(s, marks string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= '0' && r <= '9'
		if !letter && (i == 0 || !strings.ContainsRune(marks, r)) {
			return false
		}
	}
	return s != ""
}

// walk compiles a table of texts and the tables in it.
func (s *sheet) walk(prefix string, t map[string]any) {
	if len(t) == 0 && prefix != "" {
		s.fail(Faulty, prefix, "is empty")
	}
	for name, v := range t {
		key := name
		if prefix != "" {
			key = prefix + "." + name
		}
		if !isName(name, "_-") {
			s.fail(Faulty, key, "a name is of small letters, digits, - and _")
			continue
		}
		switch v := v.(type) {
		case string:
			if prefix == "" {
				s.fail(Faulty, key, "stands in no table")
			}
			s.add(key, v, nil)
		case map[string]any:
			if isPlural(v) && !s.tableOfTexts(key, v) {
				s.plural(key, v)
			} else {
				s.walk(key, v)
			}
		default:
			s.fail(Faulty, key, "is %s, not a text: put it in quotes", kindOf(v))
		}
	}
}

func kindOf(v any) string {
	switch v.(type) {
	case bool:
		return "true or false"
	case int64, float64:
		return "a number"
	case []any:
		return "a list"
	case string:
		return "a text"
	case map[string]any:
		return "a table"
	}
	return "a date or time"
}

const pluralForms = 6 // of plural.Form

var categoryNames = []string{"zero", "one", "two", "few", "many", "other"}

var categories = map[string]plural.Form{
	"zero": plural.Zero, "one": plural.One, "two": plural.Two,
	"few": plural.Few, "many": plural.Many, "other": plural.Other,
}

func isPlural(t map[string]any) bool {
	for name, v := range t {
		if _, isText := v.(string); !isText {
			return false
		}
		if _, ok := categories[name]; !ok {
			return false
		}
	}
	return len(t) > 0
}

// tableOfTexts reports whether the source language has texts under these names:
// a table of it may hold a text called "other", and so far no more of it be
// translated.
func (s *sheet) tableOfTexts(key string, t map[string]any) bool {
	if s.original == nil {
		return false
	}
	for name := range t {
		if _, ok := s.original.lang.texts[Key(key+"."+name)]; !ok {
			return false
		}
	}
	return true
}

// plural compiles a text with forms: those that the language uses for whole
// numbers, each and no other, and "other" in any case.
func (s *sheet) plural(key string, t map[string]any) {
	if s.categories == nil {
		s.categories = s.lang.plural.categories()
	}
	needed := s.categories
	for name := range t {
		if !slices.Contains(needed, name) {
			s.fail(Faulty, key+"."+name, "the language has no such plural form; it has %s", strings.Join(needed, ", "))
		}
	}
	for _, name := range needed {
		if _, ok := t[name]; !ok {
			s.fail(Faulty, key, "the plural form %q is missing", name)
		}
	}
	s.add(key, "", t)
}

// categories names the plural forms that whole numbers take, and other. The
// rules of CLDR repeat within a thousand, apart from the round millions.
func (r pluralRule) categories() []string {
	found := [pluralForms]bool{plural.Other: true}
	found[r.form(1_000_000)] = true
	for n := range 1000 {
		found[r.form(n)] = true
	}
	var names []string
	for _, name := range categoryNames {
		if found[categories[name]] {
			names = append(names, name)
		}
	}
	return names
}

// add compiles a text of one form, or of several. One with a mistake is not
// added.
func (s *sheet) add(key, words string, forms map[string]any) {
	before := len(s.wrong)
	var e entry
	if forms == nil {
		e.single = s.template(key, words)
	} else {
		e.forms = make([]template, pluralForms)
		for name, words := range forms {
			e.forms[categories[name]] = s.template(key, words.(string))
		}
	}
	if len(s.wrong) > before {
		s.failed[Key(key)] = true
		return
	}
	s.lang.texts[Key(key)] = e
}

// template cuts a text at its placeholders.
func (s *sheet) template(key, words string) template {
	if strings.TrimSpace(words) == "" {
		s.fail(Faulty, key, "is empty")
		return nil
	}
	start := len(s.pieces)
	for rest := words; rest != ""; {
		i := strings.IndexAny(rest, "{}")
		if i < 0 {
			s.pieces = append(s.pieces, s.letters(key, rest))
			break
		}
		brace, after := rest[i], rest[i+1:]
		if after != "" && after[0] == brace {
			s.pieces = append(s.pieces, s.letters(key, rest[:i+1]))
			rest = after[1:]
			continue
		}
		if i > 0 {
			s.pieces = append(s.pieces, s.letters(key, rest[:i]))
		}
		end := strings.IndexByte(after, '}')
		if brace == '}' || end < 0 {
			s.fail(Faulty, key, "%q has a brace without its fellow; a brace itself is written twice", words)
			return nil
		}
		name := after[:end]
		if !isName(name, "_") || unicode.IsDigit(rune(name[0])) {
			s.fail(Faulty, key, "{%s} is not a placeholder: a name of small letters, digits and _", name)
			return nil
		}
		s.pieces = append(s.pieces, piece{arg: name})
		rest = after[end+1:]
	}
	return s.pieces[start:len(s.pieces):len(s.pieces)]
}

// letters composes words (NFC) and writes them as the alphabet and the rules
// have it. It refuses what a phone would not show as meant.
func (s *sheet) letters(key, words string) piece {
	if !s.visible(key, words) || IsGSM7(words) {
		return piece{words: words, proper: words}
	}
	words = norm.NFC.String(words)
	if s.lang.alphabet != GSM7 {
		return piece{words: words, proper: words}
	}
	written := s.lang.rules.write(words)
	if bad := Bad(written); len(bad) > 0 {
		s.fail(Letters, key, "%q is outside the language's alphabet, gsm7, and no rule in [to-gsm7] rewrites it", bad)
	}
	return piece{words: written, proper: words}
}

// visible refuses what no reader of a file can see: controls, those of the
// direction (Unicode Bidi_Control), and spaces without width. The joiners U+200C
// and U+200D shape the letters of many scripts and stay.
func (s *sheet) visible(key, words string) bool {
	for _, r := range words {
		switch {
		case r >= ' ' && r < '\x7F': // most are
		case unicode.IsControl(r) && r != '\n', unicode.Is(unicode.Bidi_Control, r):
			s.fail(Faulty, key, "holds the control character %U", r)
			return false
		case r == '\u200B', r == '\uFEFF':
			s.fail(Faulty, key, "holds %U, a space without width", r)
			return false
		}
	}
	return true
}

// compare holds a language against the source language.
func (s *sheet) compare() {
	texts := s.original.lang.texts
	for k, from := range texts {
		if e, ok := s.lang.texts[k]; ok {
			s.values(k, e, from)
		} else if !s.failed[k] {
			s.fail(Missing, string(k), "is missing; %s has it", s.original.places()[string(k)])
			s.wrong[len(s.wrong)-1].Source = from.String()
		}
	}
	for k := range s.lang.texts {
		if _, ok := texts[k]; !ok {
			s.fail(Unknown, string(k), "is not in %s.toml", Source)
			delete(s.lang.texts, k)
		}
	}
}

// values checks that a text uses the values of the original, all of them and
// no other. A form of a plural may leave one out where a form of the original
// does so too, and the number itself in any case: "one day ago".
func (s *sheet) values(k Key, e, from entry) {
	var room [8]string // on the stack: every text of every language comes here
	for _, arg := range e.args(room[:0]) {
		if !from.uses(arg) {
			s.fail(Values, string(k), "{%s} is not given to this text in %s.toml", arg, Source)
			s.failed[k] = true
		}
	}
	counted := e.forms != nil || from.forms != nil
	for _, arg := range from.args(room[:0]) {
		if counted && arg == countArg {
			continue
		}
		if lacks := func(t template) bool { return t != nil && !t.uses(arg) }; !e.uses(arg) || slices.ContainsFunc(e.templates(), lacks) && !slices.ContainsFunc(from.templates(), lacks) {
			s.fail(Values, string(k), "leaves out {%s}, which %s.toml has", arg, Source)
		}
	}
}
