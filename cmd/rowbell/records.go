package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// recordsFlags name the records that a command works on, which must exist. A
// service may be running on them.
type recordsFlags struct {
	DB     string `name:"db" help:"Database file (default: ${default_db}); a service may be running." placeholder:"FILE"`
	Config string `help:"Configuration that names the database (default: ${default_config})." placeholder:"FILE"`
}

// open opens the records that exist. The caller closes them.
func (f recordsFlags) open(ctx context.Context) (*store.Store, config.Config, error) {
	conf, err := config.Load(f.Config)
	if err != nil {
		return nil, conf, err
	}
	s, err := openRecords(ctx, cmp.Or(f.DB, conf.DB))
	return s, conf, err
}

// openRecords opens records that exist, beside a service that may be running on
// them.
func openRecords(ctx context.Context, file string) (*store.Store, error) {
	if err := recordsExist(file); err != nil {
		return nil, err
	}
	return store.Open(ctx, file, store.Options{ReadConns: 1})
}

// view reads the records in one transaction.
func (f recordsFlags) view(ctx context.Context, fn func(*store.Tx) error) error {
	s, _, err := f.open(ctx)
	if err != nil {
		return err
	}
	return errors.Join(s.View(ctx, fn), s.Close())
}

// change writes into the records in one transaction.
func (f recordsFlags) change(ctx context.Context, fn func(*store.Tx) error) error {
	s, _, err := f.open(ctx)
	if err != nil {
		return err
	}
	return errors.Join(s.InTx(ctx, fn), s.Close())
}

func recordsExist(file string) error {
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there are no records at %s: rowbell serve makes them; --db names others", file)
	}
	return nil
}
