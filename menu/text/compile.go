package text

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/pelletier/go-toml/v2"
	xlang "golang.org/x/text/language"
	"golang.org/x/text/unicode/norm"
)

// sheet is one language being compiled, from a file or from several laid over
// each other; it gathers what is wrong.
type sheet struct {
	tag        string
	file       string // the last of its layers
	read       []source
	places     func() map[string]place // where a key stands; made only where something is told
	original   *sheet                  // of the source language, where there is one to compare with
	doc        map[string]any
	wrong      Problems
	failed     map[Key]bool // texts that could not be compiled
	categories []string     // the plural forms of the language, once they are asked for
	pieces     []piece      // of all templates, side by side: one by one they would make the start slow
	lang       *language
}

// source is a language file.
type source struct {
	name string
	data []byte
}

// place is where a key stands.
type place struct {
	file string
	line int
}

func (p place) String() string { return fmt.Sprintf("%s:%d", p.file, p.line) }

// compile compiles a language, each layer over the one before. Where it fails,
// wrong says why.
func compile(tag string, original *sheet, layers ...source) *sheet {
	s := &sheet{tag: tag, file: layers[len(layers)-1].name, original: original, failed: map[Key]bool{},
		lang: &language{texts: map[Key]entry{}, typed: typed{months: map[string]time.Month{}, days: map[string]int{}}}}
	s.places = sync.OnceValue(s.findPlaces)
	if original != nil { // much as large
		s.lang.texts, s.pieces = make(map[Key]entry, len(original.lang.texts)), make([]piece, 0, cap(original.pieces))
	}
	parsed, err := xlang.Parse(tag)
	if err != nil || parsed.String() != tag {
		s.fail(Faulty, "", "the file's name is not a language tag such as en.toml or pt-BR.toml")
		return s
	}
	s.lang.plural, s.lang.point = pluralRule{parsed}, decimalPoint(parsed)
	for _, layer := range layers {
		s.layer(layer)
	}
	if s.doc == nil {
		return s
	}
	s.meta(s.table("meta"))
	if _, ok := s.doc["to-gsm7"]; ok {
		s.rules(s.table("to-gsm7"))
	}
	s.calendar(s.table("calendar"))
	for _, name := range []string{"meta", "to-gsm7", "calendar"} {
		delete(s.doc, name)
	}
	s.walk("", s.doc)
	if original != nil {
		s.compare()
	}
	return s
}

// layer lays a file over what was read before.
func (s *sheet) layer(f source) {
	var doc map[string]any
	if err := toml.Unmarshal(bytes.ReplaceAll(f.data, []byte("\r\n"), []byte("\n")), &doc); err != nil {
		p := Problem{Lang: s.tag, Kind: Faulty, File: f.name, What: err.Error()}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			p.Line, p.Column = at.Position()
			p.What = strings.TrimPrefix(at.Error(), "toml: ")
		}
		s.wrong = append(s.wrong, p)
		return
	}
	s.read = append(s.read, f)
	if s.doc == nil {
		s.doc = doc
		return
	}
	lay(s.doc, doc)
}

// lay puts the tables and values of over into under. A text with plural forms
// is put there whole.
func lay(under, over map[string]any) {
	for name, v := range over {
		had, was := under[name].(map[string]any)
		now, is := v.(map[string]any)
		if was && is && !isPlural(had) {
			lay(had, now)
			continue
		}
		under[name] = v
	}
}

func (s *sheet) fail(kind Kind, key, format string, a ...any) {
	at, ok := s.places()[key]
	if !ok {
		at.file = s.file
	}
	s.wrong = append(s.wrong, Problem{Lang: s.tag, Kind: kind, File: at.file, Line: at.line, Key: key, What: fmt.Sprintf(format, a...)})
}

// findPlaces finds the line of every key in the layers.
func (s *sheet) findPlaces() map[string]place {
	places := map[string]place{}
	for _, f := range s.read {
		for key, line := range keyLines(f.data) {
			places[key] = place{f.name, line}
		}
	}
	return places
}

