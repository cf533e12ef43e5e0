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
	answers, err := askReload(w, s)
	if err := errors.Join(err, s.Close()); err != nil {
		return err
	}
	var refused []error
	for _, p := range answers {
		who := "The service"
		if len(answers) > 1 {
			who = "The process " + p.Name
		}
		if p.Reload.Wrong != "" {
			refused = append(refused, fmt.Errorf("%s refuses the new configuration, the earlier one stays:\n%s",
				strings.ToLower(who[:1])+who[1:], p.Reload.Wrong))
			continue
		}
		fmt.Fprintln(w.out, who+" has read its configuration anew.")
		if len(p.Reload.Restart) > 0 {
			fmt.Fprintf(w.out, "A restart is needed for: %s.\n", strings.Join(p.Reload.Restart, ", "))
		}
	}
	return errors.Join(refused...)
}

var errNotServed = errors.New("no service runs with these records: one that starts reads its configuration by itself")

// askReload writes the request and waits until each process that runs with these records has answered it.
func askReload(w *world, s *store.Store) (answers []store.Process, err error) {
	id := rand.Text()
	if err := s.InTx(w.ctx, func(tx *store.Tx) error { return tx.AskReload(id) }); err != nil {
		return nil, err
	}
	check := time.NewTicker(reloadCheckEvery)
	defer check.Stop()
	unnoticed, late := time.After(reloadNoticed), time.After(reloadWithin)
	for {
		answers, silent, err := reloadAnswers(w, s, id)
		if err != nil || len(answers) > 0 && len(silent) == 0 {
			return answers, err
		}
		select {
		case <-check.C:
		case <-w.ctx.Done():
			return nil, w.ctx.Err()
		case <-unnoticed:
			if served, err := s.Served(w.ctx); err != nil || !served {
				return nil, cmp.Or(err, errNotServed)
			}
		case <-late:
			return nil, fmt.Errorf("no answer from: %s; its log says why, or it is too old for this request, "+
				"or it died less than a minute ago", strings.Join(silent, ", "))
		}
	}
}

// reloadAnswers returns the processes that have answered the request, and the names of those that have not.
func reloadAnswers(w *world, s *store.Store, id string) (answers []store.Process, silent []string, err error) {
	err = s.View(w.ctx, func(tx *store.Tx) error {
		list, err := tx.Processes(w.now().Unix())
		for _, p := range list {
			switch {
			case p.Reload.ID == id:
				answers = append(answers, p)
			case p.Alive:
				silent = append(silent, p.Name)
			}
		}
		return err
	})
	return answers, silent, err
}
