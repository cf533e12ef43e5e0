package text

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Key names a text, such as "home.ask".
type Key string

// Args are the values for the placeholders of a text, by name. A value is a string, an int, a Decimal, a Verbatim, a
// Phrase, a Date or a DayMonth.
type Args map[string]any

// Verbatim is a value that is not converted to the alphabet of the text around
// it, such as the own name of another language.
type Verbatim string

// Phrase is a value that is another text of the catalogue, in the same language.
type Phrase struct {
	Key  Key
	Args Args
}

// Date is a value written with the language's pattern for dates.
type Date struct {
	Weekday time.Weekday
	Day     int
	Month   time.Month
}

// DayMonth is a value written with the language's pattern for dates without a weekday.
type DayMonth struct {
	Day   int
	Month time.Month
}

// Errors of Text and Only; test with errors.Is.
var (
	ErrLanguage = errors.New("language not in the catalogue")
	ErrKey      = errors.New("text not in the catalogue")
	ErrArg      = errors.New("value of a text missing or of a wrong type")
)

// Source is the language from which the others are translated. If the catalogue has it, every other language must have
// the texts of Source, and no text may use a value that the text of Source does not use.
const Source = "en"

// Catalogue holds all texts in all languages. It is immutable and safe for concurrent use.
type Catalogue struct {
	languages map[string]*language
	tags      []string
	words     map[Key]map[string]string // keywords such as STOP, as AllWords returns them
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

	spelled bool    // texts keep the language's own spelling: the rules are not applied
	letters string  // characters of the language's own spelling; set if spelled
	tables  []Shift // national tables that cover letters; set if spelled
}

// Text returns text k in a language, with its values filled in. The int value "n" chooses the form of a plural text. In
// a gsm7 language the result is in the GSM alphabet: the rules of the language are applied, and string values are
// converted with the rules and then ToGSM7. Values that the text does not use are ignored. It fails with ErrLanguage,
// ErrKey or ErrArg.
func (c *Catalogue) Text(lang string, k Key, a Args) (string, error) {
	return c.languages[lang].render(lang, k, a)
}

func (l *language) render(lang string, k Key, a Args) (string, error) {
	if l == nil {
		return "", fmt.Errorf("text: %q: %w", lang, ErrLanguage)
	}
	var b strings.Builder
	if err := l.write(&b, k, a, 0); err != nil {
		return "", fmt.Errorf("text: %s in %s: %w", k, lang, err)
	}
	return b.String(), nil
}

// Printed returns a text without values in the language's own spelling, for
// paper and for screens that show every letter. It fails as Text does.
func (c *Catalogue) Printed(lang string, k Key) (string, error) {
	l := c.languages[lang]
	if l != nil {
		own := *l
		own.spelled = true
		l = &own
	}
	return l.render(lang, k, nil)
}

// Languages lists the tags of the languages in the order in which the menu offers them; growers who have not chosen a
// language get the first. The order is that of Only; without Only, the source language comes first and the others
// follow by tag.
func (c *Catalogue) Languages() []string { return slices.Clone(c.tags) }

// Only returns a catalogue of these languages in this order. It fails with
// ErrLanguage for a language that the catalogue lacks or that is named twice.
func (c *Catalogue) Only(tags ...string) (*Catalogue, error) {
	out := &Catalogue{languages: map[string]*language{}, tags: slices.Clone(tags), words: c.words}
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

// Keys lists the texts of a language, sorted; nil for an unknown language.
func (c *Catalogue) Keys(lang string) []Key { return sortedKeys(c.language(lang).texts) }

// Args lists the names of the values that a text needs, sorted. A plural text needs "n".
func (c *Catalogue) Args(lang string, k Key) []string { return c.language(lang).texts[k].args(nil) }

// Name is the own name of a language; "" for an unknown language.
func (c *Catalogue) Name(lang string) string { return c.language(lang).name }

// Alphabet is the alphabet of a language; 0 for an unknown language.
func (c *Catalogue) Alphabet(lang string) Alphabet { return c.language(lang).alphabet }

// Reviewed reports that a fluent person has read the language's texts.
func (c *Catalogue) Reviewed(lang string) bool { return c.language(lang).reviewed }

// Date writes a date in a language; "" for an unknown language, or a weekday or month that does not exist.
func (c *Catalogue) Date(lang string, w time.Weekday, day int, m time.Month) string {
	s, _ := c.language(lang).value(Date{w, day, m}, 0)
	return s
}

// Written converts a string value as Text does; a letter that the alphabet lacks
// becomes "?". The result is "" for an unknown language.
func (c *Catalogue) Written(lang, v string) string {
	s, _ := c.language(lang).value(v, 0)
	return s
}

// Decimal writes a number in a language; "" for an unknown language, or for NaN or an infinite value.
func (c *Catalogue) Decimal(lang string, d Decimal) string {
	s, _ := c.language(lang).value(d, 0)
	return s
}

// language returns an empty language for one that the catalogue lacks.
func (c *Catalogue) language(lang string) *language { return cmp.Or(c.languages[lang], &language{}) }
