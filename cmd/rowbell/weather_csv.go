package main

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"rowbell/engine"
	"rowbell/store"
)

// Daily weather as a file of comma separated values:
//
//	date,min_c,max_c,rain_mm
//	2026-06-01,22.5,33.0,12.4
//	2026-06-02,,,0
//
// The first line names the columns, in any order and with their units. An
// empty field was not measured. Lines that begin with # are remarks. Fields may
// be separated by semicolons or tabs instead, and numbers then written with
// decimal commas.

// Limits of what is taken for a file of weather.
const (
	maxWeatherFile = 16 << 20 // bytes: a line a day since 1950 is a tenth of it
	maxWeatherLine = 4 << 10
	maxToldRows    = 20 // bad rows that are told one by one
)

// firstWeather is the earliest day that is believed.
var firstWeather = engine.Date(1950, time.January, 1)

// weatherColumn is what a column holds.
type weatherColumn uint8

const (
	columnDate weatherColumn = iota + 1
	columnMin
	columnMax
	columnRain
)

func (c weatherColumn) String() string {
	return [...]string{"?", "date", "lowest temperature", "highest temperature", "rain"}[c]
}

// weatherName is a column by its name in the head of a file.
type weatherName struct {
	name   string
	column weatherColumn
	unit   string
	metric func(float64) float64
}

// One inch is 25.4 mm and one degree Fahrenheit 5/9 of one Celsius, by
// definition.
var weatherNames = []weatherName{
	{"date", columnDate, "", nil},
	{"min_c", columnMin, "c", func(v float64) float64 { return v }},
	{"max_c", columnMax, "c", func(v float64) float64 { return v }},
	{"rain_mm", columnRain, "mm", func(v float64) float64 { return v }},
	{"min_f", columnMin, "f", func(v float64) float64 { return (v - 32) * 5 / 9 }},
	{"max_f", columnMax, "f", func(v float64) float64 { return (v - 32) * 5 / 9 }},
	{"rain_in", columnRain, "in", func(v float64) float64 { return v * 25.4 }},
}

// weatherRow is a row of a file that cannot be used, and why.
type weatherRow struct {
	line int
	why  string
}

// badRows are all of them: nothing of the file is used.
type badRows []weatherRow

func (b badRows) Error() string {
	var s strings.Builder
	if len(b) == 1 {
		s.WriteString("1 row cannot be used")
	} else {
		fmt.Fprintf(&s, "%d rows cannot be used", len(b))
	}
	for _, r := range b[:min(len(b), maxToldRows)] {
		fmt.Fprintf(&s, "\n  line %d: %s", r.line, r.why)
	}
	if more := len(b) - maxToldRows; more > 0 {
		fmt.Fprintf(&s, "\n  and %d more", more)
	}
	return s.String()
}

// parseWeather reads a file of daily weather, up to the day today. The days
// come in order. If anything in it cannot be used it is refused whole: with
// badRows where rows are the reason.
func parseWeather(r io.Reader, today engine.Day) ([]store.WeatherDay, error) {
	text, err := weatherText(r)
	if err != nil {
		return nil, err
	}
	var head *weatherHead
	var bad badRows
	var days []store.WeatherDay
	seen := map[engine.Day]int{} // day -> line
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, maxWeatherLine)
	line := 0
	for lines.Scan() {
		line++
		row := strings.TrimRight(lines.Text(), "\r")
		if bare := strings.TrimSpace(row); bare == "" || strings.HasPrefix(bare, "#") {
			continue
		}
		if head == nil {
			if head, err = weatherHeadOf(row); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			continue
		}
		day, ok, err := head.day(row, today)
		switch before := seen[day.On]; {
		case err != nil:
			bad = append(bad, weatherRow{line, err.Error()})
		case !ok: // a row without any field filled
		case before != 0:
			bad = append(bad, weatherRow{line, fmt.Sprintf("%s stands on line %d already", day.On, before)})
		default:
			seen[day.On] = line
			days = append(days, day)
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, fmt.Errorf("line %d: longer than %d bytes; this is not a file of weather", line+1, maxWeatherLine)
	case err != nil:
		return nil, err
	case head == nil:
		return nil, errors.New("the file is empty: its first line should name the columns, such as date,min_c,max_c,rain_mm")
	case len(bad) > 0:
		return nil, bad
	case len(days) == 0:
		return nil, errors.New("the file has no days, only the names of columns")
	}
	slices.SortFunc(days, func(a, b store.WeatherDay) int { return cmp.Compare(a.On, b.On) })
	return days, nil
}

