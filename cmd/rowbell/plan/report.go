// Package plan turns command-line flags into a season and reports what the engine plans for that season, as a table for
// people or as JSON for programs. Each section of a report builds its table rows and its JSON members in the same
// function. The package also formats dates, amounts and prices; the commands rowbell place and rowbell rank use these
// functions too.
//
// The package does not compute anything about rice or weeds: package engine does that. It does not use the records, and
// reads only the files that the flags name.
package plan

import (
	"errors"
	"io"
	"strings"

	"rowbell/engine"
)

// Report is a season and what the engine plans for the season on a given day.
type Report struct {
	Season engine.Season
	engine.Full
	Summary engine.Summary
	Weather string   // a phrase that says where the weather data of the season come from
	WBGTC   *float64 // measured wet bulb globe temperature; nil = not measured
}

// New plans the season that the flags describe. The day of the plan is that of --today, or the argument today if the
// flag is not given. If a flag is wrong, the error is an InputError.
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

// Unwrap returns the underlying error.
func (e *InputError) Unwrap() error { return e.error }

// withoutPackage removes the prefix "engine: " from an error of package engine, because the name of a Go package means
// nothing to the user of a command.
func withoutPackage(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

// sections returns the sections of the report, in the order in which the table shows them.
func (r Report) sections() []Section {
	return []Section{r.plot(), r.windows(), r.end(), r.water(), r.work(), r.costs(), r.risk(), r.heat(), r.soFar(),
		r.cautions()}
}

// Table writes the report for people.
func (r Report) Table(w io.Writer) error { return Table(w, r.sections()...) }

// JSON writes the report for programs. The names of members do not change between versions, and the name of a number
// ends with its unit. Days are written as YYYY-MM-DD. Shares are from 0 to 1. Amounts of money are in the currency of
// the member costs.currency. An unknown figure is left out; a figure of 0 is known to be 0. States, verdicts and
// reasons are written with the words that the engine uses.
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
