// Package plan turns flags into a season and says what the engine plans for it,
// as a table for people and as JSON for programs. Both are made from one
// description: each section of a report adds the rows of the table and the members
// of the JSON side by side. The words for dates, amounts and prices are here too,
// because rowbell place and rowbell rank use them.
//
// It computes no agronomy, knows no records, and reads no file but those that
// the flags name.
package plan

import (
	"errors"
	"io"
	"strings"

	"rowbell/engine"
)

// Report is all that is known of a plot on a day.
type Report struct {
	Season engine.Season
	engine.Full
	Summary engine.Summary
	Weather string   // where the weather comes from, in words
	WBGTC   *float64 // measured wet bulb globe temperature; nil = not measured
}

// New plans the season that the flags describe, on their day or on today. An
// error is an InputError where the flags are wrong.
func New(in *Input, today engine.Day) (r Report, err error) {
	if today, err = in.day(today); err != nil {
		return r, &InputError{err}
	}
	if r.Season, r.Weather, err = in.Season(today); err != nil {
		return r, &InputError{err}
	}
	if r.WBGTC, err = in.heat(); err != nil {
		return r, &InputError{err}
	}
	if r.Full, err = r.Season.Full(today); err != nil {
		return r, withoutPackage(err)
	}
	r.Summary = r.Season.Summary(today)
	return r, nil
}

// InputError is a mistake in the flags.
type InputError struct{ err error }

func (e *InputError) Error() string { return e.err.Error() }
func (e *InputError) Unwrap() error { return e.err }

// withoutPackage removes the name of the engine from its errors.
func withoutPackage(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

// sections describe the whole report, in the order of the table.
func (r Report) sections() []Section {
	return []Section{r.plot(), r.windows(), r.end(), r.water(), r.work(), r.costs(), r.risk(), r.heat(), r.soFar(),
		r.cautions()}
}

// Table writes the report for people.
func (r Report) Table(w io.Writer) error { return Table(w, r.sections()...) }

// JSON writes the report for programs. Names are stable and end in their unit;
// days are YYYY-MM-DD; shares run from 0 to 1; amounts of money are in
// costs.currency. A figure that is not known is left out; 0 is a figure. States,
// verdicts and reasons are the engine's words.
func (r Report) JSON(w io.Writer) error {
	var all Object
	for _, s := range r.sections() {
		switch {
		case s.Key == "":
			all = append(all, s.members...)
		case len(s.members) > 0:
			all.Put(s.Key, s.members)
		}
	}
	return JSON(w, all)
}
