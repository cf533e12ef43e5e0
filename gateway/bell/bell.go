// Package bell runs the reminder loop. It finds the plots that are due and asks the engine about the state of each plot
// today. As background work it writes to the records the one text that is worth sending, the text's prompt, and when
// the plot is looked at next, unless the plot has changed meanwhile.
//
//	b := bell.New(bell.Options{Store: s, Menu: m, Clock: c, Log: log, QuietHour: 20})
//	go b.Run(ctx)
//
// Package bell sends no text (package push does) and composes no sentence (package menu does). It writes texts in the
// morning of the plot's place. After an outage a plot gets the text that is true today, not the texts that were missed.
package bell

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/menu"
	"rowbell/store"
)

// Menu composes the texts; *menu.Menu implements Menu.
type Menu interface {
	Ring(lang string, bells ...menu.Bell) (menu.Ringing, error)
	TurnText(lang string, news menu.TurnNews) (string, error)
}

// Options configure a Bell. Store, Menu, Clock and QuietHour must be set.
type Options struct {
	Store     *store.Store
	Menu      Menu
	Clock     clock.Clock
	Log       zerolog.Logger
	QuietHour int          // local hour at which quiet hours begin; they end in the morning
	Batch     int          // largest number of growers that are read and planned at once; 0 = 200
	Queued    func()       // called after texts were written to the outbox; may be nil
	Meter     *meter.Meter // nil: nothing is counted
}

// Bell is the reminder loop.
type Bell struct{ o Options }

// New returns a bell. It looks at no plot until Run or Ring is called.
func New(o Options) *Bell {
	if o.QuietHour == 0 {
		panic("bell: New needs a QuietHour")
	}
	o.Batch = cmp.Or(o.Batch, 200)
	return &Bell{o}
}

// Run calls Ring once a minute until ctx ends. Of several failures in a row Run logs the first, and later the recovery.
func (b *Bell) Run(ctx context.Context) {
	ticks, stop := b.o.Clock.Every(time.Minute)
	defer stop()
	failing := false
	for {
		switch _, err := b.Ring(ctx, b.o.Clock.Now()); {
		case err != nil && ctx.Err() == nil && !failing:
			failing = true
			b.o.Log.Error().Err(err).Str("why", store.Advice(err)).
				Msg("bell: the plots that are due cannot be read or written; trying again every minute")
		case err == nil && failing:
			failing = false
			b.o.Log.Info().Msg("bell: works again")
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

// Ring plans every circle and looks at every plot that is due at now. It returns how many texts it wrote. Circles come
// first, so that the texts about plots name their turns. If there are many, they take turns with plots: see
// circlesTime. A text then names the turns of the plan before, and a change is told in a text of its own. A grower
// whose plots cause an error gets no text and is put off until tomorrow.
//
// A batch of growers is read and planned while the batch before it is written. No transaction that writes is open for
// that, so no callback waits for it. A plan is written only if the grower's records are still the same; otherwise the
// grower is read again.
func (b *Bell) Ring(ctx context.Context, now time.Time) (texts int, err error) {
	if err := b.o.Store.LookAtPlaces(ctx, now.Unix()); err != nil {
		return 0, fmt.Errorf("bell: %w", err)
	}
	for more := true; more && err == nil; {
		var ofCircles, ofPlots int
		var plots error
		if ofCircles, more, err = b.planCircles(ctx, now); err != nil {
			err = fmt.Errorf("bell: circles: %w", err)
		}
		ofPlots, plots = b.ringPlots(ctx, now)
		texts, err = texts+ofCircles+ofPlots, errors.Join(err, plots)
	}
	return texts, err
}

// ringPlots looks at every plot that is due.
func (b *Bell) ringPlots(ctx context.Context, now time.Time) (texts int, err error) {
	oldest := now.Unix() // when the longest waiting plot was due, in Unix seconds
	run := b.o.Store.Rounds()
	current := b.plan(ctx, now, run, nil)
	for changed := 0; current.err == nil && len(current.rounds) > 0 && changed < maxChanged; {
		planned := make(chan batch, 1)
		go func() { planned <- b.plan(ctx, now, run, current.growers) }()
		done, err := b.write(ctx, now, run, current.rounds)
		next := <-planned
		oldest = min(oldest, done.oldest)
		if texts += done.texts; done.texts > 0 && b.o.Queued != nil {
			b.o.Queued()
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return texts, fmt.Errorf("bell: %w", err)
		}
		if changed++; done.growers > 0 {
			changed = 0
		}
		if current = next; current.err == nil && len(current.rounds) == 0 {
			current = b.plan(ctx, now, run, nil) // the growers who changed before their plans were written
		}
	}
	if current.err != nil {
		return texts, fmt.Errorf("bell: %w", current.err)
	}
	if len(current.rounds) == 0 {
		b.o.Meter.Bell(time.Duration(now.Unix()-oldest) * time.Second)
	}
	return texts, nil
}

// maxChanged is how often in a row all growers of a batch may have changed before their plans were written, for example
// because another process rings them. Then Ring ends, and the growers who are still due wait a minute.
const maxChanged = 10

// batch is some due growers and what was planned for them.
type batch struct {
	growers []store.DueGrower
	rounds  []*round
	err     error
}

// plan reads and plans the due plots of a batch of growers, without the growers of the list except.
func (b *Bell) plan(ctx context.Context, now time.Time, run *store.Rounds, except []store.DueGrower) (planned batch) {
	planned.growers, planned.err = run.Due(ctx, now.Unix(), b.o.Batch, except...)
	if planned.err != nil {
		return batch{err: planned.err} // not all is known of the growers that were read
	}
	planned.rounds = make([]*round, len(planned.growers))
	for i, g := range planned.growers {
		r := b.newRound(g, now)
		if err := recovered(r.look); err != nil {
			b.skip(r, err)
		}
		planned.rounds[i] = r
	}
	return planned
}

// recovered runs fn and returns a panic of it as an error.
func recovered(fn func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &store.PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return fn()
}

// skip makes a grower's plots due again tomorrow, because no text about them can be written now, and logs the reason.
func (b *Bell) skip(r *round, reason error) {
	e := b.o.Log.Error().Int64("grower", r.grower.ID)
	var broken *store.PanicError
	// Only the type of a panic is logged, because its message may contain what a grower typed.
	if errors.As(reason, &broken) {
		e = e.Str("panic", fmt.Sprintf("%T", broken.Value)).Str("stack", string(broken.Stack))
	} else {
		e = e.Err(reason)
	}
	e.Msg("bell: no text can be written for a grower, who is looked at again tomorrow; " +
		"if the text of a folder of your own is at fault, rowbell texts shows it, else report it with this line")
	r.out, r.skipped = store.Round{}, true
	for _, p := range r.grower.Plots {
		r.out.Looks = append(r.out.Looks, store.NextLook{PlotID: p.ID, At: r.tomorrow})
	}
}
