package plan

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
)

// parseMonths reads the climate of a year from CSV: a header, then a line for each month in any order. The columns are
// month (1 to 12, or the English name), min and max in °C, and rain in mm; # begins a comment. An error names the line.
func parseMonths(r io.Reader) (engine.Normals, error) {
	var normals engine.Normals
	var seen [12]int // number of the line with each month; 0 = the month was not read yet
	in := csv.NewReader(r)
	in.Comment, in.TrimLeadingSpace, in.FieldsPerRecord = '#', true, -1
	for first := true; ; first = false {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var parse *csv.ParseError
		if errors.As(err, &parse) {
			return normals, fmt.Errorf("line %d: %w", parse.Line, parse.Err)
		}
		if err != nil {
			return normals, err
		}
		line, _ := in.FieldPos(0)
		if first {
			got := strings.ToLower(strings.TrimPrefix(strings.Join(record, ","), "\ufeff"))
			if strings.ReplaceAll(got, " ", "") != "month,min,max,rain" {
				return normals, fmt.Errorf("line %d: the heading is %q and must be month,min,max,rain", line, got)
			}
			continue
		}
		month, normal, err := parseMonth(record)
		if err != nil {
			return normals, fmt.Errorf("line %d: %w", line, err)
		}
		if at := seen[month-1]; at != 0 {
			return normals, fmt.Errorf("line %d: %s is already on line %d", line, month, at)
		}
		seen[month-1], normals[month-1] = line, normal
	}
	for i, line := range seen {
		if line == 0 {
			return normals, fmt.Errorf("%s is missing", time.Month(i+1))
		}
	}
	return normals, nil
}

func parseMonth(record []string) (time.Month, engine.Normal, error) {
	var n engine.Normal
	if len(record) != 4 {
		return 0, n, fmt.Errorf("%d fields instead of the 4 of month,min,max,rain", len(record))
	}
	month := time.Month(0)
	for m := time.January; m <= time.December; m++ {
		name, given := strings.ToLower(m.String()), strings.ToLower(strings.TrimSpace(record[0]))
		if given == strconv.Itoa(int(m)) || given == name || given == name[:3] {
			month = m
		}
	}
	if month == 0 {
		return 0, n, fmt.Errorf("month %q is not one of 1 to 12", record[0])
	}
	for i, field := range []struct {
		name      string
		to        *float64
		low, high float64
	}{
		{"min", &n.MinC, engine.ColdestC, engine.HottestC},
		{"max", &n.MaxC, engine.ColdestC, engine.HottestC},
		{"rain", &n.RainMM, 0, engine.MaxMonthRainMM},
	} {
		v, err := strconv.ParseFloat(strings.TrimSpace(record[i+1]), 64)
		if err != nil || !(v >= field.low && v <= field.high) {
			return 0, n, fmt.Errorf("%s %q is not a number from %g to %g", field.name, record[i+1], field.low,
				field.high)
		}
		*field.to = v
	}
	if n.MinC > n.MaxC {
		return 0, n, fmt.Errorf("min %g is above max %g", n.MinC, n.MaxC)
	}
	return month, n, nil
}
