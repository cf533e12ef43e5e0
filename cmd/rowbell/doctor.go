package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"time"

	"rowbell/cmd/rowbell/config"
)

// doctorCmd is rowbell doctor: what is wrong with this set-up, and what to do.
// It changes nothing and sends nothing, also beside a running service.
type doctorCmd struct {
	Offline bool     `help:"Do not try to reach the gateways."`
	Profile string   `help:"With --sample: the network that the requests are of." placeholder:"NAME"`
	Sample  []string `help:"Show what recorded requests would be understood as and answered, in order; nothing is kept or sent." placeholder:"FILE"`
	From    string   `help:"With --sample: the address that they come from." placeholder:"IP"`
	recordsFlags
	TestClock time.Time `hidden:"" help:"The present instant, for tests."`

	shown int64 // the last text that was shown
}

// severity is how bad a finding is.
type severity string

const (
	well  severity = "ok"
	note  severity = "note"  // worth knowing, works all the same
	wrong severity = "wrong" // does not work, or will not when it is needed
)

// finding is one thing that was looked at.
type finding struct {
	severity severity
	area     string
	what     string
	fix      string // what to do; "" only where it is well
}

// checkup collects findings on one set-up.
type checkup struct {
	ctx  context.Context
	env  func(string) string
	now  time.Time
	conf config.Config
	list []finding
}

func (c *checkup) well(area, format string, a ...any) {
	c.list = append(c.list, finding{well, area, fmt.Sprintf(format, a...), ""})
}

func (c *checkup) note(area, fix, format string, a ...any) {
	c.list = append(c.list, finding{note, area, fmt.Sprintf(format, a...), fix})
}

func (c *checkup) wrong(area, fix, format string, a ...any) {
	c.list = append(c.list, finding{wrong, area, fmt.Sprintf(format, a...), fix})
}

// errUnwell is what the command ends with where something is wrong.
var errUnwell = errors.New("something is wrong with this set-up: see what to do above")

// Run looks at everything that can be looked at. Where the configuration
// cannot be read, that is all there is to say.
func (c *doctorCmd) Run(w *world) error {
	switch sampled := len(c.Sample) > 0; {
	case sampled != (c.Profile != ""):
		return &usageError{errors.New("--profile and --sample go together"), "rowbell doctor --help"}
	case sampled:
		if _, err := netip.ParseAddr(c.From); c.From != "" && err != nil {
			return &usageError{fmt.Errorf("--from: %q is not an address such as 192.0.2.7", c.From), "rowbell doctor --help"}
		}
		conf, err := config.Load(c.Config)
		if err != nil {
			return err
		}
		return c.sample(w, conf)
	case c.From != "":
		return &usageError{errors.New("--from goes with --sample"), "rowbell doctor --help"}
	}
	now := present(w, c.TestClock)
	k := &checkup{ctx: w.ctx, env: w.env, now: now.UTC()}
	var err error
	if k.conf, err = config.Load(c.Config); err != nil {
		k.wrong("configuration", "Mend that line; the README lists what can be set.", "%v", err)
		return k.report(w.out)
	}
	k.conf.DB = cmp.Or(c.DB, k.conf.DB)
	k.setup(cmp.Or(c.Config, config.DefaultFile))
	k.texts()
	k.zones()
	k.records()
	k.disk()
	k.kept()
	k.clock()
	k.gateways(c.Offline)
	return k.report(w.out)
}

// report prints the findings in the order in which they were made, each with
// what to do, and how many are wrong.
func (c *checkup) report(w io.Writer) error {
	count := map[severity]int{}
	for _, f := range c.list {
		count[f.severity]++
		fmt.Fprintf(w, "%-6s%-15s%s\n", f.severity, f.area, f.what)
		if f.fix != "" {
			fmt.Fprintf(w, "%21sDo: %s\n", "", f.fix)
		}
	}
	fmt.Fprintf(w, "%d ok, %d to note, %d wrong\n", count[well], count[note], count[wrong])
	if count[wrong] > 0 {
		return errUnwell
	}
	return nil
}