// weatherText reads the file as text.
func weatherText(r io.Reader) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxWeatherFile+1))
	switch {
	case err != nil:
		return nil, err
	case len(text) > maxWeatherFile:
		return nil, fmt.Errorf("larger than %d MB; this is not a file of daily weather", maxWeatherFile>>20)
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	switch {
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}), bytes.HasPrefix(text, []byte{0xfe, 0xff}):
		return nil, errors.New("the file is in UTF-16; save it as UTF-8")
	case bytes.IndexByte(text, 0) >= 0:
		return nil, errors.New("the file is not a text; save the table as CSV in UTF-8")
	}
	if bytes.IndexByte(text, '\n') < 0 { // the line ends of a very old system
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	return text, nil
}

// weatherHead is the line that names the columns.
type weatherHead struct {
	separator byte
	columns   []weatherName
}

func weatherHeadOf(line string) (*weatherHead, error) {
	h := &weatherHead{separator: ','}
	for _, other := range []byte{';', '\t'} {
		if strings.IndexByte(line, other) >= 0 {
			h.separator = other
		}
	}
	names, err := splitRow(line, h.separator)
	if err != nil {
		return nil, err
	}
	units := map[string]string{} // unit -> the column that had it first
	for i, name := range names {
		c, err := weatherColumnOf(name, i)
		if err != nil {
			return nil, err
		}
		for _, had := range h.columns {
			if had.column == c.column {
				return nil, fmt.Errorf("the columns %s and %s both hold the %s", had.name, c.name, c.column)
			}
		}
		if c.unit == "c" || c.unit == "f" {
			units[c.unit] = c.name
		}
		h.columns = append(h.columns, c)
	}
	switch has := h.has; {
	case !has(columnDate):
		return nil, fmt.Errorf("there is no column date; the first line should name the columns: %s", weatherNamesList())
	case len(units) == 2:
		return nil, fmt.Errorf("%s and %s are in different units; one of the two names must be wrong", units["c"], units["f"])
	case has(columnMin) != has(columnMax):
		return nil, errors.New("lowest and highest temperature go together: min_c with max_c, or min_f with max_f")
	case !has(columnMin) && !has(columnRain):
		return nil, fmt.Errorf("there is nothing but the date; name what was measured: %s", weatherNamesList())
	}
	return h, nil
}

func (h *weatherHead) has(c weatherColumn) bool {
	return slices.ContainsFunc(h.columns, func(n weatherName) bool { return n.column == c })
}

func weatherNamesList() string {
	var names []string
	for _, n := range weatherNames {
		names = append(names, n.name)
	}
	return strings.Join(names, ", ")
}

// weatherColumnOf is the column of this name, the i-th from 0.
func weatherColumnOf(name string, i int) (weatherName, error) {
	lower := strings.ToLower(name)
	for _, n := range weatherNames {
		if n.name == lower {
			return n, nil
		}
	}
	switch {
	case name == "":
		return weatherName{}, fmt.Errorf("column %d has no name", i+1)
	case lower == "min" || lower == "max" || lower == "rain":
		for _, n := range weatherNames {
			if strings.HasPrefix(n.name, lower+"_") {
				return weatherName{}, fmt.Errorf("column %s does not tell its unit; write %s, for instance", name, n.name)
			}
		}
	}
	return weatherName{}, fmt.Errorf("there is no column %s; there are %s", quoteField(name), weatherNamesList())
}

