package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// staffCmd is rowbell staff: it lists the accounts of those who use the desk. Subcommands add and end accounts, and
// make links with which passwords are set.
type staffCmd struct {
	List staffListCmd `cmd:"" default:"withargs" help:"List the accounts."`
	Add  staffAddCmd  `cmd:"" help:"Add an account and print the link with which its password is set."`
	Link staffLinkCmd `cmd:"" help:"Print a new link, for somebody who forgot the password or is locked out."`
	End  staffEndCmd  `cmd:"" help:"End an account, its sessions and its links."`
}

// byCommand is who stands in the trail for what a command changed.
const byCommand = "rowbell staff"

type staffListCmd struct{ recordsFlags }

// Run prints the accounts.
func (c *staffListCmd) Run(w *world) error {
	var list []store.Staff
	names := map[int64]string{}
	if err := c.view(w.ctx, func(tx *store.Tx) (err error) {
		if list, err = tx.StaffList(); err != nil {
			return err
		}
		places, err := tx.Places()
		for _, p := range places {
			names[p.ID] = p.Name
		}
		return err
	}); err != nil {
		return err
	}
	if len(list) == 0 {
		_, err := fmt.Fprintln(w.out, "There are no accounts. Add one: rowbell staff add NAME --role operator")
		return err
	}
	t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "Name\tRole\tPlaces\tState")
	for _, s := range list {
		where := "all"
		if s.Role != store.RoleOperator {
			var own []string
			for _, id := range s.Places {
				own = append(own, names[id])
			}
			where = strings.Join(own, ", ")
		}
		state := "can log in"
		switch {
		case s.Password == "":
			state = "has not used the link"
		case s.LockedUntil > w.now().Unix():
			state = "waits after wrong passwords"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", s.Name, s.Role, where, state)
	}
	return t.Flush()
}

type staffAddCmd struct {
	Name  string   `arg:"" help:"Name to log in with."`
	Role  string   `default:"field-worker" help:"viewer, field-worker or operator." placeholder:"ROLE"`
	Place []string `help:"Place whose growers the person sees; repeat it for more." placeholder:"NAME"`
	Phone string   `help:"Number of the person, for texts to oneself." placeholder:"NUMBER"`
	recordsFlags
}

// Run adds an account and prints its link.
func (c *staffAddCmd) Run(w *world) (err error) {
	usage := func(err error) error { return &usageError{err, "rowbell staff add --help"} }
	role, err := store.ParseRole(c.Role)
	if err != nil {
		return usage(fmt.Errorf("--role: %w", err))
	}
	if role == store.RoleOperator && len(c.Place) > 0 {
		return usage(errors.New("--place: an operator sees all places"))
	}
	if role != store.RoleOperator && len(c.Place) == 0 {
		return usage(fmt.Errorf("a %s needs at least one place: --place NAME", role))
	}
	s, conf, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	a := store.Staff{Name: strings.TrimSpace(c.Name), Role: role}
	if c.Phone != "" {
		if a.Phone, err = parsePhone("--phone", c.Phone, conf.CountryCode); err != nil {
			return usage(err)
		}
	}
	now := w.now().Unix()
	var token string
	err = s.InTx(w.ctx, func(tx *store.Tx) (err error) {
		if a.Places, err = placesCalled(tx, c.Place); err != nil {
			return err
		}
		if a.ID, err = tx.AddStaff(a, now); err != nil {
			return err
		}
		if token, err = tx.AddLink(a.ID, now); err != nil {
			return err
		}
		return tx.Trail(store.TrailEntry{At: now, Who: byCommand, What: "added an account", Object: "account " + a.Name,
			Now: role.String()})
	})
	if err != nil {
		return fmt.Errorf("no account was added: %w", err)
	}
	return w.printLink(conf, a.Name, token)
}

// placesCalled returns the ids of the places with these names.
func placesCalled(tx *store.Tx, names []string) (list store.Scope, err error) {
	for _, name := range names {
		p, known, err := tx.PlaceByName(name)
		if err != nil {
			return nil, err
		}
		if !known {
			return nil, fmt.Errorf("there is no place called %q; rowbell place lists those there are", name)
		}
		list = append(list, p.ID)
	}
	return slices.Compact(slices.Sorted(slices.Values(list))), nil
}

// printLink prints the link with which somebody sets a password.
func (w *world) printLink(conf config.Config, name, token string) error {
	_, err := fmt.Fprintf(w.out, "Link for %s, to set a password once, within two days:\n%s/desk/join/%s\n", name,
		conf.DeskAddress(conf.Listen), token)
	return err
}

type staffLinkCmd struct {
	Name string `arg:"" help:"Name of the account."`
	recordsFlags
}

// Run prints a new link. The old password works until the link is used.
func (c *staffLinkCmd) Run(w *world) (err error) {
	s, conf, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	now := w.now().Unix()
	var token string
	if err := s.InTx(w.ctx, func(tx *store.Tx) error {
		a, err := accountCalled(tx, c.Name)
		if err != nil {
			return err
		}
		if token, err = tx.AddLink(a.ID, now); err != nil {
			return err
		}
		return tx.Trail(store.TrailEntry{At: now, Who: byCommand, What: "made a link for a new password",
			Object: "account " + a.Name})
	}); err != nil {
		return err
	}
	return w.printLink(conf, c.Name, token)
}

func accountCalled(tx *store.Tx, name string) (store.Staff, error) {
	a, known, err := tx.StaffByName(name)
	if err == nil && !known {
		err = fmt.Errorf("there is no account called %q; rowbell staff lists those there are", name)
	}
	return a, err
}

type staffEndCmd struct {
	Name string `arg:"" help:"Name of the account."`
	recordsFlags
}

// Run ends an account.
func (c *staffEndCmd) Run(w *world) error {
	now := w.now().Unix()
	if err := c.change(w.ctx, func(tx *store.Tx) error {
		a, err := accountCalled(tx, c.Name)
		if err != nil {
			return err
		}
		if err := tx.EndStaff(a.ID, now); err != nil {
			return err
		}
		return tx.Trail(store.TrailEntry{At: now, Who: byCommand, What: "ended an account",
			Object: "account " + a.Name, Was: a.Role.String()})
	}); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w.out, "Ended: the account %s. Its name stays in the trail.\n", c.Name)
	return err
}
