package main

import (
	"errors"
	"fmt"
	"text/tabwriter"
	"time"

	"rowbell/store"
)

// moveCmd is rowbell move: it moves the records of a grower to another phone number.
type moveCmd struct {
	From string `help:"The number that the records are with." placeholder:"NUMBER"`
	growerFlag
	To       string `help:"The number that they go to; it must have no records." placeholder:"NUMBER"`
	Unlinked bool   `help:"List the growers whose number turned out to be another person's."`
	Erase    bool   `help:"With --grower: erase these records for good instead."`
	recordsFlags
}

// Run moves the records, or erases or lists the records of growers without a phone number.
func (c *moveCmd) Run(w *world) (err error) {
	usage := func(err error) error { return &usageError{err, "rowbell move --help"} }
	if err := c.check(); err != nil {
		return usage(err)
	}
	if c.Unlinked {
		return c.list(w)
	}
	s, conf, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	from, err := parsePhone("--from", c.From, conf.CountryCode)
	if err != nil {
		return usage(err)
	}
	to, err := parsePhone("--to", c.To, conf.CountryCode)
	if err != nil {
		return usage(err)
	}
	who := person{from, c.Grower}
	if !c.Erase {
		return c.move(w, s, who, to)
	}
	if err := s.InTx(w.ctx, func(tx *store.Tx) error { return who.eraseUnlinked(tx, w.now().Unix()) }); err != nil {
		return fmt.Errorf("nothing was erased: %w", err)
	}
	_, err = fmt.Fprintf(w.out, "Erased: the records of %s.\n", who)
	return err
}

// check returns an error for missing or contradicting flags.
func (c *moveCmd) check() error {
	switch {
	case c.Unlinked && (c.From != "" || c.Grower != 0 || c.To != "" || c.Erase):
		return errors.New("--unlinked only lists: it goes with no other flag")
	case c.Unlinked:
		return nil
	}
	if err := c.growerFlag.check("--from", c.From); err != nil {
		return err
	}
	switch {
	case c.Erase && c.Grower == 0:
		return errors.New("--erase is for records without a number: it goes with --grower")
	case c.Erase && c.To != "":
		return errors.New("records are moved or erased, not both")
	case !c.Erase && c.To == "":
		return errors.New("say where the records go with --to")
	}
	return nil
}

// move moves the records of who to the phone number to, and prints whether that number gets no texts until the grower
// texts START.
func (c *moveCmd) move(w *world, s *store.Store, who person, to store.Phone) error {
	now := w.now().Unix()
	stopped := false
	err := s.InTx(w.ctx, func(tx *store.Tx) (err error) {
		if who.phone == "" {
			stopped, err = tx.MoveUnlinked(who.grower, to, now)
			return err
		}
		l, err := tx.Ledger(who.phone, now)
		if err == nil {
			stopped, err = tx.Move(l.GrowerID(), to, now)
		}
		return err
	})
	switch {
	case errors.Is(err, store.ErrUnknown) && who.phone != "":
		err = fmt.Errorf("there are no records with %s", who)
	case errors.Is(err, store.ErrUnknown):
		err = fmt.Errorf("there is no %s", who)
	case errors.Is(err, store.ErrLinked):
		err = fmt.Errorf("%s has a number: use --from", who)
	case errors.Is(err, store.ErrTaken) && who.phone == to:
		err = fmt.Errorf("both numbers are %s", to)
	case errors.Is(err, store.ErrTaken):
		err = fmt.Errorf("%s has records already; they must be deleted there first, by menu", to)
	}
	if err != nil {
		return fmt.Errorf("nothing was moved: %w", err)
	}
	fmt.Fprintf(w.out, "Moved: the records of %s are with %s now.\n", who, to)
	if stopped {
		_, err = fmt.Fprintln(w.out, "No texts go there until the grower texts START: they were stopped.")
	}
	return err
}

// list prints the growers without a phone number, but no names. When such a grower calls, staff must ask which records
// are theirs.
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
