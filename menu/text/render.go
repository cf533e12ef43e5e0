package text

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
	xlang "golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// entry is one text after compilation.
type entry struct {
	single template
	forms  []template // forms of a plural text, the index is a plural.Form; nil if the text is not plural
}

// template is a text, divided at its placeholders.
type template []piece

// piece is a placeholder (arg), or the words between two placeholders.
type piece struct {
	words  string // the words as they are sent to phones, after the rules of the language
	proper string // the words in the language's own spelling
	arg    string
}

// countArg is the name of the value that chooses the form of a plural text.
const countArg = "n"

// templates returns the forms of a plural text. The index is a plural.Form, and a form that the text lacks is nil. For
// a text that is not plural, templates returns its only form.
func (e entry) templates() []template {
	if e.forms != nil {
		return e.forms
	}
	return []template{e.single}
}

// uses reports whether the value arg fills a placeholder of the text or chooses the text's form.
func (e entry) uses(arg string) bool {
	inForm := func(t template) bool { return t.uses(arg) }
	return e.forms != nil && arg == countArg || slices.ContainsFunc(e.templates(), inForm)
}

func (t template) uses(arg string) bool {
	return slices.ContainsFunc(t, func(p piece) bool { return p.arg == arg })
}

// args appends the names of the values that the text uses to args and sorts them. args must be empty.
func (e entry) args(args []string) []string {
	if e.forms != nil {
		args = append(args, countArg)
	}
	for _, t := range e.templates() {
		for _, p := range t {
			if p.arg != "" && !slices.Contains(args, p.arg) {
				args = append(args, p.arg)
			}
		}
	}
	slices.Sort(args)
	return args
}

// String returns the text in the form in which a language file has it. A Problem shows it to the translator of a
// missing text.
func (e entry) String() string {
	if e.forms == nil {
		return e.single.String()
	}
	var forms []string
	for _, name := range categoryNames {
		if t := e.forms[categories[name]]; t != nil {
			forms = append(forms, fmt.Sprintf("%s = %q", name, t))
		}
	}
	return "{ " + strings.Join(forms, ", ") + " }"
}

func (t template) String() string {
	var b strings.Builder
	double := strings.NewReplacer("{", "{{", "}", "}}")
	for _, p := range t {
		if p.arg != "" {
			b.WriteString("{" + p.arg + "}")
			continue
		}
		b.WriteString(double.Replace(p.proper))
	}
	return b.String()
}

// pluralRule chooses the form of a plural text for a whole number.
type pluralRule struct{ tag xlang.Tag }

func (r pluralRule) form(n int) plural.Form {
	n %= 10_000_000 // package plural accepts no larger numbers; no plural rule needs more digits
	if n < 0 {
		n = -n
	}
	return plural.Cardinal.MatchPlural(r.tag, n, 0, 0, 0, 0)
}

// calendar has the words and patterns that a language uses for dates.
type calendar struct {
	weekdays, months template // one piece for each weekday and each month
	date             template
}

// wordsOf returns the words of a piece: in the language's own spelling if l.spelled is true, otherwise in the spelling
// after the rules of [to-gsm7].
func (l *language) wordsOf(p piece) string {
	if l.spelled {
		return p.proper
	}
	return p.words
}

func (l *language) write(b *strings.Builder, k Key, a Args) error {
	e, ok := l.texts[k]
	if !ok {
		return fmt.Errorf("%s: %w", k, ErrKey)
	}
	t := e.single
	if e.forms != nil {
		n, ok := a[countArg].(int)
		if !ok {
			return fmt.Errorf("%s is %T, not a whole number: %w", countArg, a[countArg], ErrArg)
		}
		if t = e.forms[l.plural.form(n)]; t == nil {
			t = e.forms[plural.Other]
		}
	}
	for _, p := range t {
		if p.arg == "" {
			b.WriteString(l.wordsOf(p))
			continue
		}
		v, ok := a[p.arg]
		if !ok {
			return fmt.Errorf("{%s} is not given: %w", p.arg, ErrArg)
		}
		s, err := l.value(v)
		if err != nil {
			return fmt.Errorf("{%s}: %w", p.arg, err)
		}
		b.WriteString(s)
	}
	return nil
}

// value writes one value of Args as text in the language. It returns ErrArg for a value of a type that Args does not
// allow.
func (l *language) value(v any) (string, error) {
	switch v := v.(type) {
	case string:
		return l.inAlphabet(v), nil
	case Verbatim:
		return string(v), nil
	case int:
		return strconv.Itoa(v), nil
	case Decimal:
		return l.number(v)
	case Date:
		return l.date(v)
	}
	return "", fmt.Errorf("%T cannot be written: %w", v, ErrArg)
}

// date writes a date with the language's pattern for dates. It returns ErrArg if the weekday or the month does not
// exist.
func (l *language) date(d Date) (string, error) {
	c := &l.calendar
	if d.Weekday < 0 || int(d.Weekday) >= len(c.weekdays) || d.Month < 1 || int(d.Month) > len(c.months) {
		return "", fmt.Errorf("weekday %d, month %d do not exist: %w", d.Weekday, d.Month, ErrArg)
	}
	var b strings.Builder
	for _, p := range c.date {
		switch p.arg {
		case "":
			b.WriteString(l.wordsOf(p))
		case "weekday":
			b.WriteString(l.wordsOf(c.weekdays[d.Weekday]))
		case "day":
			b.WriteString(strconv.Itoa(d.Day))
		case "month":
			b.WriteString(l.wordsOf(c.months[d.Month-1]))
		}
	}
	return b.String(), nil
}

// Decimal is a number that is written with at most Places digits (0 to 9) after the decimal separator. 2.5 is written
// "2,5" in French and "2.5" in English; 2 is written "2" in both. Thousands are not separated.
type Decimal struct {
	Value  float64
	Places int
}

// decimalPoint returns the decimal separator of a language (Unicode CLDR). Digits are always 0 to 9, because phones
// have keys for these digits only.
func decimalPoint(tag xlang.Tag) string {
	if latin, err := tag.SetTypeForKey("nu", "latn"); err == nil {
		tag = latin
	}
	return strings.Trim(message.NewPrinter(tag).Sprint(number.Decimal(1.5)), "15")
}

// number writes a number with the language's decimal separator. A half is rounded away from zero. It returns ErrArg for
// NaN, an infinite number, or more than nine decimals.
func (l *language) number(d Decimal) (string, error) {
	if math.IsNaN(d.Value) || math.IsInf(d.Value, 0) || d.Places < 0 || d.Places > 9 {
		return "", fmt.Errorf("%v with %d decimals cannot be written: %w", d.Value, d.Places, ErrArg)
	}
	scale := math.Pow10(d.Places)
	x := d.Value
	if rounded := math.Round(x*scale) / scale; !math.IsInf(rounded, 0) {
		x = rounded
	}
	if x == 0 {
		x = 0 // otherwise FormatFloat would write a negative zero as "-0"
	}
	return strings.Replace(strconv.FormatFloat(x, 'f', -1, 64), ".", l.point, 1), nil
}
