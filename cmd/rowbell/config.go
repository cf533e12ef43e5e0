package main

import (
	"io"

	"rowbell/cmd/rowbell/config"
)

// configCmd is rowbell config.
type configCmd struct{}

// Run prints a rowbell.toml with every setting, each with a comment and a value.
func (c *configCmd) Run(w *world) error {
	_, err := io.WriteString(w.out, config.Commented)
	return err
}
