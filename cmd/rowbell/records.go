package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"rowbell/store"
)

// openRecords opens records that exist, beside a service that may be running on
// them.
func openRecords(ctx context.Context, file string) (*store.Store, error) {
	if err := thereAreRecords(file); err != nil {
		return nil, err
	}
	return store.Open(ctx, file, store.Options{ReadConns: 1})
}

func thereAreRecords(file string) error {
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there are no records at %s: rowbell serve makes them; --db names others", file)
	}
	return nil
}
