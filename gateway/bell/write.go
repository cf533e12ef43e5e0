package bell

import (
	"context"
	"time"

	"rowbell/store"
)

// written is what was written of a batch of growers.
type written struct {
	growers, texts int
	oldest         int64 // when the plot of these growers that has waited longest was due, in Unix seconds
}

// write writes what was planned for the growers who have not changed since, as background work. If a step fails, its
// growers are written one by one, and a grower whose texts cannot be written is put off until tomorrow.
func (b *Bell) write(ctx context.Context, now time.Time, run *store.Rounds, rounds []*round) (all written, err error) {
	all.oldest = now.Unix()
	alone := 0 // number of growers of a failed step that must still be written one by one
	for len(rounds) > 0 {
		var failed []*round // the growers of the present step
		err := run.Write(ctx, func(tx *store.Tx) (done bool, err error) {
			size := b.o.Store.RoundsAtOnce()
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
	var list []store.Round
	var changed []int64 // growers
	for i, r := range rounds {
		if !same[i] {
			continue
		}
		list = append(list, r.out)
		if r.changed() {
			changed = append(changed, r.grower.ID)
		}
		for _, p := range r.grower.Plots {
			some.oldest = min(some.oldest, p.LookAt)
		}
	}
	some.growers = len(list)
	if err := tx.AttendSoon(changed); err != nil {
		return some, err
	}
	some.texts, err = tx.WriteRounds(now, list)
	return some, err
}
