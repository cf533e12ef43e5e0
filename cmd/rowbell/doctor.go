package main

import (
	"fmt"
	"net/netip"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/doctor"
)

// doctorCmd is rowbell doctor: it reports what is wrong with a set-up.
type doctorCmd struct {
	Offline bool     `help:"Do not try to reach the gateways."`
	Profile string   `help:"With --sample or --answer: the network that sent them." placeholder:"NAME"`
	Sample  []string `help:"Show how recorded requests are read and answered." placeholder:"FILE"`
	Answer  []string `help:"Show what recorded answers to a text mean." placeholder:"FILE"`
	From    string   `help:"With --sample: the address that they come from." placeholder:"IP"`
	recordsFlags
}

// Run examines the set-up. With --sample it shows how recorded requests are decoded and answered, and with --answer
// what recorded answers to a text mean.
func (c *doctorCmd) Run(w *world) error {
	now := w.now()
	usage := func(format string, a ...any) error {
		return &usageError{fmt.Errorf(format, a...), "rowbell doctor --help"}
	}
	sampled, answered := len(c.Sample) > 0, len(c.Answer) > 0
	switch {
	case sampled && answered:
		return usage("--sample and --answer are two different questions: ask one at a time")
	case (sampled || answered) != (c.Profile != ""):
		return usage("--profile goes with --sample or --answer, and they need it")
	case !sampled && c.From != "":
		return usage("--from goes with --sample")
	case !sampled && !answered:
		return doctor.Print(w.out, doctor.Examine(w.ctx, doctor.Input{
			ConfigFile: c.Config, DB: c.DB, Env: w.env, Now: now, Offline: c.Offline}))
	}
	if _, err := netip.ParseAddr(c.From); c.From != "" && err != nil {
		return usage("--from: %q is not an address such as 192.0.2.7", c.From)
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	rec := doctor.Recording{Network: c.Profile, Files: c.Sample, From: c.From, Now: now}
	if answered {
		rec.Files = c.Answer
		return doctor.Answers(w.out, conf, w.env, rec)
	}
	return doctor.Replay(w.ctx, w.out, conf, w.env, rec)
}
