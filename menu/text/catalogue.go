package text

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"time"
)

// Key names a text: "home.ask".
type Key string

// Args are the named values of a text: each a string, an int, a Verbatim, a
// Phrase, a Date or a DayMonth.
type Args map[string]any

// Verbatim is a value written as it stands, even in letters that the text's
// language does not use: another language's name for itself.
type Verbatim string

// Phrase is a value that is itself a text of the catalogue, in the language of
// the text it stands in.
type Phrase struct {
	Key  Key
	Args Args
}

// Date is a value written with the language's pattern for a date.
type Date struct {
	Weekday time.Weekday
	Day     int
	Month   time.Month
}

// DayMonth is a value written with the language's shorter pattern.
type DayMonth struct {
	Day   int
	Month time.Month
}

// What can be wrong when a text is asked for.
var (
	ErrLanguage = errors.New("language not in the catalogue")
	ErrKey      = errors.New("text not in the catalogue")
	ErrArg      = errors.New("value of a text missing or of a wrong type")
)

// Source is the language that the others are translated from: where the
// catalogue has it, they must have its texts, no more and no fewer, and may use
// only its values.
const Source = "en"

// Catalogue is every text in every language; immutable, safe for concurrent
// use.
type Catalogue struct {
	languages map[string]*language
	tags      []string
}

type language struct {
	name     string
	alphabet Alphabet
	reviewed bool
	calendar calendar
	plural   pluralRule
	texts    map[Key]entry
	keys     []Key
}

//go:embed *.toml
var files embed.FS

// Default is the catalogue that the program carries.
func Default() (*Catalogue, error) { return Load(files) }

// Load reads and compiles every *.toml file in the root of fsys. Its error
// joins all that is wrong, each with file, line and key.
func Load(fsys fs.FS) (*Catalogue, error) {
	names, err := fs.Glob(fsys, "*.toml")
	if err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	if len(names) == 0 {
		return nil, errors.New("text: no language: there is no .toml file")
	}
	c := &Catalogue{languages: map[string]*language{}}
	var wrong []error
	sheets := map[string]*sheet{}
	for _, name := range names {
		data, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, fmt.Errorf("text: %w", err)
		}
		tag := strings.TrimSuffix(path.Base(name), ".toml")
		s := &sheet{file: name}
		lang := s.compile(tag, data)
		wrong = append(wrong, s.wrong...)
		c.languages[tag], sheets[tag] = lang, s
	}
	if len(wrong) == 0 {
		for _, tag := range slices.Sorted(maps.Keys(c.languages)) {
			if source := c.languages[Source]; source != nil && tag != Source {
				wrong = append(wrong, sheets[tag].compare(c.languages[tag], source)...)
			}
		}
	}
	if len(wrong) > 0 {
		return nil, fmt.Errorf("text: %w", errors.Join(wrong...))
	}
	c.tags = slices.Sorted(maps.Keys(c.languages))
	return c, nil
}

// Text is the text k in a language with its values filled in. A plural text
// takes its form by the int "n". In a gsm7 language a string value keeps to
// that alphabet too (ToGSM7), whatever a grower typed. It fails with
// ErrLanguage, ErrKey or ErrArg; values that the text does not use are ignored.
func (c *Catalogue) Text(lang string, k Key, a Args) (string, error) {
	l, ok := c.languages[lang]
	if !ok {
		return "", fmt.Errorf("text: %q: %w", lang, ErrLanguage)
	}
	var b strings.Builder
	if err := l.write(&b, k, a, 0); err != nil {
		return "", fmt.Errorf("text: %s in %s: %w", k, lang, err)
	}
	return b.String(), nil
}

// Languages lists the tags of the catalogue's languages, sorted.
func (c *Catalogue) Languages() []string { return slices.Clone(c.tags) }

// Keys lists the texts of a language, sorted; nil for an unknown language.
func (c *Catalogue) Keys(lang string) []Key { return slices.Clone(c.language(lang).keys) }

// Args lists the names of the values that a text needs, sorted; "n" is among
// them for a plural text.
func (c *Catalogue) Args(lang string, k Key) []string {
	return slices.Clone(c.language(lang).texts[k].args)
}

// Name is what a language calls itself; "" for an unknown one.
func (c *Catalogue) Name(lang string) string { return c.language(lang).name }

// Alphabet is the alphabet that a language's texts keep to; 0 for an unknown
// language.
func (c *Catalogue) Alphabet(lang string) Alphabet { return c.language(lang).alphabet }

// Reviewed reports that a fluent person has read the language's texts.
func (c *Catalogue) Reviewed(lang string) bool { return c.language(lang).reviewed }

// Date writes a date in the language's manner; "" for an unknown language or a
// weekday or month that does not exist.
func (c *Catalogue) Date(lang string, w time.Weekday, day int, m time.Month) string {
	s, _ := c.language(lang).value(Date{w, day, m}, 0)
	return s
}

// Months lists the names of the months, January first; nil for an unknown
// language.
func (c *Catalogue) Months(lang string) []string {
	return slices.Clone(c.language(lang).calendar.months)
}

// MonthWords maps every word for a month that a grower may type, in lower
// case, to the month.
func (c *Catalogue) MonthWords(lang string) map[string]time.Month {
	return maps.Clone(c.language(lang).calendar.words)
}

func (c *Catalogue) language(lang string) *language {
	if l := c.languages[lang]; l != nil {
		return l
	}
	return &language{}
}
