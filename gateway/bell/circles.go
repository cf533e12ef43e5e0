package bell

import (
	"context"
	"errors"
	"fmt"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// circlesAtOnce is the largest number of circles that are read and planned at once. A large circle has as many plots as
// dozens of growers.
const circlesAtOnce = 8

// circlesTime is for how long circles are planned before plots that are due have their turn: on a morning with many
// circles, growers without a circle do not wait for all of them (judgement).
const circlesTime = 10 * time.Second

// planCircles plans the circles that are due: who has which tool on which day. It writes the turns, texts to those
// whose turns are not as they were told, and what members owe for days of tools that have passed. It returns how many
// texts it wrote, and whether circles may be left because circlesTime is over.
//
// Circles are read and planned outside of the transaction that writes. A plan is written only if the circle is still
// the same; otherwise the circle is read again.
func (b *Bell) planCircles(ctx context.Context, now time.Time) (texts int, more bool, err error) {
	until := b.o.Clock.Now().Add(circlesTime)
	for tries := 0; tries < maxChanged; {
		var due []store.DueCircle
		err := b.o.Store.View(ctx, func(tx *store.Tx) (err error) {
			due, err = tx.DueCircles(now.Unix(), circlesAtOnce)
			return err
		})
		if err != nil || len(due) == 0 {
			return texts, false, err
		}
		plans := make([]*circlePlan, len(due))
		for i, c := range due {
			plans[i] = b.planCircle(c, now)
		}
		done, n, err := b.writeCircles(ctx, now, plans)
		if texts += n; n > 0 && b.o.Queued != nil {
			b.o.Queued()
		}
		if err != nil {
			return texts, false, err
		}
		if tries++; done > 0 {
			tries = 0
		}
		if b.o.Clock.Now().After(until) {
			return texts, done > 0, nil
		}
	}
	return texts, false, nil
}

// planCircle plans a circle. A circle that cannot be planned keeps its turns and is planned again tomorrow.
func (b *Bell) planCircle(c store.DueCircle, now time.Time) *circlePlan {
	p := b.newCirclePlan(c, now)
	if err := recovered(p.plan); err != nil {
		p.skip(err)
	}
	return p
}

// writeCircles writes the plans of circles that have not changed since, as background work with a step for each circle.
// A plan that cannot be written is put off until tomorrow.
func (b *Bell) writeCircles(ctx context.Context, now time.Time, plans []*circlePlan) (circles, texts int, err error) {
	for len(plans) > 0 {
		p := plans[0]
		failed := true
		err := b.o.Store.Background(ctx, func(tx *store.Tx) (done bool, err error) {
			same, err := tx.CirclesUnchanged(now.Unix(), []store.DueCircle{p.circle})
			if err != nil {
				return true, err
			}
			n := 0
			if same[0] {
				if n, err = p.write(tx); err != nil {
					return true, err
				}
			}
			tx.Kept(func() {
				failed, plans = false, plans[1:]
				if same[0] {
					circles, texts = circles+1, texts+n
				}
			})
			return true, nil
		})
		switch {
		case err == nil:
		case !failed, store.Unavailable(err), ctx.Err() != nil, p.skipped:
			return circles, texts, err
		default:
			p.skip(err)
		}
	}
	return circles, texts, nil
}

// skip keeps the turns of a circle as they are until tomorrow, and logs the reason.
func (p *circlePlan) skip(reason error) {
	e := p.b.o.Log.Error().Int64("circle", p.circle.ID)
	var broken *store.PanicError
	if errors.As(reason, &broken) { // see Bell.skip
		e = e.Str("panic", fmt.Sprintf("%T", broken.Value)).Str("stack", string(broken.Stack))
	} else {
		e = e.Err(reason)
	}
	e.Msg("bell: the turns of a circle cannot be planned and stay as they are until tomorrow; report it with this line")
	p.skipped, p.out, p.planAt, p.turns = true, store.Round{}, p.morningOf(p.today+1), nil
	for _, t := range p.circle.Turns {
		if t.Day >= p.today && t.Plot != 0 {
			p.turns = append(p.turns, t)
		}
	}
}

// write writes the turns, the texts and what is owed, and returns the number of texts.
func (p *circlePlan) write(tx *store.Tx) (texts int, err error) {
	if err := tx.SetTurns(p.circle, p.today, p.turns, p.planAt); err != nil {
		return 0, err
	}
	if _, err := tx.ChargeDays(p.circle.ID, p.today); err != nil {
		return 0, err
	}
	return tx.WriteRounds(p.now.Unix(), []store.Round{p.out})
}

// morningOf returns the instant of a day's morning, in Unix seconds.
func (p *circlePlan) morningOf(d engine.Day) int64 {
	return d.At(p.circle.MorningHour, p.circle.Zone).Unix()
}
