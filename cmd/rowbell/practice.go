package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/practice"
	"rowbell/engine"
)

// practiceCmd is rowbell practice: it runs the service with invented growers, for training.
type practiceCmd struct {
	Listen   string `default:"${default_listen}" help:"Address of the page, on this machine only." placeholder:"ADDR"`
	DB       string `name:"db" help:"Keep the practice records in this file (default: remove them)." placeholder:"FILE"`
	Terminal bool   `help:"A handset on the terminal instead of the page."`
	Config   string `help:"Configuration, for its texts (default: ${default_config})." placeholder:"FILE"`
	Start    string `help:"First day, YYYY-MM-DD; without it today." placeholder:"DATE"`
	practice.Simulation
}

// Run simulates seasons if a flag asks for this. Otherwise it opens the practice page, or the handset on the terminal,
// until the context ends.
func (c *practiceCmd) Run(w *world) error {
	now := w.now()
	if c.Simulation != (practice.Simulation{}) {
		p := w.progress("simulating the plots")
		err := c.Simulation.Run(w.out, now, p.step)
		p.stop()
		return usageOf(err, "rowbell practice --simulate 1000 --growers usual --habit 14-21")
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	o := practice.Options{DB: c.DB, Listen: c.Listen, Texts: conf.Texts, Now: now, Version: buildVersion(),
		Log: w.log.Level(zerolog.WarnLevel)}
	if c.Start != "" {
		if o.Start, err = engine.ParseDay(c.Start); err != nil {
			return &usageError{fmt.Errorf("--start %s: %w", c.Start, err),
				"rowbell practice --start " + engine.DayOf(now, time.UTC).String()}
		}
	}
	if c.Terminal {
		return usageOf(practice.OnTerminal(w.ctx, o, w.in, w.out), "rowbell practice --help")
	}
	return usageOf(practice.OnPage(w.ctx, o, w.out), "rowbell practice --listen "+config.DefaultListen)
}

// usageOf turns a practice.InputError into a usageError.
func usageOf(err error, try string) error {
	var wrong *practice.InputError
	if errors.As(err, &wrong) {
		return &usageError{err, try}
	}
	return err
}
