package main

import (
	"errors"
	"fmt"

	"rowbell/store"
)

// exportCmd is rowbell export, which prints growers, plots, passes or texts as CSV.
type exportCmd struct {
	recordsFlags
	What    string `enum:"growers,plots,passes,texts" default:"plots" help:"growers, plots, passes or texts."`
	Place   string `help:"Only growers of this place (default: all)." placeholder:"NAME"`
	Numbers bool   `help:"Print whole numbers. Without them the file cannot be imported."`
}

// Help names the page of the manual.
func (*exportCmd) Help() string {
	return "What is printed of growers and plots has the columns of rowbell import growers; see rowbell manual files."
}

// Run prints the file.
func (c *exportCmd) Run(w *world) (err error) {
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	x := store.Export{What: c.What, Numbers: c.Numbers}
	if c.Place == "" {
		x.Scope, err = everyPlace(w, s)
	} else {
		x.Scope, err = placeNamed(w, s, c.Place)
	}
	if err != nil {
		return err
	}
	_, err = s.WriteExport(w.ctx, w.out, x)
	return err
}

// placeNamed returns the place with this name as a scope.
func placeNamed(w *world, s *store.Store, name string) (scope store.Scope, err error) {
	err = s.View(w.ctx, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(name)
		if err == nil && !ok {
			err = fmt.Errorf("there is no place called %q; rowbell place lists those there are", name)
		}
		scope = store.Scope{p.ID}
		return err
	})
	return scope, err
}
