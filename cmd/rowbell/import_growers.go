package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/growercsv"
)

// importGrowersCmd is rowbell import growers, which adds and corrects growers and plots from CSV.
type importGrowersCmd struct {
	File   string `arg:"" help:"The file; - reads standard input."`
	Place  string `help:"The place of new growers, if the file has no column place." placeholder:"NAME"`
	DryRun bool   `help:"Only say what would happen to each row; nothing is written."`
	recordsFlags
}

// Help points at the page of the manual.
func (*importGrowersCmd) Help() string {
	return "The first line names the columns; rowbell manual files lists them. All rows are taken, or none."
}

// Run says what happens to each row, and writes the file if no row is refused and this is no dry run.
func (c *importGrowersCmd) Run(w *world) error {
	s, conf, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	return errors.Join(c.take(w, s, conf), s.Close())
}

func (c *importGrowersCmd) take(w *world, s *store.Store, conf config.Config) error {
	file, err := c.read(w, conf)
	if err != nil {
		return err
	}
	now := w.now().Unix()
	im := store.Import{Growers: file.Growers, Place: c.Place, File: filepath.Base(c.File),
		By: store.TrailEntry{At: now, Who: commandOnServer}}
	if im.Scope, err = everyPlace(w, s); err != nil {
		return err
	}
	shown := w.progress("comparing with the records")
	if shown != nil {
		im.Step = shown.step
	}
	var list store.Fates
	if c.DryRun {
		list, err = s.CheckImport(w.ctx, im, now)
	} else {
		list, err = s.TakeImport(w.ctx, im, "", now)
	}
	shown.stop()
	if list != nil {
		printFates(w.out, list)
	}
	switch {
	case errors.Is(err, store.ErrImportRefused) || err == nil && list.Count(store.FateRefused) > 0:
		return fmt.Errorf("%s: nothing was written: %d of %d rows are refused", c.File, list.Count(store.FateRefused),
			len(list))
	case err != nil:
		return fmt.Errorf("%s: nothing was written: %w", c.File, err)
	case c.DryRun:
		_, err = fmt.Fprintln(w.out, "Nothing was written.")
		return err
	}
	return nil
}

// commandOnServer is who the trail names for a change by a command.
const commandOnServer = "command on the server"

// everyPlace returns all places: who may run a command on the server may see all of them.
func everyPlace(w *world, s *store.Store) (scope store.Scope, err error) {
	err = s.View(w.ctx, func(tx *store.Tx) error {
		places, err := tx.Places()
		scope = nil
		for _, p := range places {
			scope = append(scope, p.ID)
		}
		return err
	})
	return scope, err
}

// read parses the file.
func (c *importGrowersCmd) read(w *world, conf config.Config) (growercsv.File, error) {
	rules, err := conf.GrowerRules()
	if err != nil {
		return growercsv.File{}, err
	}
	var in io.Reader = w.in
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return growercsv.File{}, err
		}
		defer f.Close()
		in = f
	}
	file, err := growercsv.Parse(in, rules)
	if err != nil {
		return file, fmt.Errorf("%s: %w", c.File, err)
	}
	return file, nil
}

// printFates prints what happens to each row, unless the records have all of it, and counts the rows.
func printFates(out io.Writer, list store.Fates) {
	for _, f := range list {
		if f.Kind != store.FateSame || f.Note != "" || f.Stopped {
			fmt.Fprintf(out, "line %d, %s: %s\n", f.Line, f.Phone, f)
		}
	}
	fmt.Fprintf(out, "%s.\n", capital(list.String()))
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
