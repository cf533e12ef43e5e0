// Package plan turns flags into a season and reports what the engine plans for that season, as a table for people and
// as JSON for programs. Table and JSON are made from one description: each section of a report adds the rows of the
// table and the members of the JSON side by side. The words for dates, amounts and prices are here too, because
// rowbell place and rowbell rank use them.
//
// The package computes no agronomy, knows no records, and reads no file but those that the flags name.
package plan

import (
	"errors"
	"io"
	"strings"

	"rowbell/engine"
)

// Report is a season and what the engine says of the season on a day.
type Report struct {
	Season engine.Season
	engine.Full
	Summary engine.Summary
	Weather string   // a phrase that says where the season's weather comes from
	WBGTC   *float64 // measured wet bulb globe temperature; nil = not measured
}

// New plans the season that the flags describe, on the day of --today or else on today. The error is an InputError
// where the flags are wrong.
func New(in *Input, today engine.Day) (r Report, err error) {
	today, err = in.day(today)
	if err == nil {
		r.Season, r.Weather, err = in.Season(today)
	}
	if err == nil {
		r.WBGTC, err = in.heat()
	}
	if err != nil {
		return r, &InputError{err}
	}
	if r.Full, err = r.Season.Full(today); err != nil {
		return r, withoutPackage(err)
	}
	r.Summary = r.Season.Summary(today)
	return r, nil
}

// InputError is a mistake in the flags.
type InputError struct{ error }

// Unwrap returns the mistake itself.
func (e *InputError) Unwrap() error { return e.error }

// withoutPackage removes the prefix "engine: " from an error of the engine: people at a terminal need no package
// names.
func withoutPackage(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

// sections returns the sections of the report, in the order of the table.
func (r Report) sections() []Section {
	return []Section{r.plot(), r.windows(), r.end(), r.water(), r.work(), r.costs(), r.risk(), r.heat(), r.soFar(),
		r.cautions()}
}

// Table writes the report for people.
func (r Report) Table(w io.Writer) error { return Table(w, r.sections()...) }

// JSON writes the report for programs. The names of members are stable and end in the unit of the figure. Days are
// YYYY-MM-DD; shares run from 0 to 1; amounts of money are in costs.currency. A figure that is not known is left out,
// while 0 is a known figure. States, verdicts and reasons are the engine's words.
func (r Report) JSON(w io.Writer) error {
	var all Object
	for _, s := range r.sections() {
		switch {
		case s.Key == "":
			all = append(all, s.Object...)
		case len(s.Object) > 0:
			all.Put(s.Key, s.Object)
		}
	}
	return JSON(w, all)
}
