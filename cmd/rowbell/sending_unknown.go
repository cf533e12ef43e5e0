package main

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/store"
)

// sendingUnknownCmd is rowbell sending unknown: it lists the texts that a network may have taken and did not say, and
// records what the operator decides about them.
type sendingUnknownCmd struct {
	IDs   []int64 `arg:"" optional:"" name:"id" help:"Ids of texts, as listed."`
	All   bool    `help:"All texts that are listed."`
	Again bool    `xor:"decision" help:"Send them again: a grower who got one gets it twice."`
	Leave bool    `xor:"decision" help:"Do not send them again. A receipt still counts."`
	recordsFlags
}

// Run lists the texts or stores the decision.
func (c *sendingUnknownCmd) Run(w *world) error {
	decides, named := c.Again || c.Leave, len(c.IDs) > 0 || c.All
	var wrong string
	switch {
	case len(c.IDs) > 0 && c.All:
		wrong = "give ids or --all, not both"
	case decides && !named:
		wrong = "say which texts: their ids, or --all"
	case named && !decides:
		wrong = "say what to do with these texts: --again or --leave"
	}
	if wrong != "" {
		return &usageError{errors.New(wrong), "rowbell sending unknown --help"}
	}
	if !decides {
		return c.list(w)
	}
	return c.decide(w)
}

func (c *sendingUnknownCmd) list(w *world) error {
	now := w.now().Unix()
	var texts []store.Message
	if err := c.view(w.ctx, func(tx *store.Tx) (err error) {
		texts, err = tx.Undecided(now)
		return err
	}); err != nil {
		return err
	}
	if len(texts) == 0 {
		_, err := fmt.Fprintln(w.out, "No text is in doubt.")
		return err
	}
	var table plan.Section
	table.Line("id\tnumber\tkind\tnetwork\tin doubt since\tuseful for\twhy")
	for _, m := range texts {
		table.Line(fmt.Sprintf("%d\t%s\t%s\t%s\t%s\t%s\t%s", m.ID, m.To, m.Kind(), m.Gateway,
			time.Unix(m.EndedAt, 0).UTC().Format("2 Jan 15:04 UTC"), span(m.UsefulUntil-now), m.Reason))
	}
	if err := plan.Table(w.out, table); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w.out, "\nAsk the network whether it has them. Then: "+
		"rowbell sending unknown --again ID..., or --leave ID...; --all means all of these.")
	return err
}

func (c *sendingUnknownCmd) decide(w *world) error {
	now := w.now().Unix()
	var done int64
	var gone []int64
	err := c.change(w.ctx, func(tx *store.Tx) error {
		done, gone = 0, nil
		ids := slices.Clone(c.IDs)
		if c.All {
			texts, err := tx.Undecided(now)
			if err != nil {
				return err
			}
			for _, m := range texts {
				ids = append(ids, m.ID)
			}
		}
		for _, id := range ids {
			was, err := false, error(nil)
			if c.Again {
				was, err = tx.SendAgain(id, now)
			} else {
				was, err = tx.LeaveUnknown(id)
			}
			if err != nil {
				return err
			}
			if was {
				done++
			} else {
				gone = append(gone, id)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	said := " will not be sent again; a receipt still counts."
	if c.Again {
		said = " will be sent again, at the pace and within the limits that are set."
	}
	fmt.Fprintln(w.out, plan.Count(done, "text", "texts")+said)
	if len(gone) > 0 {
		return fmt.Errorf("not in doubt, or not any more: %v; rowbell sending unknown lists those that are", gone)
	}
	return nil
}
