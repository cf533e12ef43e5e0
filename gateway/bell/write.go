package bell

import (
	"context"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// writeStep is the number of growers whose texts one step of background work writes: they take about a millisecond.
const writeStep = 16

// written is what was written of a batch of growers.
type written struct {
	growers, texts int
	oldest         int64 // when the plot of these growers that has waited longest was due, in Unix seconds
}

// write writes what was planned for the growers who have not changed since, as background work. If a step fails, its
// growers are written one by one, and a grower whose texts cannot be written is put off until tomorrow.
func (b *Bell) write(ctx context.Context, now time.Time, rounds []*round) (all written, err error) {
	all.oldest = now.Unix()
	alone := 0 // number of growers of a failed step that must still be written one by one
	for len(rounds) > 0 {
		var failed []*round // the growers of the present step
		err := b.o.Store.Background(ctx, func(tx *store.Tx) (done bool, err error) {
			size := writeStep
			if alone > 0 {
				size = 1
			}
			part := rounds[:min(size, len(rounds))]
			failed = part
			some, err := writeSome(tx, now.Unix(), part)
			tx.Kept(func() {
				failed, rounds, alone = nil, rounds[len(part):], max(0, alone-len(part))
				all.growers, all.texts = all.growers+some.growers, all.texts+some.texts
				all.oldest = min(all.oldest, some.oldest)
			})
			return len(part) == len(rounds), err
		})
		switch {
		case err == nil:
		case len(failed) == 0, store.Unavailable(err), ctx.Err() != nil:
			return all, err
		case alone == 0 && len(failed) > 1:
			alone = len(failed)
		case failed[0].skipped:
			return all, err
		default:
			b.skip(failed[0], err)
		}
	}
	return all, nil
}

// writeSome writes what was planned for the growers who have not changed since.
func writeSome(tx *store.Tx, now int64, rounds []*round) (some written, err error) {
	some.oldest = now
	read := make([]store.DueGrower, len(rounds))
	for i, r := range rounds {
		read[i] = r.grower
	}
	same, err := tx.Unchanged(now, read)
	if err != nil {
		return some, err
	}
	for i, r := range rounds {
		if !same[i] {
			continue
		}
		n, err := r.write(tx)
		if err != nil {
			return some, err
		}
		some.growers++
		some.texts += n
		for _, p := range r.grower.Plots {
			some.oldest = min(some.oldest, p.LookAt)
		}
	}
	return some, nil
}

// write writes the texts of a grower and when the plots are looked at next. It returns how many texts are new.
func (r *round) write(tx *store.Tx) (texts int, err error) {
	if err := setLooks(tx, r.looks); err != nil {
		return 0, err
	}
	for _, t := range r.texts {
		fresh, err := r.writeText(tx, t)
		if err != nil {
			return 0, err
		}
		if fresh {
			texts++
		}
	}
	return texts, setLooks(tx, r.late)
}

// setLooks writes when plots are looked at next.
func setLooks(tx *store.Tx, list []nextLook) error {
	for _, l := range list {
		if err := tx.SetLook(l.plot, l.at); err != nil {
			return err
		}
	}
	return nil
}

// writeText writes one text to the outbox, withdraws the unsent texts about its plots, and records that their news was
// told. It returns false if the outbox already has a text with the same key.
func (r *round) writeText(tx *store.Tx, t ringText) (fresh bool, err error) {
	for _, id := range t.message.PlotIDs {
		if err := tx.Supersede(id, r.now.Unix(), r.grower.Zone, r.morning.Unix()); err != nil {
			return false, err
		}
	}
	for _, n := range t.news {
		if err := r.markTold(tx, n); err != nil {
			return false, err
		}
	}
	if fresh, err = tx.Enqueue(t.message); err != nil || !fresh || t.prompt == nil {
		return fresh, err
	}
	return true, tx.SavePrompt(*t.prompt)
}

// markTold records that a plot's news was told. A window whose days were told becomes announced: the window then stays
// on these days, even if the engine would calculate other days later.
func (r *round) markTold(tx *store.Tx, n news) error {
	reminder := n.bell.Reminder
	_, err := tx.Tell(n.plot.ID, engine.Told{
		Kind: reminder.Kind, Window: reminder.Window.Number, Edition: reminder.Window.Edition, On: r.today,
	})
	if err == nil && reminder.Tells() {
		err = tx.Announce(n.plot.ID, reminder.Window)
	}
	return err
}
