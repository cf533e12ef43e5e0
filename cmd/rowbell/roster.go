package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"rowbell/cmd/rowbell/roster"
	"rowbell/engine"
	"rowbell/engine/circle"
)

// rosterCmd is rowbell roster: it plans who has which shared tool on which day, from a file, without records and
// without a service.
type rosterCmd struct {
	roster.Input
	Seconds int    `default:"20" help:"Seconds to search for the roster, and for help (default: 20)." placeholder:"N"`
	JSON    bool   `name:"json" help:"Print JSON instead of the table."`
	Picture string `help:"Draw the turns into this SVG file." placeholder:"FILE"`
	Turns   string `help:"Write the turns into this CSV file; once told, name it as a file, too." placeholder:"FILE"`
	Output  string `short:"o" help:"Write the table or JSON to this file." placeholder:"FILE"`
}

// maxSeconds is the longest search: nobody waits longer at a command.
const maxSeconds = 3600

// limit ends a search after --seconds, counted from its first step, or on a signal. What was found until then counts.
func (c *rosterCmd) limit(w *world) circle.Limit {
	var end time.Time
	return circle.Limit{Stop: func() bool {
		if end.IsZero() {
			end = time.Now().Add(time.Duration(c.Seconds) * time.Second)
		}
		return w.ctx.Err() != nil || time.Now().After(end)
	}}
}

// Run prints the roster or writes it to the files that the flags name.
func (c *rosterCmd) Run(w *world) error {
	var files []roster.File
	for _, name := range c.Files {
		if name == "-" {
			files = append(files, roster.File{Name: "standard input", Text: w.in})
			continue
		}
		f, err := os.Open(name)
		if err != nil {
			return err
		}
		defer f.Close()
		files = append(files, roster.File{Name: name, Text: f})
	}
	if c.Seconds < 1 || c.Seconds > maxSeconds {
		return &usageError{fmt.Errorf("--seconds %d is not between 1 and %d", c.Seconds, maxSeconds),
			"rowbell roster --help"}
	}
	now := w.now()
	report, err := roster.New(&c.Input, files, engine.DayOf(now, now.Location()),
		roster.Limits{Solve: c.limit(w), Help: c.limit(w), Explain: c.limit(w)})
	var wrong *roster.InputError
	if errors.As(err, &wrong) {
		return &usageError{err, "rowbell roster --help"}
	}
	if err != nil {
		return err
	}
	return c.write(w, &report)
}

// write writes the picture and the turns, if their flags are given, and then the table or JSON.
func (c *rosterCmd) write(w *world, report *roster.Report) error {
	printed := report.Table
	if c.JSON {
		printed = report.JSON
	}
	for _, x := range []struct {
		file  string
		write func(io.Writer) error
	}{{c.Picture, report.Picture}, {c.Turns, report.Turns}, {cmp.Or(c.Output, "-"), printed}} {
		var b bytes.Buffer
		var err error
		if x.file == "" {
			continue
		}
		if err = x.write(&b); err != nil {
			return err
		}
		if x.file == "-" {
			_, err = w.out.Write(b.Bytes())
		} else {
			err = os.WriteFile(x.file, b.Bytes(), 0o644)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
