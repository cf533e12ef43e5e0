package main

import (
	"io"

	"rowbell/cmd/rowbell/config"
)

// configCmd is rowbell config.
type configCmd struct{}

// Run prints a whole rowbell.toml with a comment and a value for every setting.
func (c *configCmd) Run(w *world) error {
	_, err := io.WriteString(w.out, config.Commented)
	return err
}
