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

// compiler compiles one language and collects the problems. A language may have several files (layers), of which each
// replaces texts of the files before it.
type compiler struct {
	tag        string
	file       string // name of the last layer, for problems that have no position
	read       *layers
	original   *compiler // compiler of the source language; nil if there is no source language
	doc        map[string]any
	problems   Problems
	failed     map[Key]bool // keys of texts that could not be compiled
	categories []string     // names of the language's plural forms; computed for the first plural text
	pieces     []piece      // pieces of all templates in one array, because one array for each template is slow
	lang       *language
}

// source is one language file.
type source struct {
	name string
	data []byte
	own  bool // from the operator's folder
}

// layers are the files of a language that could be read, each of which replaces texts of the files before it.
type layers struct {
	files  []source
	placed sync.Once // the positions are found only if a message names one
	places map[string]Position
}

// at returns the position of a key, or the zero Position if no file has the key.
func (l *layers) at(key string) Position {
	l.placed.Do(func() {
		l.places = map[string]Position{}
		for _, f := range l.files {
			for key, line := range linesOfKeys(f.data) {
				l.places[key] = Position{f.name, line, f.own}
			}
		}
	})
	return l.places[key]
}

// compile compiles a language. Each file replaces texts and settings of the files before it. The problems are in the
// returned compiler.
func compile(tag string, original *compiler, files ...source) *compiler {
	s := &compiler{tag: tag, file: files[len(files)-1].name, original: original, failed: map[Key]bool{},
		read: &layers{},
		lang: &language{texts: map[Key]entry{}, said: map[string][]string{},
			typed: typed{months: map[string]time.Month{}, days: map[string]DayWord{}}}}
	s.lang.files = s.read
	if original != nil { // a translation needs about as much memory as the source language
		s.lang.texts, s.pieces = make(map[Key]entry, len(original.lang.texts)), make([]piece, 0, cap(original.pieces))
	}
	parsed, err := xlang.Parse(tag)
	if err != nil || parsed.String() != tag {
		s.fail(Faulty, "", "the file's name is not a language tag such as en.toml or pt-BR.toml")
		return s
	}
	s.lang.plural, s.lang.point = pluralRule{parsed}, decimalPoint(parsed)
	for _, f := range files {
		s.addLayer(f)
	}
	if s.doc == nil {
		return s
	}
	s.meta(s.table("meta"))
	if _, ok := s.doc["to-gsm7"]; ok {
		s.rules(s.table("to-gsm7"))
	}
	s.calendar(s.table("calendar"))
	s.saidTable()
	if original != nil {
		s.compareSaid()
	}
	for _, name := range []string{"meta", "to-gsm7", "calendar", "said"} {
		delete(s.doc, name)
	}
	s.addTable("", s.doc)
	if original != nil {
		s.compare()
	}
	return s
}

// addLayer reads one file. The file's texts and settings replace those of the files that were read before.
func (s *compiler) addLayer(f source) {
	var doc map[string]any
	if err := toml.Unmarshal(bytes.ReplaceAll(f.data, []byte("\r\n"), []byte("\n")), &doc); err != nil {
		p := Problem{Lang: s.tag, Kind: Faulty, File: f.name, What: err.Error()}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			p.Line, p.Column = at.Position()
			p.What = strings.TrimPrefix(at.Error(), "toml: ")
		}
		s.problems = append(s.problems, p)
		return
	}
	s.read.files = append(s.read.files, f)
	if s.doc == nil {
		s.doc = doc
		return
	}
	overlay(s.doc, doc)
}

// overlay copies the tables and values of over into under. A text with plural forms is replaced as a whole, so that the
// result never mixes forms of two texts.
func overlay(under, over map[string]any) {
	for name, v := range over {
		had, was := under[name].(map[string]any)
		now, is := v.(map[string]any)
		if was && is && !isPlural(had) {
			overlay(had, now)
			continue
		}
		under[name] = v
	}
}

func (s *compiler) fail(kind Kind, key, format string, a ...any) {
	at := s.read.at(key)
	if at.File == "" {
		at.File = s.file
	}
	what := fmt.Sprintf(format, a...)
	s.problems = append(s.problems,
		Problem{Lang: s.tag, Kind: kind, File: at.File, Line: at.Line, Key: key, What: what})
}

