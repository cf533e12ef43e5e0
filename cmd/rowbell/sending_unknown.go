package main

import (
	"errors"
	"fmt"
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

// unknownRows is how many texts are listed: after a day without answers there may be very many.
const unknownRows = 200

const noneInDoubt = "No text is in doubt."

func (c *sendingUnknownCmd) list(w *world) error {
	now := w.now().Unix()
	var texts []store.Message
	all := int64(0)
	if err := c.view(w.ctx, func(tx *store.Tx) (err error) {
		if texts, err = tx.Undecided(now, now, unknownRows); err == nil {
			all, err = tx.UndecidedCount(now)
		}
		return err
	}); err != nil {
		return err
	}
	if len(texts) == 0 {
		_, err := fmt.Fprintln(w.out, noneInDoubt)
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
	if more := all - int64(len(texts)); more > 0 {
		fmt.Fprintf(w.out, "and %d more, which are useful for longer\n", more)
	}
	_, err := fmt.Fprintln(w.out, "\nAsk the network whether it has them. Then: "+
		"rowbell sending unknown --again ID..., or --leave ID...; --all means all of these.")
	return err
}

// unknownBatch is how many texts are decided in one transaction, because the service waits for it.
const unknownBatch = 100

func (c *sendingUnknownCmd) decide(w *world) (err error) {
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	p := w.progress("deciding the texts")
	done, missed, err := c.decideAll(w, s, p)
	p.stop()
	if err != nil {
		return err
	}
	said := " will not be sent again; a receipt still counts."
	if c.Again {
		said = " will be sent again, at the pace and within the limits that are set."
	}
	switch {
	case done > 0:
		fmt.Fprintln(w.out, plan.Count(done, "text", "texts")+said)
	case c.All:
		fmt.Fprintln(w.out, noneInDoubt)
	}
	if len(missed) > 0 {
		return fmt.Errorf("not in doubt, or not any more: %v; rowbell sending unknown lists those that are", missed)
	}
	return nil
}

// decideAll decides batch after batch. It returns how many texts were decided (done), and the ids of texts that were
// not in doubt (missed). With All, it takes the texts that were in doubt when it began: a text that is sent again may
// be in doubt again meanwhile.
func (c *sendingUnknownCmd) decideAll(w *world, s *store.Store, p *progress) (
	done int, missed []int64, err error,
) {
	now, left := w.now().Unix(), c.IDs
	for c.All || len(left) > 0 {
		p.step(done, 0)
		batch := left[:min(len(left), unknownBatch)]
		var decided int
		var notInDoubt []int64
		err := s.InTx(w.ctx, func(tx *store.Tx) error {
			if c.All {
				texts, err := tx.Undecided(now, now, unknownBatch)
				if err != nil {
					return err
				}
				batch = nil
				for _, m := range texts {
					batch = append(batch, m.ID)
				}
			}
			var err error
			decided, notInDoubt, err = c.decideBatch(tx, batch, now)
			return err
		})
		if err != nil {
			return done, missed, err
		}
		done, missed = done+decided, append(missed, notInDoubt...)
		if c.All && (decided == 0 || len(batch) < unknownBatch) {
			break
		}
		left = left[min(len(left), unknownBatch):]
	}
	return done, missed, nil
}

func (c *sendingUnknownCmd) decideBatch(tx *store.Tx, ids []int64, now int64) (
	done int, missed []int64, err error,
) {
	for _, id := range ids {
		was := false
		if c.Again {
			was, err = tx.SendAgain(id, now)
		} else {
			was, err = tx.LeaveUnknown(id)
		}
		switch {
		case err != nil:
			return 0, nil, err
		case was:
			done++
		default:
			missed = append(missed, id)
		}
	}
	return done, missed, nil
}
