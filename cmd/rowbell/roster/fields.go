package roster

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
	"rowbell/store/weathercsv"
)

// fields reads the fields of one row. Each of its methods notes a mistake if the field cannot be read; an empty field
// is the zero value.
type fields struct {
	row
	today engine.Day
	bad   *mistakes
}

func (f fields) mistake(format string, args ...any) {
	f.bad.add(f.place, format, args...)
}

// wrong reports whether a mistake was noted for the row.
func (f fields) wrong() bool {
	rows := f.bad.rows[f.file]
	return len(rows) > 0 && rows[len(rows)-1].Line == f.line
}

// mistakes are the bad rows of each file.
type mistakes struct {
	names []string
	rows  []weathercsv.BadRows
}

func (m *mistakes) add(at place, format string, args ...any) {
	m.rows[at.file] = append(m.rows[at.file], weathercsv.BadRow{Line: at.line, Reason: fmt.Sprintf(format, args...)})
}

// where names a place for a mistake in the file in.
func (m *mistakes) where(at place, in int) string {
	if at.file != in {
		return fmt.Sprintf("line %d of %s", at.line, m.names[at.file])
	}
	return fmt.Sprintf("line %d", at.line)
}

// err returns the mistakes of all files, each with its name, or nil.
func (m *mistakes) err() error {
	var all []error
	for i, rows := range m.rows {
		if len(rows) > 0 {
			slices.SortStableFunc(rows, func(a, b weathercsv.BadRow) int { return cmp.Compare(a.Line, b.Line) })
			all = append(all, fmt.Errorf("%s: %w", m.names[i], rows))
		}
	}
	return errors.Join(all...)
}

// maxName is the number of letters that a name may have: as many as can be read in a picture.
const maxName = 40

// name reads the name of a plot, a tool or a household.
func (f fields) name(column string) string {
	name := strings.Join(strings.Fields(f.fields[column]), " ")
	printed := func(r rune) bool { return unicode.IsPrint(r) || r == '\u200c' || r == '\u200d' } // joiners
	switch n := len([]rune(name)); {
	case n > maxName:
		f.mistake("%s has %d letters; at most %d", quote(name), n, maxName)
	case strings.ContainsFunc(name, func(r rune) bool { return !printed(r) }):
		f.mistake("%s has signs that cannot be printed", quote(name))
	}
	return name
}

// key makes names comparable: small and capital letters are the same.
func key(name string) string { return strings.ToLower(name) }

// numberForm matches a number without an exponent and without separators for thousands.
var numberForm = regexp.MustCompile(`^[0-9]{1,7}([.,][0-9]{1,6})?$`)

