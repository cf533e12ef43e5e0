package growercsv

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
)

// numberForm matches a number without an exponent and without separators for thousands.
var numberForm = regexp.MustCompile(`^[0-9]{1,9}([.,][0-9]{1,30})?$`)

func readNumber(cell string, r *rules) (float64, error) {
	if !numberForm.MatchString(cell) {
		return 0, fmt.Errorf("%s is not a number", quote(cell))
	}
	if strings.Contains(cell, ",") {
		if !r.decimalCommas {
			return 0, fmt.Errorf("%s has a decimal comma; separate the fields by semicolons, or write a point",
				quote(cell))
		}
		cell = strings.Replace(cell, ",", ".", 1)
	}
	return strconv.ParseFloat(cell, 64)
}

// round rounds to a millionth, so that 0.35 ha is 3500 m².
func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }

var (
	// dayFirst matches days as spreadsheets write them: 3/4/2026, 03.04.26.
	dayFirst = regexp.MustCompile(`^(\d{1,2})[/.-](\d{1,2})[/.-](\d{2}|\d{4})$`)
	// yearFirst matches 2026/4/3, and 2026-04-03 with an hour behind it.
	yearFirst = regexp.MustCompile(`^(\d{4})[/.-](\d{1,2})[/.-](\d{1,2})([T ].*)?$`)
	// dayNumber matches the count of days since 1900 that a spreadsheet shows if a cell has no form of a day.
	dayNumber = regexp.MustCompile(`^[2-9]\d{4}$`)
)

// readDay reads a day written YYYY-MM-DD. Of another form it takes no guess, but the error says how to write the day
// that was likely meant, or both days if there are two.
func readDay(cell string) (engine.Day, error) {
	if d, err := engine.ParseDay(cell); err == nil {
		if d == 0 { // stands for no day in the records
			return 0, fmt.Errorf("%s is too early", cell)
		}
		return d, nil
	}
	const form = "%s is not a day written YYYY-MM-DD"
	if m := dayFirst.FindStringSubmatch(cell); m != nil {
		year := m[3]
		if len(year) == 2 {
			year = "20" + year
		}
		a, okA := civil(year, m[2], m[1])
		b, okB := civil(year, m[1], m[2])
		switch {
		case okA && okB && a != b:
			return 0, fmt.Errorf("%s may be %s or %s; write %s or %s", quote(cell), long(a), long(b), a, b)
		case okA:
			return 0, fmt.Errorf(form+"; write %s", quote(cell), a)
		case okB:
			return 0, fmt.Errorf(form+"; write %s", quote(cell), b)
		}
	}
	if m := yearFirst.FindStringSubmatch(cell); m != nil {
		if d, ok := civil(m[1], m[2], m[3]); ok {
			return 0, fmt.Errorf(form+"; write %s", quote(cell), d)
		}
	}
	if dayNumber.MatchString(cell) {
		return 0, fmt.Errorf(form+"; it looks like the number of a day in a spreadsheet: "+
			"give the column the form of a day", quote(cell))
	}
	return 0, fmt.Errorf(form, quote(cell))
}

// civil returns the day with this year, month and day of the month, if there is one.
func civil(year, month, of string) (engine.Day, bool) {
	y, _ := strconv.Atoi(year)
	m, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(of)
	day := engine.Date(y, time.Month(m), d)
	gotY, gotM, gotD := day.Date()
	return day, gotY == y && gotM == time.Month(m) && gotD == d
}

// long writes a day as 3 April 2026.
func long(d engine.Day) string {
	y, m, dd := d.Date()
	return fmt.Sprintf("%d %s %d", dd, m, y)
}

// rounded matches what a spreadsheet makes of a long number: 4.4770E+11.
var rounded = regexp.MustCompile(`(?i)^[+']*\d+([.,]\d+)?E\+?\d+$`)

// readPhone reads the number of a grower. An error never contains the number.
func readPhone(cell string, r *rules) (string, error) {
	switch {
	case strings.Contains(cell, "…"):
		return "", errors.New("the number is masked; write the file with whole numbers")
	case rounded.MatchString(cell):
		return "", errors.New("a spreadsheet has rounded this number; make the column text, and enter the number again")
	}
	number, err := r.Phone(cell)
	if err != nil {
		return "", errors.New("this is not a phone number with its country code")
	}
	return number, nil
}

func readNo(cell string) (int, error) {
	n, err := strconv.Atoi(cell)
	if err != nil || n < 1 || n > MaxPlot {
		return 0, fmt.Errorf("%s is not the number of a plot, 1 to %d", quote(cell), MaxPlot)
	}
	return n, nil
}