// day reads one row; ok is false if it has no field filled.
func (h *weatherHead) day(row string, today engine.Day) (d store.WeatherDay, ok bool, err error) {
	fields, err := splitRow(row, h.separator)
	if err != nil {
		return d, false, err
	}
	if !slices.ContainsFunc(fields, func(f string) bool { return f != "" }) {
		return d, false, nil
	}
	for len(fields) > len(h.columns) && fields[len(fields)-1] == "" {
		fields = fields[:len(fields)-1] // separators at the end, as tables come
	}
	if len(fields) != len(h.columns) {
		err = fmt.Errorf("%d fields, where %d columns are named", len(fields), len(h.columns))
		if len(fields) > len(h.columns) && h.separator == ',' {
			err = fmt.Errorf("%w; numbers with decimal commas need fields separated by semicolons", err)
		}
		return d, false, err
	}
	d.Measured = engine.Unmeasured()
	for i, c := range h.columns {
		switch field := fields[i]; {
		case c.column == columnDate:
			if d.On, err = weatherDate(field, today); err != nil {
				return d, false, err
			}
		case field != "":
			v, err := weatherNumber(field, h.separator != ',')
			if err != nil {
				return d, false, fmt.Errorf("%s: %w", c.name, err)
			}
			v = c.metric(v)
			switch c.column {
			case columnMin:
				d.MinC = v
			case columnMax:
				d.MaxC = v
			case columnRain:
				d.RainMM = v
			}
		}
	}
	return d, true, believable(d)
}

// believable refuses what nobody can have measured; what was not measured may
// be written by a number far from any weather.
func believable(d store.WeatherDay) error {
	const empty = "; leave the field empty if it was not measured"
	wrong := func(v float64) bool { return v < engine.ColdestC || v > engine.HottestC }
	switch {
	case wrong(d.MinC):
		return fmt.Errorf("a lowest temperature of %.4g °C is not between %d and %d%s", d.MinC, engine.ColdestC, engine.HottestC, empty)
	case wrong(d.MaxC):
		return fmt.Errorf("a highest temperature of %.4g °C is not between %d and %d%s", d.MaxC, engine.ColdestC, engine.HottestC, empty)
	case d.RainMM < 0 || d.RainMM > store.MaxRainMM:
		return fmt.Errorf("%.4g mm of rain is not between 0 and %d%s", d.RainMM, store.MaxRainMM, empty)
	case d.MinC > d.MaxC:
		return fmt.Errorf("the lowest temperature, %.4g °C, is above the highest, %.4g °C", d.MinC, d.MaxC)
	case math.IsNaN(d.MinC) != math.IsNaN(d.MaxC):
		return errors.New("only one of the two temperatures is given; they go together")
	}
	return nil
}

func weatherDate(field string, today engine.Day) (engine.Day, error) {
	d, err := engine.ParseDay(field)
	switch {
	case field == "":
		return 0, errors.New("there is no date")
	case err != nil:
		return 0, fmt.Errorf("%s is not a day written YYYY-MM-DD", quoteField(field))
	case d < firstWeather:
		return 0, fmt.Errorf("%s is before %s", d, firstWeather)
	case d > today:
		return 0, fmt.Errorf("%s is still to come: today is %s", d, today)
	}
	return d, nil
}

// numberForm is a number as people write it in a table: no exponent, no
// thousands apart.
var numberForm = regexp.MustCompile(`^[+-]?[0-9]{1,9}([.,][0-9]{1,15})?$`)

func weatherNumber(field string, commas bool) (float64, error) {
	if !numberForm.MatchString(field) {
		return 0, fmt.Errorf("%s is not a number; leave the field empty if it was not measured", quoteField(field))
	}
	if strings.Contains(field, ",") {
		if !commas {
			return 0, fmt.Errorf("%s has a decimal comma; separate the fields by semicolons, or write a point", quoteField(field))
		}
		field = strings.Replace(field, ",", ".", 1)
	}
	return strconv.ParseFloat(field, 64)
}

// splitRow cuts a line into its fields, which may stand in double quotes.
func splitRow(line string, separator byte) ([]string, error) {
	if !utf8.ValidString(line) {
		return nil, errors.New("this is not UTF-8")
	}
	var fields []string
	for {
		trimmed := strings.TrimLeft(line, " ")
		if !strings.HasPrefix(trimmed, `"`) {
			field, rest, more := strings.Cut(line, string(separator))
			fields = append(fields, strings.TrimSpace(field))
			if !more {
				return fields, nil
			}
			line = rest
			continue
		}
		field, rest, closed := strings.Cut(trimmed[1:], `"`)
		rest = strings.TrimLeft(rest, " ")
		switch {
		case !closed:
			return nil, errors.New("a quotation mark is not closed")
		case rest != "" && rest[0] != separator:
			return nil, errors.New("something stands behind a closing quotation mark")
		}
		fields = append(fields, strings.TrimSpace(field))
		if rest == "" {
			return fields, nil
		}
		line = rest[1:]
	}
}

// quoteField shows a field of a file, however long and strange.
func quoteField(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}
