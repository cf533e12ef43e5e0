package text

import (
	"maps"
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
	for _, name := range slices.Sorted(maps.Keys(t)) {
		key := name
		if prefix != "" {
			key = prefix + "." + name
		}
		if !isName(name, "_-") {
			s.fail(Faulty, key, "a name is of small letters, digits, - and _")
			continue
		}
		switch v := t[name].(type) {
		case string:
			if prefix == "" {
				s.fail(Faulty, key, "stands in no table")
			}
			s.add(key, false, map[plural.Form]string{plural.Other: v})
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
	}
	return "a date or time"
}

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
		if _, ok := s.original.proper.texts[Key(key+"."+name)]; !ok {
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
	forms := map[plural.Form]string{}
	for _, name := range slices.Sorted(maps.Keys(t)) {
		if !slices.Contains(needed, name) {
			s.fail(Faulty, key+"."+name, "the language has no such plural form; it has %s", strings.Join(needed, ", "))
		}
		forms[categories[name]] = t[name].(string)
	}
	for _, name := range needed {
		if _, ok := t[name]; !ok {
			s.fail(Faulty, key, "the plural form %q is missing", name)
		}
	}
	s.add(key, true, forms)
}

// categories names the plural forms that whole numbers take, and other. The
// rules of CLDR repeat within a thousand, apart from the round millions.
func (r pluralRule) categories() []string {
	found := map[plural.Form]bool{plural.Other: true, r.form(1_000_000): true}
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

// add compiles a text. One with a mistake is not added.
func (s *sheet) add(key string, isPlural bool, forms map[plural.Form]string) {
	before := len(s.wrong)
	e := entry{plural: isPlural, forms: map[plural.Form]template{}, at: s.places[key]}
	if isPlural {
		e.args = []string{"n"}
	}
	for _, name := range categoryNames {
		words, ok := forms[categories[name]]
		if !ok {
			continue
		}
		t := s.template(key, words)
		e.forms[categories[name]] = t
		for _, p := range t {
			if p.arg != "" && !slices.Contains(e.args, p.arg) {
				e.args = append(e.args, p.arg)
			}
		}
	}
	if len(s.wrong) > before {
		s.failed[Key(key)] = true
		return
	}
	slices.Sort(e.args)
	s.lang.proper.texts[Key(key)] = e
}

// template cuts a text at its placeholders.
func (s *sheet) template(key, words string) template {
	if strings.TrimSpace(words) == "" {
		s.fail(Faulty, key, "is empty")
		return nil
	}
	var out template
	var plain strings.Builder
	flush := func() {
		if plain.Len() > 0 {
			out = append(out, piece{words: s.letters(key, plain.String())})
			plain.Reset()
		}
	}
	for rest := words; rest != ""; {
		i := strings.IndexAny(rest, "{}")
		if i < 0 {
			plain.WriteString(rest)
			break
		}
		plain.WriteString(rest[:i])
		brace, after := rest[i], rest[i+1:]
		if after != "" && after[0] == brace {
			plain.WriteByte(brace)
			rest = after[1:]
			continue
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
		flush()
		out = append(out, piece{arg: name})
		rest = after[end+1:]
	}
	flush()
	return out
}

// letters refuses what a phone would not show as meant, and composes the rest
// (NFC) as the alphabet and the rules have it.
func (s *sheet) letters(key, words string) string {
	for _, r := range words {
		if unicode.IsControl(r) && r != '\n' {
			s.fail(Faulty, key, "holds the control character %U", r)
			return words
		}
	}
	if s.lang.alphabet != GSM7 || IsGSM7(words) {
		return words
	}
	words = norm.NFC.String(words)
	if bad := Bad(s.lang.rules.write(words)); len(bad) > 0 {
		s.fail(Letters, key, "%q is outside the language's alphabet, gsm7, and no rule in [to-gsm7] rewrites it", bad)
	}
	return words
}
