package text

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/feature/plural"
	xlang "golang.org/x/text/language"
)

// sheet is one language file being compiled; it gathers what is wrong.
type sheet struct {
	file  string
	lines map[string]int // where a key stands
	wrong []error
	lang  *language
}

func (s *sheet) fail(key, format string, a ...any) {
	place := s.file
	if n := s.lines[key]; n > 0 {
		place = fmt.Sprintf("%s:%d", s.file, n)
	}
	if key != "" {
		place += ": " + key
	}
	s.wrong = append(s.wrong, fmt.Errorf("%s: %s", place, fmt.Sprintf(format, a...)))
}

// compile reads a whole file. Where it fails, s.wrong says why.
func (s *sheet) compile(tag string, data []byte) *language {
	s.lang = &language{texts: map[Key]entry{}}
	parsed, err := xlang.Parse(tag)
	if err != nil || parsed.String() != tag {
		s.fail("", "the file's name is not a language tag such as en.toml or pt-BR.toml")
		return s.lang
	}
	s.lang.plural = pluralRule{parsed}

	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	var doc map[string]any
	if err := toml.Unmarshal(data, &doc); err != nil {
		var at *toml.DecodeError
		if errors.As(err, &at) {
			row, column := at.Position()
			s.wrong = append(s.wrong, fmt.Errorf("%s:%d:%d: %s", s.file, row, column, strings.TrimPrefix(at.Error(), "toml: ")))
		} else {
			s.fail("", "%v", err)
		}
		return s.lang
	}
	s.lines = keyLines(data)
	s.meta(s.table(doc, "meta"))
	s.calendar(s.table(doc, "calendar"))
	delete(doc, "meta")
	delete(doc, "calendar")
	s.walk("", doc)
	s.lang.keys = slices.Sorted(maps.Keys(s.lang.texts))
	return s.lang
}

func (s *sheet) table(doc map[string]any, name string) map[string]any {
	t, ok := doc[name].(map[string]any)
	if !ok {
		s.fail(name, "the table [%s] is missing", name)
	}
	return t
}

func (s *sheet) meta(t map[string]any) {
	if t == nil {
		return
	}
	s.known("meta", t, "name", "alphabet", "reviewed")
	s.lang.name, _ = t["name"].(string)
	if strings.TrimSpace(s.lang.name) == "" {
		s.fail("meta.name", "must be the language's own name")
	}
	switch t["alphabet"] {
	case "gsm7":
		s.lang.alphabet = GSM7
	case "ucs2":
		s.lang.alphabet = UCS2
	default:
		s.fail("meta.alphabet", `must be "gsm7" or "ucs2"`)
	}
	var ok bool
	if s.lang.reviewed, ok = t["reviewed"].(bool); !ok {
		s.fail("meta.reviewed", "must be true or false")
	}
}

func (s *sheet) known(in string, t map[string]any, names ...string) {
	for _, name := range slices.Sorted(maps.Keys(t)) {
		if !slices.Contains(names, name) {
			s.fail(in+"."+name, "is not known here; known are %s", strings.Join(names, ", "))
		}
	}
}

func (s *sheet) calendar(t map[string]any) {
	if t == nil {
		return
	}
	s.known("calendar", t, "weekdays", "months", "month_words", "date", "day_month")
	c := &s.lang.calendar
	c.weekdays = s.list(t, "weekdays", 7)
	c.months = s.list(t, "months", 12)
	c.date = s.pattern(t, "date", "weekday", "day", "month")
	c.dayMonth = s.pattern(t, "day_month", "day", "month")
	c.words = map[string]time.Month{}
	s.monthWords(c.months, "months")
	if _, ok := t["month_words"]; ok {
		s.monthWords(s.list(t, "month_words", 12), "month_words")
	}
}

// monthWords notes what a grower may type for each month. A word with a digit
// in it could not be told from a number, so it is left out.
func (s *sheet) monthWords(list []string, name string) {
	for i, words := range list {
		for _, w := range strings.Fields(strings.ToLower(words)) {
			if strings.ContainsFunc(w, unicode.IsNumber) {
				continue
			}
			w = strings.Trim(w, ".")
			m := time.Month(i + 1)
			if other, ok := s.lang.calendar.words[w]; ok && other != m {
				s.fail("calendar."+name, "%q stands for month %d and month %d", w, other, m)
			}
			s.lang.calendar.words[w] = m
		}
	}
}

func (s *sheet) list(t map[string]any, name string, n int) []string {
	key := "calendar." + name
	list, _ := t[name].([]any)
	out := make([]string, 0, n)
	for _, v := range list {
		if w, ok := v.(string); ok && strings.TrimSpace(w) != "" {
			s.letters(key, w)
			out = append(out, w)
		}
	}
	if len(list) != n || len(out) != n {
		s.fail(key, "must be a list of %d words", n)
		return nil
	}
	return out
}

