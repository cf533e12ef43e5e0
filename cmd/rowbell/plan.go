package main

import (
	"bytes"
	"errors"
	"os"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/engine/picture"
)

// planCmd is rowbell plan: it plans one plot from flags, without records and without a service.
type planCmd struct {
	plan.Input
	JSON    bool   `name:"json" help:"Print JSON instead of the table."`
	Picture string `help:"Draw the season into this SVG file." placeholder:"FILE"`
	Output  string `short:"o" help:"Write the table or JSON to this file." placeholder:"FILE"`
}

// Run prints the plan or writes it to the files that the flags name.
func (c *planCmd) Run(w *world) error {
	now := w.now()
	report, err := plan.New(&c.Input, engine.DayOf(now, now.Location()))
	var wrong *plan.InputError
	if errors.As(err, &wrong) {
		return &usageError{err, "rowbell plan --help"}
	}
	if err != nil {
		return err
	}
	var b bytes.Buffer
	write := report.Table
	if c.JSON {
		write = report.JSON
	}
	if err := write(&b); err != nil {
		return err
	}
	if c.Picture != "" {
		if err := drawSeason(c.Picture, report); err != nil {
			return err
		}
	}
	if c.Output != "" && c.Output != "-" {
		return os.WriteFile(c.Output, b.Bytes(), 0o644)
	}
	_, err = w.out.Write(b.Bytes())
	return err
}

// drawSeason writes the picture of the season to a file.
func drawSeason(file string, r plan.Report) error {
	var b bytes.Buffer
	if err := picture.Season(&b, r.Season, r.On, picture.Options{Title: r.Title(), Note: r.Note()}); err != nil {
		return err
	}
	return os.WriteFile(file, b.Bytes(), 0o644)
}