// table is a table of the document's head.
func (s *sheet) table(name string) map[string]any {
	v, ok := s.doc[name]
	t, isTable := v.(map[string]any)
	switch {
	case !ok:
		s.fail(Faulty, name, "the table [%s] is missing", name)
	case !isTable:
		s.fail(Faulty, name, "is %s: it must be a table [%s]", kindOf(v), name)
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
		s.fail(Faulty, "meta.name", "must be the language's own name")
	}
	s.lang.name = norm.NFC.String(s.lang.name)
	s.visible("meta.name", s.lang.name)
	switch t["alphabet"] {
	case "gsm7":
		s.lang.alphabet = GSM7
	case "ucs2":
		s.lang.alphabet = UCS2
	default:
		s.fail(Faulty, "meta.alphabet", `must be "gsm7" or "ucs2"`)
	}
	var ok bool
	if s.lang.reviewed, ok = t["reviewed"].(bool); !ok {
		s.fail(Faulty, "meta.reviewed", "must be true or false")
	}
}

func (s *sheet) known(in string, t map[string]any, names ...string) {
	for name := range t {
		if !slices.Contains(names, name) {
			s.fail(Faulty, in+"."+name, "is not known here; known are %s", strings.Join(names, ", "))
		}
	}
}

// usable reports whether a draft can have the language.
func (s *sheet) usable() bool {
	c := s.lang.calendar
	return s.lang.alphabet != 0 && c.weekdays != nil && c.months != nil && c.date != nil && c.dayMonth != nil
}

// hole stands in a draft for a text that is missing or faulty. It is as short as
// can be: what is too long with it is too long without it.
var hole = entry{single: template{{words: "?", proper: "?"}}}

// finish puts holes where a text is wanting, and what is wrong in the order of
// the file, what stands nowhere at the end.
func (s *sheet) finish() {
	if len(s.wrong) == 0 {
		return
	}
	if s.original != nil {
		for k := range s.original.lang.texts {
			if _, ok := s.lang.texts[k]; !ok || s.failed[k] {
				s.lang.texts[k] = hole
			}
		}
	}
	nowhere := func(p Problem) int {
		if p.Line == 0 {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(s.wrong, func(a, b Problem) int {
		return cmp.Or(nowhere(a)-nowhere(b), cmp.Compare(a.File, b.File), a.Line-b.Line, cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Key, b.Key))
	})
}

// names checks that no two languages call themselves the same: a grower could
// not tell them apart.
func names(sheets []*sheet) {
	seen := map[string]*sheet{}
	for _, s := range sheets {
		name := strings.ToLower(strings.TrimSpace(s.lang.name))
		if other := seen[name]; other != nil && name != "" {
			s.fail(Clash, "meta.name", "%q is the name of %s too, at %s", s.lang.name, other.tag, other.places()["meta.name"])
			continue
		}
		seen[name] = s
	}
}

// sortedKeys lists the names of a table in their order.
func sortedKeys[K cmp.Ordered, V any](t map[K]V) []K { return slices.Sorted(maps.Keys(t)) }

// calendar compiles the table [calendar].
func (s *sheet) calendar(t map[string]any) {
	if t == nil {
		return
	}
	s.known("calendar", t, "weekdays", "months", "month_words", "date", "day_month", "today", "yesterday")
	c := &s.lang.calendar
	c.weekdays = s.list(t, "weekdays", 7)
	c.months = s.list(t, "months", 12)
	c.date = s.pattern(t, "date", "weekday", "day", "month")
	c.dayMonth = s.pattern(t, "day_month", "day", "month")
	s.monthWords(c.months, "months")
	if _, ok := t["month_words"]; ok {
		s.monthWords(s.list(t, "month_words", 12), "month_words")
	}
	s.dayWords(t, "today", 0)
	s.dayWords(t, "yesterday", -1)
}

func (s *sheet) list(t map[string]any, name string, n int) template {
	key := "calendar." + name
	list, _ := t[name].([]any)
	out := make(template, 0, n)
	for _, v := range list {
		if w, ok := v.(string); ok && strings.TrimSpace(w) != "" {
			out = append(out, s.letters(key, w))
		}
	}
	if len(list) != n || len(out) != n {
		s.fail(Faulty, key, "must be a list of %d words", n)
		return nil
	}
	return out
}

func (s *sheet) pattern(t map[string]any, name string, allowed ...string) template {
	key := "calendar." + name
	words, ok := t[name].(string)
	if !ok {
		s.fail(Faulty, key, "must be a pattern such as {day} {month}")
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
			s.fail(Faulty, key, "{%s} is not known here; known are %s", a, strings.Join(allowed, ", "))
		}
	}
	for _, need := range []string{"day", "month"} {
		if !slices.Contains(args, need) {
			s.fail(Faulty, key, "{%s} is missing", need)
		}
	}
	return pattern
}
