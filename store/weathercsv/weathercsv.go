// Package weathercsv reads files of daily weather and compares them with the stored weather. It writes nothing
// and does not use the database: the caller stores the days.
//
// A file looks like this:
//
//	date,min_c,max_c,rain_mm
//	2026-06-01,22.5,33.0,12.4
//	2026-06-02,,,0
//
// The first line contains the names of the columns, in any order. Each name includes the unit. An empty field
// means that the value was not measured. Lines that begin with # are comments. Fields may be separated by
// semicolons or tabs instead of commas. If they are, numbers may have decimal commas.
package weathercsv

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/csv"
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
)

// These are the limits of a file. A file with one line for each day since 1950 has about a tenth of maxFileBytes.
const (
	maxFileBytes  = 16 << 20
	maxLineBytes  = 4 << 10
	maxListedRows = 20 // largest number of bad rows that an error lists
)

// firstDay is the earliest day that a file may contain.
var firstDay = engine.Date(1950, time.January, 1)

// Day is the weather of one day: temperatures in °C and rain in mm. A value is NaN if it was not measured.
type Day struct {
	On engine.Day
	engine.Measured
}

// BadRow is a mistake in a row: the reason why the row cannot be used.
type BadRow struct {
	Line   int // number of the line in the file, starting at 1
	Reason string
}

// BadRows is the error for a file with at least one bad row.
type BadRows []BadRow

// Error lists the first maxListedRows bad rows, each with its line number.
func (b BadRows) Error() string {
	var s strings.Builder
	rows := map[int]bool{} // a row may have several mistakes
	for _, r := range b {
		rows[r.Line] = true
	}
	if len(rows) == 1 {
		s.WriteString("1 row cannot be used")
	} else {
		fmt.Fprintf(&s, "%d rows cannot be used", len(rows))
	}
	for _, r := range b[:min(len(b), maxListedRows)] {
		fmt.Fprintf(&s, "\n  line %d: %s", r.Line, r.Reason)
	}
	if more := len(b) - maxListedRows; more > 0 {
		fmt.Fprintf(&s, "\n  and %d more", more)
	}
	return s.String()
}

// Parse reads a file of daily weather, and returns its days in ascending order. No day may be later than today. If
// there is any mistake, Parse returns no days. The error is a BadRows with all bad rows, or says what is wrong with
// the file or its first line.
func Parse(r io.Reader, today engine.Day) ([]Day, error) {
	text, err := ReadText(r, "daily weather")
	if err != nil {
		return nil, err
	}
	var head *header
	var bad BadRows
	var days []Day
	lineOf := map[engine.Day]int{}
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, maxLineBytes)
	line := 0
	for lines.Scan() {
		line++
		row := lines.Text()
		if content := strings.TrimSpace(row); content == "" || strings.HasPrefix(content, "#") {
			continue
		}
		if head == nil {
			if head, err = parseHeader(row); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			continue
		}
		day, ok, err := head.parseDay(row, today)
		switch earlier := lineOf[day.On]; {
		case err != nil:
			bad = append(bad, BadRow{line, err.Error()})
		case !ok: // all fields are empty
		case earlier != 0:
			bad = append(bad, BadRow{line, fmt.Sprintf("%s is already on line %d", day.On, earlier)})
		default:
			lineOf[day.On] = line
			days = append(days, day)
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, fmt.Errorf("line %d: longer than %d bytes; this is not a file of weather", line+1, maxLineBytes)
	case err != nil:
		return nil, err
	case head == nil:
		return nil, errors.New("the file is empty: its first line must name the columns: date,min_c,max_c,rain_mm")
	case len(bad) > 0:
		return nil, bad
	case len(days) == 0:
		return nil, errors.New("the file has no days, only the names of columns")
	}
	slices.SortFunc(days, func(a, b Day) int { return cmp.Compare(a.On, b.On) })
	return days, nil
}

// ReadText reads a whole CSV file, and returns it without a byte order mark, with a newline at the end of each line. It
// returns an error if the file is too large to hold what it should, or is clearly not UTF-8 text.
func ReadText(r io.Reader, holds string) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxFileBytes+1))
	switch {
	case err != nil:
		return nil, err
	case len(text) > maxFileBytes:
		return nil, fmt.Errorf("larger than %d MB; this is not a file of %s", maxFileBytes>>20, holds)
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	switch {
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}), bytes.HasPrefix(text, []byte{0xfe, 0xff}):
		return nil, errors.New("the file is in UTF-16; save it as UTF-8")
	case bytes.IndexByte(text, 0) >= 0:
		return nil, errors.New("the file is not text; save the table as CSV in UTF-8")
	}
	if bytes.IndexByte(text, '\n') < 0 { // the lines end with a carriage return only
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	return text, nil
}

