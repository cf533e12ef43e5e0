// Package plan turns command-line flags into a season and reports the plan of the engine for that season, as a table
// for people or as JSON. One function for each section builds its table rows and its JSON members. Other commands use
// its functions for dates, amounts and prices.
//
// The package computes nothing about rice or weeds, does not use the records, and reads only the files that flags name.
package plan

import (
	"errors"
	"io"
	"strings"

	"rowbell/engine"
)

// Report is a season with its plan for a day.
type Report struct {
	Season engine.Season
	engine.Full
	Summary engine.Summary
	Weather string   // a phrase that says where the weather data of the season come from
	WBGTC   *float64 // measured wet bulb globe temperature; nil = not measured
}

// New plans the season of the flags on the day of --today or, without that flag, today. A mistake in a flag is an
// InputError.
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

// withoutPackage removes the package name from an error of the engine.
func withoutPackage(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

func (r Report) sections() []Section {
	return []Section{r.plot(), r.windows(), r.end(), r.water(), r.work(), r.costs(), r.risk(), r.heat(), r.soFar(),
		r.cautions()}
}

// Table writes the report for people.
func (r Report) Table(w io.Writer) error { return Table(w, r.sections()...) }

// JSON writes the report for programs. The names of members do not change between versions, and the name of a number
// ends with its unit. Days are YYYY-MM-DD, shares are from 0 to 1, and money is in costs.currency. An unknown number is
// left out. States, verdicts and reasons are words of the engine.
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
