package main

import "rowbell/cmd/rowbell/config"

// configCmd is rowbell config.
type configCmd struct{}

// Run prints a whole rowbell.toml with a comment and a value for every setting.
func (c *configCmd) Run(w *world) error { return config.Describe(w.out) }
