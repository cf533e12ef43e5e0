package main

// seasonCmd is rowbell-load season.
type seasonCmd struct{}

// Run plays the season.
func (c *seasonCmd) Run(w *world) error { return nil }