func parseNumber(s string) (float64, bool) {
	if !numberForm.MatchString(s) {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return v, err == nil
}

// number reads a number within limits.
func (f fields) number(column string, low, high float64) float64 {
	s := f.fields[column]
	if s == "" {
		return 0
	}
	v, ok := parseNumber(s)
	switch {
	case !ok:
		f.mistake("%s %s is not a number; write only digits, as in %g", column, quote(s), high/2)
	case v < low || v > high:
		f.mistake("%s %g is not between %g and %g", column, v, low, high)
	}
	return v
}

// whole reads a whole number within limits.
func (f fields) whole(column string, low, high int) int {
	s := f.fields[column]
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < low || n > high {
		f.mistake("%s %s is not a whole number between %d and %d", column, quote(s), low, high)
	}
	return n
}

// oneOf reads a word.
func oneOf[T any](f fields, column string, words []string, values []T) (v T) {
	s := f.fields[column]
	for i, w := range words {
		if strings.EqualFold(s, w) {
			return values[i]
		}
	}
	if s != "" {
		f.mistake("%s %s is none of %s", column, quote(s), strings.Join(words, ", "))
	}
	return v
}

// area reads square metres, or length by width in metres as in 20x30.
func (f fields) area(column string) float64 {
	s := f.fields[column]
	if s == "" {
		return 0
	}
	area := 1.0
	sides := strings.Split(strings.NewReplacer("×", "x", "X", "x", "*", "x").Replace(s), "x")
	for _, side := range sides {
		v, ok := parseNumber(strings.TrimSpace(side))
		if !ok || v == 0 || len(sides) > 2 {
			f.mistake("%s %s: write square metres, or length by width in metres as in 20x30", column, quote(s))
			return 0
		}
		area *= v
	}
	if area > engine.MaxAreaM2 {
		f.mistake("%s %g is more than %d; write square metres", column, area, engine.MaxAreaM2)
	}
	return area
}

var widthForm = regexp.MustCompile(`^([0-9.,]+)\s*(?:(?:-|–|to)\s*([0-9.,]+))?$`)

// width reads the width of a tool in cm: 15, or 10 to 15 if it can be changed.
func (f fields) width(column string) (t engine.Tool) {
	s := f.fields[column]
	m := widthForm.FindStringSubmatch(s)
	ok := m != nil
	if ok {
		if t.WidthCM, ok = parseNumber(m[1]); ok && m[2] != "" {
			t.MaxWidthCM, ok = parseNumber(m[2])
		}
	}
	if t.MaxWidthCM == t.WidthCM {
		t.MaxWidthCM = 0
	}
	switch {
	case !ok:
		f.mistake("%s %s: write cm as in 15, or 10 to 15 if the width can be changed", column, quote(s))
	case t.None():
		f.mistake("%s 0: write the width in cm, as in 15", column)
	default:
		if err := t.Validate(); err != nil {
			f.mistake("%s: %s", column, strings.TrimPrefix(err.Error(), "engine: "))
		}
	}
	return t
}

// Days of a roster are near today. Nothing that is further off can be meant (judgement).
var rosterReach = answer.Reach{Back: 60, Ahead: 150, Usual: 60}

// monthWords are the names of the months in every language of the catalogue.
var monthWords = sync.OnceValue(func() answer.DateWords {
	catalogue, err := text.Default()
	if err != nil {
		panic(err) // the built-in texts are tested
	}
	return answer.NewDateWords(nil, catalogue.AllMonthWords(""), nil, catalogue.AllWeekdayWords())
})

var (
	fewDigits = regexp.MustCompile(`^[0-9]{1,4}$`)
	daySerial = regexp.MustCompile(`^[0-9]{5}([.,]0+)?$`)
)

// day reads a day as people write it: 2026-11-25, 25/11/2026, 25.11.26, 25 Nov. A day that may mean two days is a
// mistake.
func (f fields) day(column string, reach answer.Reach) engine.Day {
	s := f.fields[column]
	if s == "" {
		return 0
	}
	const like = "write the day as in 2026-11-25"
	switch {
	case daySerial.MatchString(s):
		f.mistake("%s %s is the number of a day in a spreadsheet; format the column as text, and %s", column, s, like)
		return 0
	case fewDigits.MatchString(s):
		f.mistake("%s %s is no whole day; %s", column, quote(s), like)
		return 0
	}
	d, doubt, refused := answer.Date(s, f.today, reach, monthWords())
	switch {
	case refused != nil && refused.Key == "refuse.date-none":
		f.mistake("%s %s: the calendar has no such day; %s", column, quote(s), like)
	case refused != nil && refused.Key == "refuse.date":
		f.mistake("%s %s is not a day; %s", column, quote(s), like)
	case refused != nil:
		f.mistake("%s %s is not in the days from %s to %s; correct it, or plan for another day with --today", column,
			quote(s), f.today-engine.Day(reach.Back), f.today+engine.Day(reach.Ahead))
	case doubt.Meant != nil:
		f.mistake("%s %s may be %s or %s; write one of these", column, quote(s), d, *doubt.Meant)
	case doubt.Why == answer.Corrected || doubt.Why == answer.CorrectedYear:
		f.mistake("%s %s: if you mean %s, write it so", column, quote(s), d)
	}
	return d
}

// days reads the days from the column from to the column to; only one day if the latter is empty.
func (f fields) days() Days {
	d := Days{From: f.day("from", rosterReach), To: f.day("to", rosterReach)}
	if d.To == 0 {
		d.To = d.From
	}
	if d.To < d.From && !f.wrong() {
		f.mistake("to %s is before from %s", d.To, d.From)
	}
	return d
}
