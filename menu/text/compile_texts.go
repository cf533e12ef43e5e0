package text

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/unicode/norm"
)

// isName reports whether s has only small letters, digits and the given marks, and does not begin with a mark.
func isName(s, marks string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= '0' && r <= '9'
		if !letter && (i == 0 || !strings.ContainsRune(marks, r)) {
			return false
		}
	}
	return s != ""
}

// addTable compiles all texts in a table and in the tables inside it.
func (s *compiler) addTable(prefix string, t map[string]any) {
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
				s.addTable(key, v)
			}
		default:
			s.fail(Faulty, key, "is %s, not a text: put it in quotes", kindOf(v))
		}
	}
}

// kindOf returns the type of a TOML value in words, such as "a number", for the message of a problem.
func kindOf(v any) string {
	kinds := map[reflect.Kind]string{reflect.Bool: "true or false", reflect.Int64: "a number",
		reflect.Float64: "a number", reflect.Slice: "a list", reflect.String: "a text", reflect.Map: "a table"}
	return cmp.Or(kinds[reflect.TypeOf(v).Kind()], "a date or time")
}

const pluralForms = 6 // the type plural.Form has so many values

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

// tableOfTexts reports whether t is a table of texts and not one plural text: the source language has a text for each
// name in t. The check is needed if a translation has only one text of a table, and the name of this text is "other",
// which is also the name of a plural form.
func (s *compiler) tableOfTexts(key string, t map[string]any) bool {
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

// plural compiles a plural text. The text must have every plural form that the language uses for whole numbers, always
// including "other", and no further form.
func (s *compiler) plural(key string, t map[string]any) {
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

// categories returns the names of the plural forms that the language uses for whole numbers, and "other". categories
// tries the numbers up to 1000 and round millions, because the rules of the CLDR repeat after 1000.
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

// add compiles a text, which has either one form (words) or several (forms). A text with a problem is not added.
func (s *compiler) add(key, words string, forms map[string]any) {
	before := len(s.problems)
	var e entry
	if forms == nil {
		e.single = s.template(key, words)
	} else {
		e.forms = make([]template, pluralForms)
		for name, words := range forms {
			e.forms[categories[name]] = s.template(key, words.(string))
		}
	}
	if len(s.problems) > before {
		s.failed[Key(key)] = true
		return
	}
	s.lang.texts[Key(key)] = e
}

// template divides a text at its placeholders.
func (s *compiler) template(key, words string) template {
	if strings.TrimSpace(words) == "" {
		s.fail(Faulty, key, "is empty")
		return nil
	}
	start := len(s.pieces)
	for rest := words; rest != ""; {
		i := strings.IndexAny(rest, "{}")
		if i < 0 {
			s.pieces = append(s.pieces, s.spell(key, rest))
			break
		}
		brace, after := rest[i], rest[i+1:]
		if after != "" && after[0] == brace {
			s.pieces = append(s.pieces, s.spell(key, rest[:i+1]))
			rest = after[1:]
			continue
		}
		if i > 0 {
			s.pieces = append(s.pieces, s.spell(key, rest[:i]))
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

// spell composes the letters of the words (Unicode NFC) and applies the rules of the language. spell reports characters
// that are invisible, and characters that the language's alphabet lacks.
func (s *compiler) spell(key, words string) piece {
	if !s.checkVisible(key, words) || IsGSM7(words) {
		return piece{words: words, proper: words}
	}
	words = norm.NFC.String(words)
	if s.lang.alphabet != GSM7 {
		return piece{words: words, proper: words}
	}
	written := s.lang.rules.write(words)
	if bad := NotGSM7(written); len(bad) > 0 {
		s.fail(Letters, key, "%q is outside the language's alphabet, gsm7, and no rule in [to-gsm7] rewrites it", bad)
	}
	return piece{words: written, proper: words}
}

// checkVisible reports characters that nobody can see in a file: control characters, characters that change the
// direction of the text (Unicode Bidi_Control), and spaces without width. The joiners U+200C and U+200D are allowed,
// because they shape the letters of many scripts.
func (s *compiler) checkVisible(key, words string) bool {
	for _, r := range words {
		switch {
		case r >= ' ' && r < '\x7F': // ASCII characters are checked first, which is faster than the Unicode tables
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

// compare reports texts that only this language or only the source language has, and texts whose values differ.
func (s *compiler) compare() {
	texts := s.original.lang.texts
	for k, from := range texts {
		if e, ok := s.lang.texts[k]; ok {
			s.values(k, e, from)
		} else if !s.failed[k] {
			s.fail(Missing, string(k), "is missing; %s has it", s.original.read.at(string(k)))
			s.problems[len(s.problems)-1].Source = from.String()
		}
	}
	for k := range s.lang.texts {
		if _, ok := texts[k]; !ok {
			s.fail(Unknown, string(k), "is not in %s.toml", Source)
			delete(s.lang.texts, k)
		}
	}
}

// values checks that the text e uses the same values as the source text, which is the parameter from. A plural form of
// e may leave out a value only if the source text, or one of its plural forms, leaves out the same value. The number n
// may be left out of every form of a plural text, as in "one day ago".
func (s *compiler) values(k Key, e, from entry) {
	var room [8]string // an array on the stack is fast; values is called for every text of every language
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
		lacks := func(t template) bool { return t != nil && !t.uses(arg) }
		someLack, someMay := slices.ContainsFunc(e.templates(), lacks), slices.ContainsFunc(from.templates(), lacks)
		if !e.uses(arg) || someLack && !someMay {
			s.fail(Values, string(k), "leaves out {%s}, which %s.toml has", arg, Source)
		}
	}
}
