package main

import (
	"cmp"
	"errors"
	"fmt"
	"text/tabwriter"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/store"
)

// moveCmd is rowbell move: a grower's records under another number. The
// service may be running on them.
type moveCmd struct {
	From     string `help:"The number that the records are with." placeholder:"NUMBER"`
	Grower   int64  `help:"Or the grower's id, for records without a number; see --unlinked." placeholder:"ID"`
	To       string `help:"The number that they go to; it must have no records." placeholder:"NUMBER"`
	Unlinked bool   `help:"List the growers whose number turned out to be another person's."`
	Erase    bool   `help:"With --grower: remove these records for good instead."`
	recordsFlags
	TestClock time.Time `hidden:"" help:"The instant of the move, for tests."`
}

// Run moves, lists or erases.
func (c *moveCmd) Run(w *world) error {
	if err := c.usage(); err != nil {
		return &usageError{err, "rowbell move --help"}
	}
	if c.Unlinked {
		return c.list(w)
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	var from, to store.Phone
	if c.From != "" {
		if from, err = phoneFlag("--from", c.From, conf.CountryCode); err != nil {
			return err
		}
	}
	if c.To != "" {
		if to, err = phoneFlag("--to", c.To, conf.CountryCode); err != nil {
			return err
		}
	}
	s, err := openRecords(w.ctx, cmp.Or(c.DB, conf.DB))
	if err != nil {
		return err
	}
	if c.Erase {
		err = c.erase(w, s)
	} else {
		err = c.move(w, s, from, to)
	}
	return errors.Join(err, s.Close())
}

// usage says what does not go together.
func (c *moveCmd) usage() error {
	source := c.From != "" || c.Grower != 0
	switch {
	case c.Unlinked && (source || c.To != "" || c.Erase):
		return errors.New("--unlinked only lists: it goes with no other flag")
	case c.Unlinked:
		return nil
	case c.From != "" && c.Grower != 0:
		return errors.New("the records are named by --from or by --grower, not by both")
	case !source:
		return errors.New("say whose records with --from or --grower")
	case c.Grower < 0:
		return fmt.Errorf("--grower %d is not an id", c.Grower)
	case c.Erase && c.Grower == 0:
		return errors.New("--erase is for records without a number: it goes with --grower")
	case c.Erase && c.To != "":
		return errors.New("records are moved or erased, not both")
	case !c.Erase && c.To == "":
		return errors.New("say where the records go with --to")
	}
	return nil
}

// phoneFlag reads a number from the command line.
func phoneFlag(flag, s, countryCode string) (store.Phone, error) {
	p, err := gateway.ParsePhone(s, countryCode)
	if err != nil {
		return "", &usageError{fmt.Errorf("%s: this is not a phone number with its country code", flag), "rowbell move --help"}
	}
	return p, nil
}

// move gives the records to their new number; told are masked ones.
func (c *moveCmd) move(w *world, s *store.Store, from, to store.Phone) error {
	now := present(w, c.TestClock).Unix()
	stopped := false
	err := s.InTx(w.ctx, func(tx *store.Tx) (err error) {
		if from == "" {
			stopped, err = tx.MoveUnlinked(c.Grower, to, now)
			return err
		}
		l, err := tx.Ledger(from, now)
		if err == nil {
			stopped, err = tx.Move(l.GrowerID(), to, now)
		}
		return err
	})
	switch {
	case errors.Is(err, store.ErrUnknown) && from != "":
		return fmt.Errorf("nothing was moved: there are no records with %s", from)
	case errors.Is(err, store.ErrUnknown):
		return fmt.Errorf("nothing was moved: there is no grower %d", c.Grower)
	case errors.Is(err, store.ErrLinked):
		return fmt.Errorf("nothing was moved: grower %d has a number: use --from", c.Grower)
	case errors.Is(err, store.ErrTaken) && from == to:
		return fmt.Errorf("nothing was moved: both numbers are %s", to)
	case errors.Is(err, store.ErrTaken):
		return fmt.Errorf("nothing was moved: %s has records already; they must be deleted there first, by menu", to)
	case err != nil:
		return fmt.Errorf("nothing was moved: %w", err)
	}
	if from != "" {
		fmt.Fprintf(w.out, "Moved: the records of %s are with %s now.\n", from, to)
	} else {
		fmt.Fprintf(w.out, "Moved: the records of grower %d are with %s now.\n", c.Grower, to)
	}
	if stopped {
		_, err = fmt.Fprintln(w.out, "No texts go there until the grower texts START: they were stopped.")
	}
	return err
}

func (c *moveCmd) erase(w *world, s *store.Store) error {
	err := s.InTx(w.ctx, func(tx *store.Tx) error { return tx.EraseUnlinked(c.Grower) })
	switch {
	case errors.Is(err, store.ErrUnknown):
		return fmt.Errorf("nothing was erased: grower %d is not one without a number; see rowbell move --unlinked", c.Grower)
	case err != nil:
		return fmt.Errorf("nothing was erased: %w", err)
	}
	_, err = fmt.Fprintf(w.out, "Erased: the records of grower %d.\n", c.Grower)
	return err
}

// list shows ids and no more: whose records they are, staff ask the grower.
func (c *moveCmd) list(w *world) error {
	var list []store.Unlinked
	err := c.view(w.ctx, func(tx *store.Tx) (err error) {
		list, err = tx.Unlinked()
		return err
	})
	if err != nil {
		return err
	}
	if len(list) == 0 {
		_, err := fmt.Fprintln(w.out, "Every grower has a number.")
		return err
	}
	t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "Grower\tWithout a number since\tOpen plots")
	for _, u := range list {
		fmt.Fprintf(t, "%d\t%s\t%d\n", u.ID, time.Unix(u.At, 0).UTC().Format(time.DateOnly), u.Plots)
	}
	return t.Flush()
}
