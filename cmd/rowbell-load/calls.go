package main

// callsCmd is rowbell-load calls.
type callsCmd struct{}

// Run loads the service.
func (c *callsCmd) Run(w *world) error { return nil }
