package main

import (
	"fmt"

	"rowbell/cmd/rowbell/doctor"
	"rowbell/store"
)

// compactCmd is rowbell compact: it makes the database file as small as its records are. The service may be running.
type compactCmd struct {
	recordsFlags
}

// Run compacts the file and prints its size before and after.
func (c *compactCmd) Run(w *world) error {
	conf, err := c.load()
	if err != nil {
		return err
	}
	db := conf.DB
	if store.OnServer(db) {
		return fmt.Errorf("rowbell compact is for records in a file, and these are at %s: the server gives room back "+
			"by itself (autovacuum)", store.DisplayName(db))
	}
	if err := recordsExist(w.ctx, db); err != nil {
		return err
	}
	p := w.progress("writing the records anew")
	done, err := store.Compact(w.ctx, db)
	p.stop()
	if err != nil {
		return err
	}
	if done.LogLeft {
		_, err = fmt.Fprintf(w.out, "Compacted: %s. The service is reading, so the file shrinks within the hour.\n", db)
		return err
	}
	_, err = fmt.Fprintf(w.out, "Compacted: %s had %s and has %s now.\n", db, doctor.Megabytes(done.Before),
		doctor.Megabytes(done.After))
	return err
}
