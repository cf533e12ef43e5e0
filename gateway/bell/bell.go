// Package bell rings growers: it looks at the plots that are due a look, asks
// the engine what is true of each today, and writes the one text that is
// worth sending, with the next look, in one transaction.
//
// It looks only at plots that are due, sends in the place's morning, and
// after an outage tells the truth of today, not the pile that was missed.
package bell

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/menu"
	"rowbell/store"
)

// Menu writes the texts; *menu.Menu is one.
type Menu interface {
	Ring(lang string, bells ...menu.Bell) (menu.Ringing, error)
}

// Options are what a Bell needs.
type Options struct {
	Store     *store.Store
	Menu      Menu
	Clock     clock.Clock
	Log       zerolog.Logger
	QuietHour int           // from this local hour on nothing is sent until morning; 0 = 20
	Every     time.Duration // how often plots are looked for; 0 = a minute
	Batch     int           // growers in one transaction; 0 = 200
	Rung      func()        // called after texts were written; may be nil
	Meter     *meter.Meter  // counts; may be nil
}

// Bell is the loop that looks at plots and rings growers.
type Bell struct{ o Options }

// New returns a bell; Run or Ring make it work.
func New(o Options) *Bell {
	o.QuietHour = cmp.Or(o.QuietHour, 20)
	o.Every = cmp.Or(o.Every, time.Minute)
	o.Batch = cmp.Or(o.Batch, 200)
	return &Bell{o}
}

