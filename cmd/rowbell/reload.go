package main

import (
	"cmp"
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"time"

	"rowbell/store"
)

// reloadCmd is rowbell reload: it makes the running service read its configuration anew.
type reloadCmd struct {
	recordsFlags
}

const (
	reloadWithin     = 30 * time.Second // how long the service may take
	reloadNoticed    = 2 * time.Second  // how long it takes at most to find the request
	reloadCheckEvery = 50 * time.Millisecond
)

// Run writes a request into the records, where the service finds it within a second, and prints the service's answer.
// This also works if the service runs in a container.
func (c *reloadCmd) Run(w *world) error {
	// The service reports mistakes in the file. This command needs only the path of the database.
	conf, _ := c.load()
	s, err := openExisting(w.ctx, conf.DB)
	if err != nil {
		return err
	}
	done, err := askReload(w, s)
	if err := errors.Join(err, s.Close()); err != nil {
		return err
	}
	if done.Wrong != "" {
		return fmt.Errorf("the new configuration is refused, the earlier one stays:\n%s", done.Wrong)
	}
	fmt.Fprintln(w.out, "The service has read its configuration anew.")
	if len(done.Restart) > 0 {
		fmt.Fprintf(w.out, "A restart is needed for: %s.\n", strings.Join(done.Restart, ", "))
	}
	return nil
}

var errNotServed = errors.New("no service runs with these records: one that starts reads its configuration by itself")

// askReload writes the request and waits for its answer.
func askReload(w *world, s *store.Store) (done store.ReloadDone, err error) {
	id := rand.Text()
	if err := s.InTx(w.ctx, func(tx *store.Tx) error { return tx.AskReload(id) }); err != nil {
		return done, err
	}
	check := time.NewTicker(reloadCheckEvery)
	defer check.Stop()
	unnoticed, late := time.After(reloadNoticed), time.After(reloadWithin)
	for {
		err := s.View(w.ctx, func(tx *store.Tx) (err error) {
			done, err = tx.ReloadAnswer()
			return err
		})
		if err != nil || done.ID == id {
			return done, err
		}
		select {
		case <-check.C:
		case <-w.ctx.Done():
			return done, w.ctx.Err()
		case <-unnoticed:
			if served, err := s.Served(w.ctx); err != nil || !served {
				return done, cmp.Or(err, errNotServed)
			}
		case <-late:
			return done, errors.New("the service does not answer: its log says why, or it is too old for this request")
		}
	}
}
