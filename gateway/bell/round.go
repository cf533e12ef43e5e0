package bell

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/store"
)

// round is one look at the due plots of one grower, with the instants of the grower's day. Its result is what to write.
type round struct {
	b        *Bell
	grower   store.DueGrower
	now      time.Time
	today    engine.Day // the grower's local day
	morning  time.Time  // texts may be written today from this instant on
	tomorrow int64      // the next morning, in Unix seconds

	out     store.Round // what is written
	skipped bool        // no text can be written; see Bell.skip
}

func (b *Bell) newRound(g store.DueGrower, now time.Time) *round {
	today := engine.DayOf(now, g.Zone)
	r := &round{b: b, grower: g, now: now, today: today, morning: today.At(g.MorningHour, g.Zone)}
	r.tomorrow = r.morningOf(today + 1)
	r.out = store.Round{Zone: g.Zone, Morning: r.morning.Unix()}
	return r
}

// morningOf returns the instant of a day's morning, in Unix seconds.
func (r *round) morningOf(d engine.Day) int64 {
	return d.At(r.grower.MorningHour, r.grower.Zone).Unix()
}

// changed reports whether a plot is due because something about it changed, and not because a morning came that was
// set before.
func (r *round) changed() bool {
	return slices.ContainsFunc(r.grower.Plots, func(p store.DuePlot) bool {
		return p.LookAt != r.morningOf(engine.DayOf(time.Unix(p.LookAt, 0), r.grower.Zone))
	})
}

// news is a plot about which there is something to tell today.
type news struct {
	plot store.DuePlot
	bell menu.Bell
}

// look plans each due plot and its next look, and composes the texts.
//
// A phone number that has been silent for long gets texts too, because its grower may only read. Such texts name a plot
// by its number only, and the menu asks who is answering before it accepts an answer.
func (r *round) look() error {
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
			turn, last := r.turnOf(p, plan.Next)
			switch {
			case silence == engine.NotSilent && r.waitsUntil(reminder.Kind, turn, last) > r.today:
				next = min(next, r.morningOf(r.waitsUntil(reminder.Kind, turn, last)))
			case silence == engine.NotSilent:
				list = append(list, news{p, menu.Bell{
					No: p.No, Season: p.Season, Plan: plan, Reminder: reminder, Silent: silent, Turn: turn,
				}})
			}
			switch silence {
			case engine.SilentToday, engine.SilentWeek:
				next = r.tomorrow
			}
		}
		r.out.Looks = append(r.out.Looks, store.NextLook{PlotID: p.ID, At: next})
	}
	return r.compose(list)
}

// compose composes the texts, the most urgent first. Two plots with the same news share a text if both fit into it. At
// most one text of a morning asks a question, so that the digit in an answer has one meaning. Plots with further
// questions wait until tomorrow.
func (r *round) compose(list []news) error {
	slices.SortStableFunc(list, func(x, y news) int {
		return cmp.Compare(x.bell.Reminder.Kind.Rank(), y.bell.Reminder.Kind.Rank())
	})
	asked := false
	for len(list) > 0 {
		asks := list[0].bell.Reminder.Asks()
		if asks && asked {
			r.out.Late = append(r.out.Late, store.NextLook{PlotID: list[0].plot.ID, At: r.tomorrow})
			list = list[1:]
			continue
		}
		n := min(2, len(list))
		t, err := r.text(list[:n])
		if errors.Is(err, menu.ErrApart) {
			n = 1
			t, err = r.text(list[:1])
		}
		if err != nil {
			return err
		}
		r.out.Texts = append(r.out.Texts, t)
		asked = asked || asks
		list = list[n:]
	}
	return nil
}

// text composes one text about one or two plots.
func (r *round) text(list []news) (t store.RoundText, err error) {
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
	ringing, err := r.b.o.Menu.Ring(r.grower.Language, bells...)
	if err != nil {
		return t, err
	}
	now := r.now.Unix()
	t = store.RoundText{Message: store.Message{
		Key: fmt.Sprintf("%s/%s/%d", key, ringing.Kind, r.today), GrowerID: r.grower.ID, PlotIDs: ids,
		To: r.grower.Phone, Reminder: ringing.Kind, Text: ringing.Text, DueAt: now, CreatedAt: now,
		UsefulUntil: useful.At(r.b.o.QuietHour, r.grower.Zone).Unix(),
	}}
	for _, n := range list {
		told := r.told(n)
		if ringing.Turn {
			told.Turn = r.toldTurn(n)
		}
		t.News = append(t.News, told)
	}
	if ringing.Prompt != nil {
		until := (ringing.PromptEnd + 1).At(0, r.grower.Zone) // the first instant after the prompt's last local day
		t.Prompt = &store.Prompt{Phone: r.grower.Phone, Body: ringing.Prompt, AskedAt: now, Until: until.Unix() - 1}
	}
	return t, nil
}

// told returns what is recorded when a plot's news is told. A window whose days are told becomes announced: the window
// then stays on these days, even if the engine would calculate other days later.
func (r *round) told(n news) store.News {
	reminder := n.bell.Reminder
	told := store.News{PlotID: n.plot.ID, Told: engine.Told{
		Kind: reminder.Kind, Window: reminder.Window.Number, Edition: reminder.Window.Edition, On: r.today,
	}}
	if reminder.Tells() {
		told.Window = &reminder.Window
	}
	return told
}
