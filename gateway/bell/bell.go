// Package bell runs the reminder loop. It finds the plots that are due and asks the engine about the state of each plot
// today. In one transaction it writes to the records the one text that is worth sending, the text's prompt, and when
// the plot is looked at next.
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
	"slices"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/menu"
	"rowbell/store"
)

// Menu composes the texts; *menu.Menu implements Menu.
type Menu interface {
	Ring(lang string, bells ...menu.Bell) (menu.Ringing, error)
}

// Options configure a Bell. Store, Menu, Clock and QuietHour must be set.
type Options struct {
	Store     *store.Store
	Menu      Menu
	Clock     clock.Clock
	Log       zerolog.Logger
	QuietHour int          // local hour at which quiet hours begin; they end in the morning
	Batch     int          // largest number of growers in one transaction; 0 = 200
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

// Ring looks at every plot that is due at now and returns how many texts it wrote. If a batch fails, Ring handles its
// growers one by one. A grower whose plots cause an error gets no text and is put off until tomorrow.
func (b *Bell) Ring(ctx context.Context, now time.Time) (texts int, err error) {
	if err := b.o.Store.LookAtPlaces(ctx, now.Unix()); err != nil {
		return 0, fmt.Errorf("bell: %w", err)
	}
	oneByOne := 0        // number of growers of a failed batch that must still be handled one by one
	oldest := now.Unix() // when the longest waiting plot was due, in Unix seconds
	for {
		size := b.o.Batch
		if oneByOne > 0 {
			size = 1
		}
		done, err := b.ringBatch(ctx, now, size)
		oldest = min(oldest, done.oldest)
		switch {
		case err != nil && (done.failed == nil || store.Unavailable(err)):
			return texts, fmt.Errorf("bell: %w", err)
		case err != nil && oneByOne == 0:
			oneByOne = b.o.Batch
			continue
		case err != nil:
			if err := b.skip(ctx, *done.failed, now, err); err != nil {
				return texts, fmt.Errorf("bell: %w", err)
			}
			done.growers, done.texts = 1, 0
		}
		oneByOne = max(0, oneByOne-1)
		if texts += done.texts; done.texts > 0 && b.o.Queued != nil {
			b.o.Queued()
		}
		if done.growers == 0 {
			b.o.Meter.Bell(time.Duration(now.Unix()-oldest) * time.Second)
			return texts, nil
		}
		if err := ctx.Err(); err != nil {
			return texts, err
		}
	}
}

// batch is the result of one transaction.
type batch struct {
	growers, texts int
	oldest         int64            // when the longest waiting plot of the batch was due, in Unix seconds
	failed         *store.DueGrower // grower whose texts could not be written; nil: no grower caused an error
}

// ringBatch looks at the due plots of at most size growers, in one transaction.
func (b *Bell) ringBatch(ctx context.Context, now time.Time, size int) (done batch, err error) {
	done.oldest = now.Unix()
	err = b.o.Store.InTx(ctx, func(tx *store.Tx) error {
		due, err := tx.DueGrowers(now.Unix(), size)
		if err != nil {
			return err
		}
		for i := range due {
			done.failed = &due[i]
			for _, p := range due[i].Plots {
				done.oldest = min(done.oldest, p.LookAt)
			}
			n, err := b.newRound(tx, due[i], now).look()
			if err != nil {
				return err
			}
			done.growers++
			done.texts += n
		}
		done.failed = nil // an error after this point comes from the commit, not from a grower
		return nil
	})
	return done, err
}

// skip makes a grower's plots due again tomorrow, because no text about them can be written now, and logs the reason.
func (b *Bell) skip(ctx context.Context, g store.DueGrower, now time.Time, reason error) error {
	e := b.o.Log.Error().Int64("grower", g.ID)
	var broken *store.PanicError
	// Only the type of a panic is logged, because its message may contain what a grower typed.
	if errors.As(reason, &broken) {
		e = e.Str("panic", fmt.Sprintf("%T", broken.Value)).Str("stack", string(broken.Stack))
	} else {
		e = e.Err(reason)
	}
	e.Msg("bell: no text can be written for a grower, who is looked at again tomorrow; " +
		"if the text of a folder of your own is at fault, rowbell texts shows it, else report it with this line")
	return b.o.Store.InTx(ctx, func(tx *store.Tx) error {
		r := b.newRound(tx, g, now)
		for _, p := range g.Plots {
			if err := tx.SetLook(p.ID, r.tomorrow); err != nil {
				return err
			}
		}
		return nil
	})
}

// round is one look at the due plots of one grower, with the instants of the grower's day.
type round struct {
	b        *Bell
	tx       *store.Tx
	grower   store.DueGrower
	now      time.Time
	today    engine.Day // the grower's local day
	morning  time.Time  // texts may be written today from this instant on
	tomorrow int64      // the next morning, in Unix seconds
}

func (b *Bell) newRound(tx *store.Tx, g store.DueGrower, now time.Time) *round {
	today := engine.DayOf(now, g.Zone)
	r := &round{b: b, tx: tx, grower: g, now: now, today: today, morning: today.At(g.MorningHour, g.Zone)}
	r.tomorrow = r.morningOf(today + 1)
	return r
}

// morningOf returns the instant of a day's morning, in Unix seconds.
func (r *round) morningOf(d engine.Day) int64 {
	return d.At(r.grower.MorningHour, r.grower.Zone).Unix()
}

// news is a plot about which there is something to tell today.
type news struct {
	plot store.DuePlot
	bell menu.Bell
}

// look plans each due plot, sets its next look, and writes the texts. It returns how many texts it wrote.
//
// A phone number that has been silent for long gets texts too, because its grower may only read. Such texts name a plot
// by its number only, and the menu asks who is answering before it accepts an answer.
func (r *round) look() (texts int, err error) {
	quiet := !r.now.Before(r.today.At(r.b.o.QuietHour, r.grower.Zone))
	silent := r.grower.Silent(r.now.Unix())
	var list []news
	for _, p := range r.grower.Plots {
		next := int64(0) // 0: the plot is not looked at again
		switch {
		// LookAt is after this morning if the grower changed the plot today. Such a plot waits until tomorrow, because
		// the menu has just shown the grower what is new.
		case quiet || p.LookAt > r.morning.Unix():
			next = r.tomorrow
		case r.now.Before(r.morning):
			next = r.morning.Unix()
		default:
			plan, err := p.Season.Windows(r.today)
			if err != nil { // one unusable plot must not stop the grower's other plots
				r.b.o.Log.Error().Err(err).Int64("plot", p.ID).
					Msg("bell: a plot cannot be planned and gets no texts until its grower changes it: " +
						"look at the figures and the weather of its place, with rowbell place")
				break
			}
			reminder, silence := plan.Reminder(p.Told)
			if plan.LookAgain != 0 {
				next = r.morningOf(plan.LookAgain)
			}
			switch silence {
			case engine.NotSilent:
				list = append(list, news{p, menu.Bell{
					No: p.No, Season: p.Season, Plan: plan, Reminder: reminder, Silent: silent,
				}})
			case engine.SilentToday, engine.SilentWeek:
				next = r.tomorrow
			}
		}
		if err := r.tx.SetLook(p.ID, next); err != nil {
			return 0, err
		}
	}
	return r.writeTexts(list)
}

// writeTexts writes the texts, the most urgent first. Two plots with the same news share a text if both fit into it. At
// most one text of a morning asks a question, so that the digit in an answer has one meaning. Plots with further
// questions wait until tomorrow.
func (r *round) writeTexts(list []news) (texts int, err error) {
	slices.SortStableFunc(list, func(x, y news) int {
		return cmp.Compare(x.bell.Reminder.Kind.Rank(), y.bell.Reminder.Kind.Rank())
	})
	asked := false
	for len(list) > 0 {
		asks := list[0].bell.Reminder.Asks()
		if asks && asked {
			if err := r.tx.SetLook(list[0].plot.ID, r.tomorrow); err != nil {
				return texts, err
			}
			list = list[1:]
			continue
		}
		n := min(2, len(list))
		text, err := r.write(list[:n])
		if errors.Is(err, menu.ErrApart) {
			n = 1
			text, err = r.write(list[:1])
		}
		if err != nil {
			return texts, err
		}
		if text {
			texts++
		}
		asked = asked || asks
		list = list[n:]
	}
	return texts, nil
}

// write writes one text about one or two plots to the outbox, withdraws the unsent texts about these plots, and records
// that their news was told. It returns false if the outbox already has a text with the same key.
func (r *round) write(list []news) (written bool, err error) {
	bells := make([]menu.Bell, len(list))
	ids := make([]int64, len(list))
	useful := list[0].bell.Reminder.LastUseful
	key := "ring"
	for i, n := range list {
		bells[i], ids[i] = n.bell, n.plot.ID
		useful = min(useful, n.bell.Reminder.LastUseful)
		w := n.bell.Reminder.Window
		key += fmt.Sprintf("/%d.%d.%d.%d", n.plot.ID, n.plot.Season.Plot.Planted, w.Number, w.Edition)
	}
	text, err := r.b.o.Menu.Ring(r.grower.Language, bells...)
	if err != nil {
		return false, err
	}
	now := r.now.Unix()
	for _, id := range ids {
		if err := r.tx.Supersede(id, now, r.grower.Zone, r.morning.Unix()); err != nil {
			return false, err
		}
	}
	for _, n := range list {
		if err := r.markTold(n); err != nil {
			return false, err
		}
	}
	fresh, err := r.tx.Enqueue(store.Message{
		Key: fmt.Sprintf("%s/%s/%d", key, text.Kind, r.today), GrowerID: r.grower.ID, PlotIDs: ids, To: r.grower.Phone,
		Reminder: text.Kind, Text: text.Text, DueAt: now, CreatedAt: now,
		UsefulUntil: useful.At(r.b.o.QuietHour, r.grower.Zone).Unix(),
	})
	if err != nil || !fresh || text.Prompt == nil {
		return fresh, err
	}
	until := (text.PromptEnd + 1).At(0, r.grower.Zone) // the first instant after the prompt's last local day
	return true, r.tx.SavePrompt(store.Prompt{
		Phone: r.grower.Phone, Body: text.Prompt, AskedAt: now, Until: until.Unix() - 1,
	})
}

// markTold records that a plot's news was told. A window whose days were told becomes announced: the window then stays
// on these days, even if the engine would calculate other days later.
func (r *round) markTold(n news) error {
	reminder := n.bell.Reminder
	_, err := r.tx.Tell(n.plot.ID, engine.Told{
		Kind: reminder.Kind, Window: reminder.Window.Number, Edition: reminder.Window.Edition, On: r.today,
	})
	if err == nil && reminder.Tells() {
		err = r.tx.Announce(n.plot.ID, reminder.Window)
	}
	return err
}
