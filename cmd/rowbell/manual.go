package main

import (
	"fmt"

	"rowbell/cmd/rowbell/manual"
)

// manualCmd is rowbell manual: it lists the pages of the manual or prints one page.
type manualCmd struct {
	Page string `arg:"" optional:"" help:"Page to print; without it the pages are listed."`
}

func (c *manualCmd) Run(w *world) error {
	if c.Page == "" {
		for _, p := range manual.Pages() {
			fmt.Fprintf(w.out, "%-10s  %s\n", p.Name, p.Title)
		}
		return nil
	}
	p, err := manual.Read(c.Page)
	if err != nil {
		return &usageError{err, "rowbell manual"}
	}
	_, err = fmt.Fprint(w.out, p.Text)
	return err
}