// table returns a table that the document must have. If the table is missing, it records a problem and returns nil.
func (s *compiler) table(name string) map[string]any {
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

func (s *compiler) meta(t map[string]any) {
	if t == nil {
		return
	}
	s.checkNames("meta", t, "name", "alphabet", "reviewed")
	s.lang.name, _ = t["name"].(string)
	if strings.TrimSpace(s.lang.name) == "" {
		s.fail(Faulty, "meta.name", "must be the language's own name")
	}
	s.lang.name = norm.NFC.String(s.lang.name)
	s.checkVisible("meta.name", s.lang.name)
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

func (s *compiler) checkNames(in string, t map[string]any, names ...string) {
	for name := range t {
		if !slices.Contains(names, name) {
			s.fail(Faulty, in+"."+name, "is not known here; known are %s", strings.Join(names, ", "))
		}
	}
}

// usable reports whether the language is complete enough to be part of a draft.
func (s *compiler) usable() bool {
	c := s.lang.calendar
	return s.lang.alphabet != 0 && c.weekdays != nil && c.months != nil && c.date != nil
}

// missingText replaces, in a draft, a text that is missing or faulty. It is as short as possible, so that it never
// makes a screen too long.
var missingText = entry{single: template{{words: "?", proper: "?"}}}

// finish puts missingText into the language in place of each text that is missing or faulty. Then it sorts the problems
// by file and line.
func (s *compiler) finish() {
	if len(s.problems) == 0 {
		return
	}
	if s.original != nil {
		for k := range s.original.lang.texts {
			if _, ok := s.lang.texts[k]; !ok || s.failed[k] {
				s.lang.texts[k] = missingText
			}
		}
	}
	slices.SortStableFunc(s.problems, func(a, b Problem) int {
		withLine := min(b.Line, 1) - min(a.Line, 1) // sort problems without a line after the others
		return cmp.Or(withLine, cmp.Compare(a.File, b.File), a.Line-b.Line, cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Key, b.Key))
	})
}

// checkNameClash reports two languages that have the same own name, because growers could not distinguish them in a
// list.
func checkNameClash(compilers []*compiler) {
	seen := map[string]*compiler{}
	for _, s := range compilers {
		name := strings.ToLower(strings.TrimSpace(s.lang.name))
		if other := seen[name]; other != nil && name != "" {
			at := other.read.at("meta.name")
			s.fail(Clash, "meta.name", "%q is the name of %s too, at %s", s.lang.name, other.tag, at)
			continue
		}
		seen[name] = s
	}
}

// sortedKeys returns the keys of a map, sorted.
func sortedKeys[K cmp.Ordered, V any](t map[K]V) []K { return slices.Sorted(maps.Keys(t)) }

// calendar compiles the table [calendar].
func (s *compiler) calendar(t map[string]any) {
	if t == nil {
		return
	}
	s.checkNames("calendar", t, "weekdays", "months", "month_words", "date", "today", "yesterday", "tomorrow",
		"before-yesterday", "after-tomorrow")
	c := &s.lang.calendar
	c.weekdays = s.list(t, "weekdays", 7)
	c.months = s.list(t, "months", 12)
	c.date = s.datePattern(t)
	s.monthWords(c.months, "months")
	if _, ok := t["month_words"]; ok {
		s.monthWords(s.list(t, "month_words", 12), "month_words")
	}
	for _, d := range dayNames {
		s.dayWords(t, d.name, d.days)
	}
}

func (s *compiler) list(t map[string]any, name string, n int) template {
	key := "calendar." + name
	list, _ := t[name].([]any)
	out := make(template, 0, n)
	for _, v := range list {
		if w, ok := v.(string); ok && strings.TrimSpace(w) != "" {
			out = append(out, s.spell(key, w))
		}
	}
	if len(list) != n || len(out) != n {
		s.fail(Faulty, key, "must be a list of %d words", n)
		return nil
	}
	return out
}

func (s *compiler) datePattern(t map[string]any) template {
	const key = "calendar.date"
	words, ok := t["date"].(string)
	if !ok {
		s.fail(Faulty, key, "must be a pattern such as {day} {month}")
		return nil
	}
	pattern := s.template(key, words)
	known := []string{"weekday", "day", "month"}
	for _, p := range pattern {
		if p.arg != "" && !slices.Contains(known, p.arg) {
			s.fail(Faulty, key, "{%s} is not known here; known are %s", p.arg, strings.Join(known, ", "))
		}
	}
	for _, need := range known[1:] {
		if !pattern.uses(need) {
			s.fail(Faulty, key, "{%s} is missing", need)
		}
	}
	return pattern
}