func (s *sheet) pattern(t map[string]any, name string, allowed ...string) template {
	key := "calendar." + name
	words, ok := t[name].(string)
	if !ok {
		s.fail(key, "must be a pattern such as {day} {month}")
		return nil
	}
	pattern := s.template(key, words)
	var args []string
	for _, p := range pattern {
		if p.arg != "" {
			args = append(args, p.arg)
		}
	}
	for _, a := range args {
		if !slices.Contains(allowed, a) {
			s.fail(key, "{%s} is not known here; known are %s", a, strings.Join(allowed, ", "))
		}
	}
	for _, need := range []string{"day", "month"} {
		if !slices.Contains(args, need) {
			s.fail(key, "{%s} is missing", need)
		}
	}
	return pattern
}

var nameForm = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]*$`)

// walk compiles a table of texts and the tables in it.
func (s *sheet) walk(prefix string, t map[string]any) {
	if len(t) == 0 && prefix != "" {
		s.fail(prefix, "is empty")
	}
	for _, name := range slices.Sorted(maps.Keys(t)) {
		key := name
		if prefix != "" {
			key = prefix + "." + name
		}
		if !nameForm.MatchString(name) {
			s.fail(key, "a name is of small letters, digits, - and _")
			continue
		}
		switch v := t[name].(type) {
		case string:
			if prefix == "" {
				s.fail(key, "stands in no table")
			}
			s.add(key, false, map[plural.Form]string{plural.Other: v})
		case map[string]any:
			if isPlural(v) {
				s.plural(key, v)
			} else {
				s.walk(key, v)
			}
		default:
			s.fail(key, "is %s, not a text: put it in quotes", kindOf(v))
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

// plural compiles a text with forms: those that the language uses for whole
// numbers, each and no other, and "other" in any case.
func (s *sheet) plural(key string, t map[string]any) {
	needed := s.lang.plural.categories()
	forms := map[plural.Form]string{}
	for _, name := range slices.Sorted(maps.Keys(t)) {
		if !slices.Contains(needed, name) {
			s.fail(key+"."+name, "the language has no such plural form; it has %s", strings.Join(needed, ", "))
		}
		forms[categories[name]] = t[name].(string)
	}
	for _, name := range needed {
		if _, ok := t[name]; !ok {
			s.fail(key, "the plural form %q is missing", name)
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
	for _, name := range []string{"zero", "one", "two", "few", "many", "other"} {
		if found[categories[name]] {
			names = append(names, name)
		}
	}
	return names
}

func (s *sheet) add(key string, isPlural bool, forms map[plural.Form]string) {
	e := entry{plural: isPlural, forms: map[plural.Form]template{}, line: s.lines[key]}
	args := map[string]bool{}
	if isPlural {
		args["n"] = true
	}
	for _, form := range slices.Sorted(maps.Keys(forms)) {
		t := s.template(key, forms[form])
		e.forms[form] = t
		for _, p := range t {
			if p.arg != "" {
				args[p.arg] = true
			}
		}
	}
	e.args = slices.Sorted(maps.Keys(args))
	s.lang.texts[Key(key)] = e
}

var argForm = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

// template cuts a text at its placeholders.
func (s *sheet) template(key, words string) template {
	if strings.TrimSpace(words) == "" {
		s.fail(key, "is empty")
		return nil
	}
	var out template
	var plain strings.Builder
	flush := func() {
		if plain.Len() > 0 {
			s.letters(key, plain.String())
			out = append(out, piece{words: plain.String()})
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
			s.fail(key, "%q has a brace without its fellow; a brace itself is written twice", words)
			return nil
		}
		name := after[:end]
		if !argForm.MatchString(name) {
			s.fail(key, "{%s} is not a placeholder: a name of small letters, digits and _", name)
			return nil
		}
		flush()
		out = append(out, piece{arg: name})
		rest = after[end+1:]
	}
	flush()
	return out
}

// letters refuses what a phone would not show as meant.
func (s *sheet) letters(key, words string) {
	for _, r := range words {
		if unicode.IsControl(r) && r != '\n' {
			s.fail(key, "holds the control character %U", r)
			return
		}
	}
	if s.lang.alphabet != GSM7 {
		return
	}
	if bad := Bad(words); len(bad) > 0 {
		s.fail(key, "%q is outside the language's alphabet, gsm7", bad)
	}
}

// compare holds a language against the source language.
func (s *sheet) compare(lang, source *language) []error {
	for _, k := range source.keys {
		if _, ok := lang.texts[k]; !ok {
			s.fail(string(k), "is missing; %s.toml has it in line %d", Source, source.texts[k].line)
		}
	}
	for _, k := range lang.keys {
		from, ok := source.texts[k]
		if !ok {
			s.fail(string(k), "is not in %s.toml", Source)
			continue
		}
		for _, arg := range lang.texts[k].args {
			if !slices.Contains(from.args, arg) {
				s.fail(string(k), "{%s} is not given to this text in %s.toml", arg, Source)
			}
		}
	}
	return s.wrong
}
