package main

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

// planDay reads a day, naming the flag it stands in.
func planDay(flag, text string) (engine.Day, error) {
	d, err := engine.ParseDay(text)
	if err != nil {
		return 0, fmt.Errorf("%s %q: write the day as in 2026-11-25", flag, text)
	}
	return d, nil
}

// planRange reads "15" or "10-15".
func planRange(flag, text, like string) (from, to float64, err error) {
	// A minus at the beginning belongs to the number.
	low, high, two := text, text, false
	if at := strings.IndexByte(text[min(1, len(text)):], '-'); at >= 0 {
		low, high, two = text[:at+1], text[at+2:], true
	}
	from, err1 := strconv.ParseFloat(strings.TrimSpace(low), 64)
	to, err2 := strconv.ParseFloat(strings.TrimSpace(high), 64)
	if err1 != nil || err2 != nil || two && to < from {
		return 0, 0, fmt.Errorf("%s %q: write it as in %s", flag, text, like)
	}
	return from, to, nil
}

func planTool(text string) (engine.Tool, error) {
	if text == "" {
		return engine.Tool{}, nil
	}
	from, to, err := planRange("--tool", text, "15 or 10-15")
	if err != nil {
		return engine.Tool{}, err
	}
	t := engine.Tool{WidthCM: from}
	if to > from {
		t.MaxWidthCM = to
	}
	if t.None() {
		return t, errors.New("--tool 0: leave --tool out where there is none")
	}
	return t, nil
}

// planArea reads "600" (square metres) or "20x30" (metres).
func planArea(text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	area := 1.0
	sides := strings.Split(strings.NewReplacer("×", "x", "X", "x", "*", "x").Replace(text), "x")
	for _, side := range sides {
		n, err := strconv.ParseFloat(strings.TrimSpace(side), 64)
		if err != nil || !(n > 0) || len(sides) > 2 {
			return 0, fmt.Errorf("--area %q: write square metres, or length by width in metres as in 20x30", text)
		}
		area *= n
	}
	return area, nil
}

// planPass reads "2026-11-20:tool:few": a day, and then what is known, in any
// order.
func planPass(text string) (engine.Pass, error) {
	day, words := planWords(text)
	on, err := planDay("--pass", day)
	if err != nil {
		return engine.Pass{}, err
	}
	p := engine.Pass{On: on, With: engine.ByTool}
	for _, w := range words {
		if !planIs(w, &p.With, engine.ByTool, engine.ByHand) && !planIs(w, &p.Way, engine.Along, engine.Across, engine.Both) &&
			!planIs(w, &p.Left, engine.Few, engine.Some, engine.Many) {
			return engine.Pass{}, fmt.Errorf("--pass %q: %q is none of tool, hand, along, across, both, few, some, many", text, w)
		}
	}
	return p, nil
}

// planSighting reads "2026-11-20:2-3:many".
func planSighting(text string) (engine.Sighting, error) {
	day, words := planWords(text)
	on, err := planDay("--saw", day)
	if err != nil {
		return engine.Sighting{}, err
	}
	s := engine.Sighting{On: on}
	for _, w := range words {
		if !planIs(w, &s.Leaves, engine.OneLeaf, engine.TwoThree, engine.FourPlus) && !planIs(w, &s.Amount, engine.Few, engine.Some, engine.Many) &&
			!planIs(w, &s.Rows, engine.RowsOpen, engine.RowsClosed) {
			return engine.Sighting{}, fmt.Errorf("--saw %q: %q is none of 1, 2-3, 4+, few, some, many, open, closed", text, w)
		}
	}
	if len(words) == 0 {
		return engine.Sighting{}, fmt.Errorf("--saw %q: say after a colon what was seen, as in %s:2-3:many", text, day)
	}
	return s, nil
}

func planWords(text string) (day string, words []string) {
	parts := strings.Split(text, ":")
	return parts[0], parts[1:]
}

// planIs sets *v to the value that a word names.
func planIs[T fmt.Stringer](word string, v *T, values ...T) bool {
	for _, x := range values {
		if x.String() == word {
			*v = x
			return true
		}
	}
	return false
}

// planMonths reads a year from CSV: a heading, then month (1 to 12, or its
// English name), min, max in °C and rain in mm, in any order of months. Lines
// that begin with # are remarks. Errors name the line.
func planMonths(r io.Reader) (engine.Normals, error) {
	var normals engine.Normals
	var seen [12]int // line of each month
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
			if got := strings.ToLower(strings.TrimPrefix(strings.Join(record, ","), "\ufeff")); strings.ReplaceAll(got, " ", "") != "month,min,max,rain" {
				return normals, fmt.Errorf("line %d: the heading is %q and must be month,min,max,rain", line, got)
			}
			continue
		}
		month, normal, err := planMonth(record)
		if err != nil {
			return normals, fmt.Errorf("line %d: %w", line, err)
		}
		if at := seen[month-1]; at != 0 {
			return normals, fmt.Errorf("line %d: %s stands in line %d already", line, month, at)
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

func planMonth(record []string) (time.Month, engine.Normal, error) {
	var n engine.Normal
	if len(record) != 4 {
		return 0, n, fmt.Errorf("%d fields instead of the 4 of month,min,max,rain", len(record))
	}
	month := time.Month(0)
	for m := time.January; m <= time.December; m++ {
		name := strings.ToLower(m.String())
		if given := strings.ToLower(strings.TrimSpace(record[0])); given == strconv.Itoa(int(m)) || given == name || given == name[:3] {
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
	}{{"min", &n.MinC, engine.ColdestC, engine.HottestC}, {"max", &n.MaxC, engine.ColdestC, engine.HottestC}, {"rain", &n.RainMM, 0, 10_000}} {
		v, err := strconv.ParseFloat(strings.TrimSpace(record[i+1]), 64)
		if err != nil || !(v >= field.low && v <= field.high) {
			return 0, n, fmt.Errorf("%s %q is not a number from %g to %g", field.name, record[i+1], field.low, field.high)
		}
		*field.to = v
	}
	if n.MinC > n.MaxC {
		return 0, n, fmt.Errorf("min %g is above max %g", n.MinC, n.MaxC)
	}
	return month, n, nil
}
