package main

import (
	"fmt"

	"rowbell/cmd/rowbell/manual"
)

// manualCmd is rowbell manual: it lists the pages and the files of the manual or prints one of them.
type manualCmd struct {
	Page string `arg:"" optional:"" help:"Page or file to print; without it all are listed."`
}

func (c *manualCmd) Run(w *world) error {
	if c.Page == "" {
		for _, p := range manual.Pages() {
			fmt.Fprintf(w.out, "%-17s  %s\n", p.Name, p.Title)
		}
		fmt.Fprintln(w.out, "\nFiles, to be used as they are (rowbell manual NAME > NAME):")
		for _, f := range manual.Files() {
			fmt.Fprintf(w.out, "%-17s  %s\n", f.Name, f.Title)
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
