package text

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Key names a text: "home.ask".
type Key string

// Args are the named values of a text: each a string, an int, a Decimal, a
// Verbatim, a Phrase, a Date or a DayMonth.
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
	words     map[Key]map[string]string // AllWords
}

type language struct {
	name     string
	alphabet Alphabet
	reviewed bool
	plural   pluralRule
	point    string // before the decimals
	rules    rules
	texts    map[Key]entry
	calendar calendar
	typed    typed

	spelled bool    // it is written in its own spelling, in spite of rules
	letters string  // of that spelling
	tables  []Shift // that hold letters
}

// Text is the text k in a language with its values filled in. A plural text
// takes its form by the int "n". A gsm7 language is written as its rules have it,
// and a string value keeps to that alphabet too (by the rules, then ToGSM7),
// whatever a grower typed. It fails with ErrLanguage, ErrKey or ErrArg; values
// that the text does not use are ignored.
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

// Printed is a text that takes no values, in the language's own spelling, for
// paper and for screens that show every letter. It fails as Text does.
func (c *Catalogue) Printed(lang string, k Key) (string, error) {
	l, ok := c.languages[lang]
	if !ok {
		return "", fmt.Errorf("text: %q: %w", lang, ErrLanguage)
	}
	proper := *l
	proper.spelled = true
	var b strings.Builder
	if err := proper.write(&b, k, nil, 0); err != nil {
		return "", fmt.Errorf("text: %s in %s: %w", k, lang, err)
	}
	return b.String(), nil
}

// Languages lists the tags of the catalogue's languages as they are offered, the
// first to whoever has chosen none: the source language and then by tag, or as
// Only had it.
func (c *Catalogue) Languages() []string { return slices.Clone(c.tags) }

// Only is the catalogue with these languages and no other, in this order. It
// fails with ErrLanguage for one that is not there or stands twice.
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

// Args lists the names of the values that a text needs, sorted; "n" is among
// them for a plural text.
func (c *Catalogue) Args(lang string, k Key) []string {
	return c.language(lang).texts[k].args(nil)
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

// Written is a value as a language's texts have it, by its rules and in its
// alphabet: a letter that it has none for is "?". "" for an unknown language.
func (c *Catalogue) Written(lang, v string) string {
	s, _ := c.language(lang).value(v, 0)
	return s
}

// Decimal writes a number in the language's manner; "" for an unknown language
// or what is no number.
func (c *Catalogue) Decimal(lang string, d Decimal) string {
	s, _ := c.language(lang).value(d, 0)
	return s
}

func (c *Catalogue) language(lang string) *language {
	if l := c.languages[lang]; l != nil {
		return l
	}
	return nobody
}

// nobody is the language that a catalogue has not.
var nobody = &language{}
