package text

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
	xlang "golang.org/x/text/language"
)

// maxDepth bounds phrases within phrases: a loop among them is a mistake.
const maxDepth = 8

// entry is one compiled text: a single form under plural.Other, or one a plural
// category.
type entry struct {
	plural bool
	forms  map[plural.Form]template
	args   []string
	at     place
}

// template is a text cut at its placeholders.
type template []piece

// piece is words as they stand, or the name of a value.
type piece struct{ words, arg string }

// String is the text as a file may have it.
func (e entry) String() string {
	if !e.plural {
		return e.forms[plural.Other].String()
	}
	var forms []string
	for _, name := range categoryNames {
		if t, ok := e.forms[categories[name]]; ok {
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
		b.WriteString(double.Replace(p.words))
	}
	return b.String()
}

// pluralRule chooses the form for a whole number.
type pluralRule struct{ tag xlang.Tag }

func (r pluralRule) form(n int) plural.Form {
	n %= 10_000_000 // package plural's bound; no rule looks further
	if n < 0 {
		n = -n
	}
	return plural.Cardinal.MatchPlural(r.tag, n, 0, 0, 0, 0)
}

// calendar is how a language writes dates.
type calendar struct {
	weekdays, months []string
	date, dayMonth   template
}

func (l *language) write(b *strings.Builder, k Key, a Args, depth int) error {
	e, ok := l.spelling.texts[k]
	if !ok {
		return fmt.Errorf("%s: %w", k, ErrKey)
	}
	form := plural.Other
	if e.plural {
		n, ok := a["n"].(int)
		if !ok {
			return fmt.Errorf("n is %T, not a whole number: %w", a["n"], ErrArg)
		}
		form = l.plural.form(n)
	}
	t, ok := e.forms[form]
	if !ok {
		t = e.forms[plural.Other]
	}
	for _, p := range t {
		if p.arg == "" {
			b.WriteString(p.words)
			continue
		}
		v, ok := a[p.arg]
		if !ok {
			return fmt.Errorf("{%s} is not given: %w", p.arg, ErrArg)
		}
		s, err := l.value(v, depth)
		if err != nil {
			return fmt.Errorf("{%s}: %w", p.arg, err)
		}
		b.WriteString(s)
	}
	return nil
}

// value writes one value of Args.
func (l *language) value(v any, depth int) (string, error) {
	switch v := v.(type) {
	case string:
		return l.plain(v), nil
	case Verbatim:
		return string(v), nil
	case int:
		return strconv.Itoa(v), nil
	case Decimal:
		return l.number(v)
	case Phrase:
		if depth == maxDepth {
			return "", fmt.Errorf("phrases within phrases, more than %d deep: %w", maxDepth, ErrArg)
		}
		var b strings.Builder
		if err := l.write(&b, v.Key, v.Args, depth+1); err != nil {
			return "", err
		}
		return b.String(), nil
	case Date:
		return l.spelling.calendar.write(l.spelling.calendar.date, v)
	case DayMonth:
		return l.spelling.calendar.write(l.spelling.calendar.dayMonth, Date{Day: v.Day, Month: v.Month})
	}
	return "", fmt.Errorf("%T cannot be written: %w", v, ErrArg)
}

func (c calendar) write(t template, d Date) (string, error) {
	if d.Weekday < 0 || int(d.Weekday) >= len(c.weekdays) || d.Month < 1 || int(d.Month) > len(c.months) {
		return "", fmt.Errorf("weekday %d, month %d do not exist: %w", d.Weekday, d.Month, ErrArg)
	}
	var b strings.Builder
	for _, p := range t {
		switch p.arg {
		case "":
			b.WriteString(p.words)
		case "weekday":
			b.WriteString(c.weekdays[d.Weekday])
		case "day":
			b.WriteString(strconv.Itoa(d.Day))
		case "month":
			b.WriteString(c.months[d.Month-1])
		}
	}
	return b.String(), nil
}
