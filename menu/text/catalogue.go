package text

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Key is the name of a text, such as "home.ask".
type Key string

// Args has the values for the placeholders of a text; the key is the placeholder's name. A value is a string, an int, a
// Decimal, a Verbatim or a Date.
type Args map[string]any

// Verbatim is a value that is not converted to the alphabet of the text in which it is used, such as another language's
// own name.
type Verbatim string

// Date is a value that is written with the language's pattern for dates.
type Date struct {
	Weekday time.Weekday
	Day     int
	Month   time.Month
}

// Text and Only return these errors. Use errors.Is to check for them.
var (
	ErrLanguage = errors.New("language not in the catalogue")
	ErrKey      = errors.New("text not in the catalogue")
	ErrArg      = errors.New("value of a text missing or of a wrong type")
)

// Source is the language from which all other languages are translated. If the catalogue has Source, every other
// language must have all texts of Source. A translated text must not use a value that the text in Source does not use.
const Source = "en"

// Catalogue has all texts in all languages. A Catalogue does not change and is safe for concurrent use.
type Catalogue struct {
	languages map[string]*language
	tags      []string
	words     map[Key]map[string]string // commands such as STOP, in the form in which AllWords returns them
	said      map[string][]string       // phrases of short answers, as Said returns them
}

type language struct {
	name     string
	alphabet Alphabet
	reviewed bool
	plural   pluralRule
	point    string // decimal separator
	rules    rules
	texts    map[Key]entry
	calendar calendar
	typed    typed
	said     map[string][]string // the table [said]
	files    *layers

	spelled bool    // true: texts are in the language's own spelling, and the rules are not applied
	letters string  // characters of the language's own spelling; only set if spelled is true
	tables  []Shift // national tables that have all of these letters; only set if spelled is true
}

// Text returns the text k in a language, with its values filled in. The int value "n" chooses the form of a plural
// text. In a gsm7 language the result has only characters of the GSM alphabet: the texts are rewritten by the rules of
// the language, and string values by the rules and then by ToGSM7. Values that the text does not use are ignored. The
// errors are ErrLanguage, ErrKey and ErrArg.
func (c *Catalogue) Text(lang string, k Key, a Args) (string, error) {
	return c.languages[lang].render(lang, k, a)
}

func (l *language) render(lang string, k Key, a Args) (string, error) {
	if l == nil {
		return "", fmt.Errorf("text: %q: %w", lang, ErrLanguage)
	}
	var b strings.Builder
	if err := l.write(&b, k, a); err != nil {
		return "", fmt.Errorf("text: %s in %s: %w", k, lang, err)
	}
	return b.String(), nil
}

// Printed returns a text without values in the language's own spelling. Printed is for paper and for screens that can
// show every letter. Printed returns the same errors as Text.
func (c *Catalogue) Printed(lang string, k Key) (string, error) {
	l := c.languages[lang]
	if l != nil {
		own := *l
		own.spelled = true
		l = &own
	}
	return l.render(lang, k, nil)
}

// Languages lists the tags of the languages in the order in which the menu offers them. Growers who have not chosen a
// language get the first one. The order is the one that was given to Only. Without Only, the language Source comes
// first, and the others are sorted by tag.
func (c *Catalogue) Languages() []string { return slices.Clone(c.tags) }

// Only returns a catalogue that has these languages in this order. Only returns ErrLanguage if the catalogue lacks a
// language, or if a language is given twice.
func (c *Catalogue) Only(tags ...string) (*Catalogue, error) {
	out := &Catalogue{languages: map[string]*language{}, tags: slices.Clone(tags), words: c.words, said: c.said}
	for _, tag := range tags {
		l, ok := c.languages[tag]
		if !ok {
			return nil, fmt.Errorf("text: %q: %w; there are %s", tag, ErrLanguage, strings.Join(c.tags, ", "))
		}
		if out.languages[tag] != nil {
			return nil, fmt.Errorf("text: %q stands twice: %w", tag, ErrLanguage)
		}
		out.languages[tag] = l
	}
	return out, nil
}

// Keys lists the keys of a language's texts, sorted; nil for an unknown language.
func (c *Catalogue) Keys(lang string) []Key { return sortedKeys(c.language(lang).texts) }

// Args lists the names of the values that a text needs, sorted. A plural text needs the value "n".
func (c *Catalogue) Args(lang string, k Key) []string { return c.language(lang).texts[k].args(nil) }

// Position is where a key stands in the language files.
type Position struct {
	File string
	Line int
	Own  bool // the file is in the operator's folder
}

func (p Position) String() string { return fmt.Sprintf("%s:%d", p.File, p.Line) }

// Position returns where a text stands, or the zero Position for an unknown language or text.
func (c *Catalogue) Position(lang string, k Key) Position {
	l := c.language(lang)
	if l.files == nil {
		return Position{}
	}
	return l.files.at(string(k))
}

// Own reports whether the operator's folder has a file of this language.
func (c *Catalogue) Own(lang string) bool {
	l := c.language(lang)
	return l.files != nil && slices.ContainsFunc(l.files.files, func(f source) bool { return f.own })
}

// Template returns a text as its file has it, with its placeholders and in the language's own spelling. Template
// returns "" for an unknown language or text.
func (c *Catalogue) Template(lang string, k Key) string { return c.language(lang).texts[k].String() }

// Name returns the language's name in the language itself, or "" for an unknown language.
func (c *Catalogue) Name(lang string) string { return c.language(lang).name }

// Alphabet returns the alphabet of a language, or 0 for an unknown language.
func (c *Catalogue) Alphabet(lang string) Alphabet { return c.language(lang).alphabet }

// Reviewed reports whether a person who speaks the language well has read its texts.
func (c *Catalogue) Reviewed(lang string) bool { return c.language(lang).reviewed }

// Date writes a date in a language. Date returns "" for an unknown language, or for a weekday or month that does not
// exist.
func (c *Catalogue) Date(lang string, w time.Weekday, day int, m time.Month) string {
	s, _ := c.language(lang).value(Date{w, day, m})
	return s
}

// Written converts a string value as Text does. A letter that the alphabet lacks becomes "?". Written returns "" for an
// unknown language.
func (c *Catalogue) Written(lang, v string) string {
	s, _ := c.language(lang).value(v)
	return s
}

// Decimal writes a number in a language. Decimal returns "" for an unknown language, for NaN, and for an infinite
// number.
func (c *Catalogue) Decimal(lang string, d Decimal) string {
	s, _ := c.language(lang).value(d)
	return s
}

// language returns the language with this tag, or an empty language if the catalogue lacks it.
func (c *Catalogue) language(lang string) *language { return cmp.Or(c.languages[lang], &language{}) }
