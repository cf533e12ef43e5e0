package text

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/feature/plural"
	xlang "golang.org/x/text/language"
)

// sheet is one language being compiled, from a file or from several laid over
// each other; it gathers what is wrong.
type sheet struct {
	tag        string
	file       string           // the last that was read
	places     map[string]place // where a key stands
	original   *language        // the source language, where there is one to compare with
	doc        map[string]any
	wrong      Problems
	failed     map[Key]bool // texts that could not be compiled
	categories []string     // the plural forms of the language, once they are asked for
	lang       *language
}

// place is where a key stands.
type place struct {
	file string
	line int
}

func (p place) String() string { return fmt.Sprintf("%s:%d", p.file, p.line) }

func (s *sheet) fail(kind Kind, key, format string, a ...any) {
	at, ok := s.places[key]
	if !ok {
		at.file = s.file
	}
	s.wrong = append(s.wrong, Problem{Lang: s.tag, Kind: kind, File: at.file, Line: at.line, Key: key, What: fmt.Sprintf(format, a...)})
}

// compile compiles a language, each layer over the one before. Where it fails,
// wrong says why.
func compile(tag string, original *language, layers ...source) *sheet {
	s := &sheet{tag: tag, places: map[string]place{}, original: original, failed: map[Key]bool{},
		lang: &language{proper: &spelling{texts: map[Key]entry{}}, typed: typed{months: map[string]time.Month{}, days: map[string]int{}}}}
	parsed, err := xlang.Parse(tag)
	if err != nil || parsed.String() != tag {
		s.file = layers[len(layers)-1].name
		s.fail(Faulty, "", "the file's name is not a language tag such as en.toml or pt-BR.toml")
		return s
	}
	s.lang.plural, s.lang.point = pluralRule{parsed}, decimalPoint(parsed)
	for _, layer := range layers {
		s.read(layer)
	}
	if s.doc == nil {
		return s
	}
	s.meta(s.table("meta"))
	if rules, ok := s.doc["to-gsm7"]; ok {
		if _, ok := rules.(map[string]any); !ok {
			s.fail(Faulty, "to-gsm7", "must be a table [to-gsm7]")
		}
		s.rules(s.table("to-gsm7"))
	}
	s.calendar(s.table("calendar"))
	for _, name := range []string{"meta", "to-gsm7", "calendar"} {
		delete(s.doc, name)
	}
	s.walk("", s.doc)
	if original != nil {
		s.compare(original)
	}
	return s
}

// read lays a file over what was read before.
func (s *sheet) read(f source) {
	s.file = f.name
	data := bytes.ReplaceAll(f.data, []byte("\r\n"), []byte("\n"))
	var doc map[string]any
	if err := toml.Unmarshal(data, &doc); err != nil {
		p := Problem{Lang: s.tag, Kind: Faulty, File: f.name, What: err.Error()}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			p.Line, p.Column = at.Position()
			p.What = strings.TrimPrefix(at.Error(), "toml: ")
		}
		s.wrong = append(s.wrong, p)
		return
	}
	for key, line := range keyLines(data) {
		s.places[key] = place{f.name, line}
	}
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

func (s *sheet) table(name string) map[string]any {
	t, ok := s.doc[name].(map[string]any)
	if !ok {
		s.fail(Faulty, name, "the table [%s] is missing", name)
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
	for _, name := range slices.Sorted(maps.Keys(t)) {
		if !slices.Contains(names, name) {
			s.fail(Faulty, in+"."+name, "is not known here; known are %s", strings.Join(names, ", "))
		}
	}
}

// compare holds a language against the source language.
func (s *sheet) compare(original *language) {
	texts := original.proper.texts
	for _, k := range slices.Sorted(maps.Keys(texts)) {
		if _, ok := s.lang.proper.texts[k]; ok || s.failed[k] {
			continue
		}
		e := texts[k]
		s.fail(Missing, string(k), "is missing; %s has it", e.at)
		s.wrong[len(s.wrong)-1].Source = e.String()
	}
	for _, k := range slices.Sorted(maps.Keys(s.lang.proper.texts)) {
		from, ok := texts[k]
		if !ok {
			s.fail(Unknown, string(k), "is not in %s.toml", Source)
			delete(s.lang.proper.texts, k)
			continue
		}
		for _, arg := range s.lang.proper.texts[k].args {
			if !slices.Contains(from.args, arg) {
				s.fail(Values, string(k), "{%s} is not given to this text in %s.toml", arg, Source)
				s.failed[k] = true
			}
		}
	}
}

// usable reports whether a draft can have the language.
func (s *sheet) usable() bool {
	c := s.lang.proper.calendar
	return s.lang.alphabet != 0 && c.weekdays != nil && c.months != nil && c.date != nil && c.dayMonth != nil
}

// hole stands in a draft for a text that is missing or faulty. It is as short as
// can be: what is too long with it is too long without it.
var hole = entry{forms: map[plural.Form]template{plural.Other: {{words: "?"}}}}

// finish puts holes where a text is wanting, and makes both spellings.
func (s *sheet) finish() {
	l := s.lang
	if s.original != nil {
		for k := range s.original.proper.texts {
			if _, ok := l.proper.texts[k]; !ok || s.failed[k] {
				l.proper.texts[k] = hole
			}
		}
	}
	l.keys = slices.Sorted(maps.Keys(l.proper.texts))
	l.spelling = l.proper.written(l.rules)
}