// quantity is what a column contains, such as the date or the rain.
type quantity uint8

const (
	date quantity = iota + 1
	minTemp
	maxTemp
	rain
)

func (q quantity) String() string {
	return [...]string{"?", "date", "lowest temperature", "highest temperature", "rain"}[q]
}

// column describes one column of a file.
type column struct {
	name   string
	holds  quantity
	unit   string
	metric func(float64) float64 // converts a value to °C or mm
}

// columns are all columns that a file may have. One inch is 25.4 mm, and a difference of one degree Fahrenheit is 5/9
// of a degree Celsius (both by definition).
var columns = []column{
	{"date", date, "", nil},
	{"min_c", minTemp, "c", func(v float64) float64 { return v }},
	{"max_c", maxTemp, "c", func(v float64) float64 { return v }},
	{"rain_mm", rain, "mm", func(v float64) float64 { return v }},
	{"min_f", minTemp, "f", func(v float64) float64 { return (v - 32) * 5 / 9 }},
	{"max_f", maxTemp, "f", func(v float64) float64 { return (v - 32) * 5 / 9 }},
	{"rain_in", rain, "in", func(v float64) float64 { return v * 25.4 }},
}

func columnNames() string {
	var names []string
	for _, c := range columns {
		names = append(names, c.name)
	}
	return strings.Join(names, ", ")
}

// columnNamed finds a column by its name. The argument number is its position in the file, starting at 1.
func columnNamed(name string, number int) (column, error) {
	lower := strings.ToLower(name)
	for _, c := range columns {
		switch {
		case c.name == lower:
			return c, nil
		case strings.HasPrefix(c.name, lower+"_"):
			return column{}, fmt.Errorf("column %s has no unit; write %s, for instance", name, c.name)
		}
	}
	if name == "" {
		return column{}, fmt.Errorf("column %d has no name", number)
	}
	return column{}, fmt.Errorf("there is no column %s; there are %s", quote(name), columnNames())
}

// header is the parsed first line of a file.
type header struct {
	separator rune
	columns   []column
}

func parseHeader(line string) (*header, error) {
	h := &header{separator: ','}
	for _, other := range []rune{';', '\t'} {
		if strings.ContainsRune(line, other) {
			h.separator = other
		}
	}
	names, err := h.split(line)
	if err != nil {
		return nil, err
	}
	degrees := map[string]string{} // key: unit; value: the first column with this unit
	for i, name := range names {
		c, err := columnNamed(name, i+1)
		if err != nil {
			return nil, err
		}
		for _, other := range h.columns {
			if other.holds == c.holds {
				return nil, fmt.Errorf("the columns %s and %s both hold the %s", other.name, c.name, c.holds)
			}
		}
		if c.unit == "c" || c.unit == "f" {
			degrees[c.unit] = c.name
		}
		h.columns = append(h.columns, c)
	}
	switch {
	case !h.has(date):
		return nil, fmt.Errorf("there is no column date; the first line must name the columns: %s", columnNames())
	case len(degrees) == 2:
		return nil, fmt.Errorf("%s and %s are in different units; one of the two names must be wrong",
			degrees["c"], degrees["f"])
	case h.has(minTemp) != h.has(maxTemp):
		return nil, errors.New("lowest and highest temperature go together: min_c with max_c, or min_f with max_f")
	case !h.has(minTemp) && !h.has(rain):
		return nil, fmt.Errorf("there is no column but date; name what was measured: %s", columnNames())
	}
	return h, nil
}

func (h *header) has(q quantity) bool {
	return slices.ContainsFunc(h.columns, func(c column) bool { return c.holds == q })
}

// split returns the fields of one line, without spaces at the beginning and the end of a field. encoding/csv accepts
// no spaces beside a quotation mark, so they are removed before.
func (h *header) split(line string) ([]string, error) {
	if !utf8.ValidString(line) {
		return nil, errors.New("this is not UTF-8")
	}
	parts := strings.Split(line, string(h.separator))
	for i, p := range parts {
		parts[i] = strings.Trim(p, " ")
	}
	r := csv.NewReader(strings.NewReader(strings.Join(parts, string(h.separator))))
	r.Comma = h.separator
	fields, err := r.Read()
	switch {
	case errors.Is(err, csv.ErrQuote):
		return nil, errors.New("a quotation mark is not closed, or there is something behind a closing quotation mark")
	case errors.Is(err, csv.ErrBareQuote):
		return nil, errors.New("there is a quotation mark inside of a field")
	case err != nil:
		return nil, err
	}
	for i, f := range fields {
		fields[i] = strings.TrimSpace(f)
	}
	return fields, nil
}

