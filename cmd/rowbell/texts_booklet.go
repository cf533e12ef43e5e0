package main

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu/booklet"
	"rowbell/menu/text"
)

// makeBooklet writes the booklet for trainers to the file asked for, or its
// outline to out: in the languages asked for, else in the first one offered.
func (c *textsCmd) makeBooklet(out io.Writer, conf *config.Config, draft *text.Catalogue, langs []string) error {
	if len(c.Language) == 0 {
		langs = langs[:1]
	}
	m, err := c.menu(conf, draft, langs)
	if err != nil {
		return err
	}
	b, err := booklet.Make(m, langs...)
	if err != nil {
		return err
	}
	if c.Outline {
		return b.Outline(out)
	}
	var page bytes.Buffer
	if err := b.HTML(&page); err != nil {
		return err
	}
	if err := os.WriteFile(c.Booklet, page.Bytes(), 0o644); err != nil {
		return err
	}
	last := b.Chapters[len(b.Chapters)-1]
	_, err = fmt.Fprintf(out, "%s: %d screens in %d chapters\n", c.Booklet, last.To(), len(b.Chapters))
	return err
}
