package main

import "github.com/rs/zerolog"

// Run prints the plan.
func (c *planCmd) Run(w *world) error { return c.run(w.now(), w.out) }

// Run prints the table of constants.
func (c *sourcesCmd) Run(w *world) error { return c.run(w.out) }

// Run opens the practice room until the context ends.
func (c *practiceCmd) Run(w *world) error {
	return c.run(w.ctx, w.now(), w.in, w.out, w.log.Level(zerolog.WarnLevel))
}