// parseDay reads one row. The result ok is false if all fields of the row are empty.
func (h *header) parseDay(row string, today engine.Day) (d Day, ok bool, err error) {
	fields, err := h.split(row)
	if err != nil {
		return d, false, err
	}
	if !slices.ContainsFunc(fields, func(f string) bool { return f != "" }) {
		return d, false, nil
	}
	for len(fields) > len(h.columns) && fields[len(fields)-1] == "" {
		fields = fields[:len(fields)-1] // an empty last field: spreadsheets may end a row with a separator
	}
	if len(fields) != len(h.columns) {
		err = fmt.Errorf("%d fields for %d columns", len(fields), len(h.columns))
		if len(fields) > len(h.columns) && h.separator == ',' {
			err = fmt.Errorf("%w; numbers with decimal commas need fields separated by semicolons", err)
		}
		return d, false, err
	}
	d.Measured = engine.Unmeasured()
	for i, c := range h.columns {
		switch field := fields[i]; {
		case c.holds == date:
			if d.On, err = parseDate(field, today); err != nil {
				return d, false, err
			}
		case field != "":
			v, err := parseNumber(field, h.separator != ',')
			if err != nil {
				return d, false, fmt.Errorf("%s: %w", c.name, err)
			}
			switch v = c.metric(v); c.holds {
			case minTemp:
				d.MinC = v
			case maxTemp:
				d.MaxC = v
			case rain:
				d.RainMM = v
			}
		}
	}
	return d, true, d.plausible()
}

// plausible returns an error for values that no instrument can have measured. In some files, a number such as -99.9
// means "not measured".
func (d Day) plausible() error {
	const empty = "; leave the field empty if it was not measured"
	wrong := func(v float64) bool { return v < engine.ColdestC || v > engine.HottestC }
	switch {
	case wrong(d.MinC):
		return fmt.Errorf("a lowest temperature of %.4g °C is not between %d and %d%s",
			d.MinC, engine.ColdestC, engine.HottestC, empty)
	case wrong(d.MaxC):
		return fmt.Errorf("a highest temperature of %.4g °C is not between %d and %d%s",
			d.MaxC, engine.ColdestC, engine.HottestC, empty)
	case d.RainMM < 0 || d.RainMM > engine.MaxDayRainMM:
		return fmt.Errorf("%.4g mm of rain is not between 0 and %d%s", d.RainMM, engine.MaxDayRainMM, empty)
	case d.MinC > d.MaxC:
		return fmt.Errorf("the lowest temperature, %.4g °C, is above the highest, %.4g °C", d.MinC, d.MaxC)
	case math.IsNaN(d.MinC) != math.IsNaN(d.MaxC):
		return errors.New("only one of the two temperatures is given; they go together")
	}
	return nil
}

func parseDate(field string, today engine.Day) (engine.Day, error) {
	d, err := engine.ParseDay(field)
	switch {
	case field == "":
		return 0, errors.New("there is no date")
	case err != nil:
		return 0, fmt.Errorf("%s is not a day written YYYY-MM-DD", quote(field))
	case d < firstDay:
		return 0, fmt.Errorf("%s is before %s", d, firstDay)
	case d > today:
		return 0, fmt.Errorf("%s is in the future: today is %s", d, today)
	}
	return d, nil
}

// numberForm matches a number without an exponent and without separators for thousands.
var numberForm = regexp.MustCompile(`^[+-]?[0-9]{1,9}([.,][0-9]{1,15})?$`)

func parseNumber(field string, decimalCommas bool) (float64, error) {
	if !numberForm.MatchString(field) {
		return 0, fmt.Errorf("%s is not a number; leave the field empty if it was not measured", quote(field))
	}
	if strings.Contains(field, ",") {
		if !decimalCommas {
			return 0, fmt.Errorf("%s has a decimal comma; separate the fields by semicolons, or write a point",
				quote(field))
		}
		field = strings.Replace(field, ",", ".", 1)
	}
	return strconv.ParseFloat(field, 64)
}

// quote returns a field in quotation marks for an error message. A long field is shortened.
func quote(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}