// Run rings on every tick of the clock until ctx ends.
func (b *Bell) Run(ctx context.Context) {
	ticks, stop := b.o.Clock.Every(b.o.Every)
	defer stop()
	failing := false
	for {
		switch _, err := b.Ring(ctx, b.o.Clock.Now()); {
		case err != nil && ctx.Err() == nil && !failing:
			failing = true
			b.o.Log.Error().Err(err).Str("why", store.Trouble(err)).Msg("bell: plots could not be looked at; trying again every minute")
		case err == nil && failing:
			failing = false
			b.o.Log.Info().Msg("bell: plots are looked at again")
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

// Ring looks at every plot that is due at now and returns how many texts were
// written. A batch that fails is taken up again grower by grower: the one for
// whom it fails is left for tomorrow, with nothing written, and the others are
// rung.
func (b *Bell) Ring(ctx context.Context, now time.Time) (texts int, err error) {
	alone := 0           // growers that are still to be taken one by one
	oldest := now.Unix() // when the plot that waited longest was due
	for {
		batch := b.o.Batch
		if alone > 0 {
			batch = 1
		}
		looked, wrote := 0, 0
		var at *store.DueGrower // who is looked at
		err := b.o.Store.InTx(ctx, func(tx *store.Tx) error {
			due, err := tx.DueGrowers(now.Unix(), batch)
			if err != nil {
				return err
			}
			for i := range due {
				at = &due[i]
				for _, p := range at.Plots {
					oldest = min(oldest, p.LookAt)
				}
				n, err := b.grower(tx, *at, now)
				if err != nil {
					return err
				}
				looked++
				wrote += n
			}
			at = nil // what fails from here on is the commit
			return nil
		})
		switch {
		case err != nil && (at == nil || store.Unavailable(err)):
			return texts, fmt.Errorf("bell: %w", err)
		case err != nil && alone == 0:
			alone = b.o.Batch
			continue
		case err != nil:
			if err := b.skip(ctx, *at, now, err); err != nil {
				return texts, fmt.Errorf("bell: %w", err)
			}
			looked, wrote = 1, 0
		}
		alone = max(0, alone-1)
		if texts += wrote; wrote > 0 && b.o.Rung != nil {
			b.o.Rung()
		}
		if looked == 0 {
			b.o.Meter.Bell(time.Duration(now.Unix()-oldest) * time.Second)
			return texts, nil
		}
		if err := ctx.Err(); err != nil {
			return texts, err
		}
	}
}

// skip leaves a grower who cannot be rung, for this reason, until tomorrow.
func (b *Bell) skip(ctx context.Context, g store.DueGrower, now time.Time, reason error) error {
	e := b.o.Log.Error().Int64("grower", g.ID)
	var broken *store.PanicError
	if errors.As(reason, &broken) { // its words may hold a grower's
		e = e.Str("panic", fmt.Sprintf("%T", broken.Value)).Str("stack", string(broken.Stack))
	} else {
		e = e.Err(reason)
	}
	e.Msg("bell: a grower cannot be rung and is looked at again tomorrow; if the text of a folder of your own is at fault, rowbell texts tells, else report it with this line")
	tomorrow := (engine.DayOf(now, g.Zone) + 1).At(g.MorningHour, g.Zone).Unix()
	return b.o.Store.InTx(ctx, func(tx *store.Tx) error {
		for _, p := range g.Plots {
			if err := tx.SetLook(p.ID, tomorrow); err != nil {
				return err
			}
		}
		return nil
	})
}

// due is a plot to be rung today.
type due struct {
	plot store.DuePlot
	bell menu.Bell
}

// grower looks at a grower's due plots. Also those of a number that has been
// silent for long: a season is longer than that, and a grower may read its
// texts and never answer. They tell a plot's number, not its name, and days, no
// more, and end with the season. An answer to one is not taken before it is known who gives it: menu
// asks.
func (b *Bell) grower(tx *store.Tx, g store.DueGrower, now time.Time) (int, error) {
	today := engine.DayOf(now, g.Zone)
	morning, quiet := today.At(g.MorningHour, g.Zone), today.At(b.o.QuietHour, g.Zone)
	next := func(d engine.Day) int64 { return d.At(g.MorningHour, g.Zone).Unix() }
	silent := g.Silent(now.Unix())
	var ring []due
	for _, p := range g.Plots {
		look := b.when(p, today, now, morning, quiet)
		if look > today || look == today && now.Before(morning) {
			if err := tx.SetLook(p.ID, next(look)); err != nil {
				return 0, err
			}
			continue
		}
		plan, err := p.Season.Windows(today)
		if err != nil {
			// A season that cannot be planned must not stop the others.
			b.o.Log.Error().Err(err).Int64("plot", p.ID).Msg("bell: a plot cannot be planned and is not looked at again until its grower changes it: look at the figures and the weather of its place, with rowbell place")
			if err := tx.SetLook(p.ID, 0); err != nil {
				return 0, err
			}
			continue
		}
		reminder, silence := plan.Reminder(p.Told)
		again := int64(0)
		if plan.LookAgain != 0 {
			again = next(plan.LookAgain)
		}
		switch silence {
		case engine.NotSilent:
			ring = append(ring, due{p, menu.Bell{No: p.No, Season: p.Season, Plan: plan, Reminder: reminder, Silent: silent}})
		case engine.SilentToday, engine.SilentWeek:
			again = next(today + 1)
		}
		if err := tx.SetLook(p.ID, again); err != nil {
			return 0, err
		}
	}
	return b.ring(tx, g, ring, now)
}

// when is the day of the next look: today, or the next morning for a plot
// that the grower changed in the course of today (the screen has just said
// all there is to say), or in the quiet hours.
func (b *Bell) when(p store.DuePlot, today engine.Day, now, morning, quiet time.Time) engine.Day {
	if !now.Before(quiet) || p.LookAt > morning.Unix() {
		return today + 1
	}
	return today
}

// ring writes the texts; two plots with the same news share one where it fits.
// Of the texts that ask for an answer only the most urgent goes out, so that a
// digit is never in doubt: the other plots are looked at the next morning.
func (b *Bell) ring(tx *store.Tx, g store.DueGrower, ring []due, now time.Time) (int, error) {
	slices.SortStableFunc(ring, func(x, y due) int { return cmp.Compare(x.bell.Reminder.Kind.Rank(), y.bell.Reminder.Kind.Rank()) })
	tomorrow := (engine.DayOf(now, g.Zone) + 1).At(g.MorningHour, g.Zone).Unix()
	texts := 0
	asked := false
	for len(ring) > 0 {
		if asks := ring[0].bell.Reminder.Asks(); asks && asked {
			if err := tx.SetLook(ring[0].plot.ID, tomorrow); err != nil {
				return texts, err
			}
			ring = ring[1:]
			continue
		}
		n := 1
		if len(ring) > 1 {
			n = 2
		}
		text, err := b.write(tx, g, ring[:n], now)
		if errors.Is(err, menu.ErrApart) {
			n = 1
			text, err = b.write(tx, g, ring[:1], now)
		}
		if err != nil {
			return texts, err
		}
		if text {
			texts++
		}
		asked = asked || ring[0].bell.Reminder.Asks()
		ring = ring[n:]
	}
	return texts, nil
}

// write puts one text about one or two plots into the outbox. A text about
// the same plot that still waits there says less than this one: it goes.
func (b *Bell) write(tx *store.Tx, g store.DueGrower, ds []due, now time.Time) (bool, error) {
	bells := make([]menu.Bell, len(ds))
	ids := make([]int64, len(ds))
	useful := ds[0].bell.Reminder.LastUseful
	key := "ring"
	for i, d := range ds {
		bells[i], ids[i] = d.bell, d.plot.ID
		useful = min(useful, d.bell.Reminder.LastUseful)
		w := d.bell.Reminder.Window
		key += fmt.Sprintf("/%d.%d.%d.%d", d.plot.ID, d.plot.Season.Plot.Planted, w.Number, w.Edition)
	}
	r, err := b.o.Menu.Ring(g.Language, bells...)
	if err != nil {
		return false, err
	}
	today := engine.DayOf(now, g.Zone)
	morning := today.At(g.MorningHour, g.Zone).Unix()
	for _, d := range ds {
		if err := tx.Supersede(d.plot.ID, now.Unix(), g.Zone, morning); err != nil {
			return false, err
		}
	}
	for _, d := range ds {
		w := d.bell.Reminder.Window
		if _, err := tx.Tell(d.plot.ID, engine.Told{Kind: d.bell.Reminder.Kind, Window: w.Number, Edition: w.Edition, On: today}); err != nil {
			return false, err
		}
		if d.bell.Reminder.Tells() {
			if err := tx.Announce(d.plot.ID, w); err != nil {
				return false, err
			}
		}
	}
	fresh, err := tx.Enqueue(store.Message{
		Key:         fmt.Sprintf("%s/%s/%d", key, r.Kind, today),
		GrowerID:    g.ID,
		PlotIDs:     ids,
		To:          g.Phone,
		Reminder:    r.Kind,
		Text:        r.Text,
		DueAt:       now.Unix(),
		CreatedAt:   now.Unix(),
		UsefulUntil: useful.At(b.o.QuietHour, g.Zone).Unix(),
	})
	if err != nil || !fresh {
		return false, err
	}
	if r.Prompt == nil {
		return true, nil
	}
	return true, tx.SavePrompt(store.Prompt{Phone: g.Phone, Body: r.Prompt, AskedAt: now.Unix(), Until: (r.PromptEnd+1).At(0, g.Zone).Unix() - 1})
}
