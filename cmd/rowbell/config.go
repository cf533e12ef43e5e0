package main

import "rowbell/cmd/rowbell/config"

// configCmd is rowbell config: it prints a sample of the configuration file.
type configCmd struct{}

// Run prints a complete rowbell.toml with an explanation and a value for every setting.
func (c *configCmd) Run(w *world) error { return config.Describe(w.out) }
