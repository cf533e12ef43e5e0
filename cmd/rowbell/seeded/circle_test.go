package seeded

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu"
	"rowbell/store"
)

// circleDials lead to what members of a circle may do: their turn (done, longer, skip, exchange), its people, its tools
// and money; make one, and join one.
var circleDials = []string{"*123*5*1#", "*123*5*1*1#", "*123*5*1*1*1#", "*123*5*1*1*2#", "*123*5*1*1*3#",
	"*123*5*1*1*4#", "*123*5*1*2#", "*123*5*1*2*1*1#", "*123*5*1*3#", "*123*5*1*3*1*2#", "*123*5*1*4#", "*123*5*6*1#",
	"*123*5*6*2#"}

// makeCircle has the growers share tools, who are then members of one circle.
func (w *world) makeCircle() {
	if len(w.growers) < 2 || rapid.IntRange(0, 3).Draw(w.t, "no circle") == 0 {
		return
	}
	w.seen["circles"]++
	number := 0
	for i, g := range w.growers {
		name, words := fmt.Sprint("Member", i), "The others see your name and number."
		var ask circle.Ask
		w.as(g, func(l *store.Ledger) (err error) {
			if i == 0 {
				number, err = l.MakeCircle(name, words)
			} else {
				ask, err = l.JoinCircle(number, name, words)
			}
			return err
		})
		w.as(w.growers[0], func(l *store.Ledger) (err error) {
			if i > 0 {
				_, err = l.AnswerAsk(ask.ID, true, 0)
			}
			return err
		})
	}
	for range rapid.IntRange(1, 2).Draw(w.t, "tools") {
		w.as(w.growers[0], func(l *store.Ledger) error {
			_, err := l.AddSharedTool(circle.SharedTool{Tool: engine.Tool{WidthCM: 15}, MemberDay: 2000})
			return err
		})
	}
}

// as changes what belongs to a grower, beside the menu.
func (w *world) as(g *grower, fn func(l *store.Ledger) error) {
	w.t.Helper()
	w.must(w.service.Store().InTx(context.Background(), func(tx *store.Tx) error {
		l, err := tx.Ledger(g.phone, w.now())
		if err != nil {
			return err
		}
		return fn(l)
	}))
}

// memberCalls has a grower dial what concerns a circle, and enter some keys.
func (w *world) memberCalls() {
	g := w.someone()
	g.session = ""
	c := w.nextKey(g)
	c.body["dialled"] = rapid.SampledFrom(circleDials).Draw(w.t, "dialled")
	w.send(&c)
	w.acknowledged(c)
	for range rapid.IntRange(0, 4).Draw(w.t, "keys") {
		c := w.nextKey(g)
		w.send(&c)
		w.acknowledged(c)
	}
}

// circles returns the circles that have not ended, with their turns and what was told of them.
func (w *world) circles(tx *store.Tx) (list []store.DueCircle, err error) {
	rows, err := w.reader.db.Query("SELECT id FROM circle WHERE ended_at IS NULL ORDER BY id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		c, known, err := tx.CircleToPlan(id, w.now())
		if err != nil {
			return nil, err
		}
		if known {
			list = append(list, c)
		}
	}
	return list, rows.Err()
}

// turnIsTrue looks whether what a text says of a turn is so today: the member has these days of the tool, or none.
func (w *world) turnIsTrue(tx *store.Tx, n *network, m store.Message, today engine.Day) error {
	list, err := w.circles(tx)
	if err != nil {
		return err
	}
	var plot int64
	var event menu.TurnEvent
	parts := strings.Split(m.Key, "/")
	of, _, _ := strings.Cut(parts[1], ".")
	if _, err := fmt.Sscan(of+" "+parts[2], &plot, &event); err != nil {
		return err
	}
	w.seen["texts about turns"]++
	told, turns := w.turnsOf(list, plot)
	switch {
	case told == nil:
		n.problem("took %q, but plot %d is in no circle", m.Text, plot)
	case event == menu.TurnNone, event == menu.TurnGone, event == menu.TurnFreed:
		if slices.ContainsFunc(turns, func(t store.CircleTurn) bool {
			return t.Day >= today && t.Window.Number == told.Window
		}) {
			n.problem("took %q, but plot %d has turns: %v", m.Text, plot, turns)
		}
	case event == menu.TurnPassed:
	default:
		n.turnsStand(m, told, turns, today)
	}
	return nil
}

// turnsStand looks whether a plot has all turns from today on of which a text tells.
func (n *network) turnsStand(m store.Message, told *store.ToldTurn, turns []store.CircleTurn, today engine.Day) {
	for _, d := range told.Turns {
		if d.Day >= today && !slices.ContainsFunc(turns, func(t store.CircleTurn) bool {
			return t.Tool == d.Tool && t.Day == d.Day
		}) {
			n.problem("took %q, but the plot has not tool %d on %v: %v", m.Text, d.Tool, d.Day, turns)
		}
	}
}

// turnsOf returns what was told last of the turns of a plot, and the turns; nil if no member has the plot, or nothing
// was told.
func (w *world) turnsOf(list []store.DueCircle, plot int64) (told *store.ToldTurn, turns []store.CircleTurn) {
	for _, c := range list {
		for _, m := range c.Members {
			for i, p := range m.Plots {
				if m.Grower.Plots[i].ID == plot {
					told = p.Told
				}
			}
		}
		for _, t := range c.Turns {
			if t.Plot == plot {
				turns = append(turns, t)
			}
		}
	}
	return told, turns
}

// checkTurns looks whether two members think that they have a tool today, or, from the morning on, tomorrow: who was
// told so and has heard of no change. Only the bell tells turns; while it is due to plan a circle again, it may have
// more to tell.
func (w *world) checkTurns() {
	if !w.rang {
		return
	}
	w.rang = false
	w.view(func(tx *store.Tx) error {
		list, err := w.circles(tx)
		for _, c := range list {
			if c.PlanAt == 0 || c.PlanAt > w.now() {
				w.checkTools(c)
			}
		}
		return err
	})
}

func (w *world) checkTools(c store.DueCircle) {
	today := engine.DayOf(w.clock.Now(), c.Zone)
	last := today + 1
	if w.clock.Now().Before(today.At(c.MorningHour, c.Zone)) {
		last = today
	}
	whose := map[store.TurnDay]int64{}
	for _, m := range c.Members {
		for i, p := range m.Plots {
			plot := m.Grower.Plots[i]
			days, err := plot.Season.PassDays(today)
			if err != nil || p.Told == nil || days.Number != p.Told.Window || m.Stopped || m.Phone == "" ||
				p.Wishes[p.Told.Window].Skip || p.Wishes[p.Told.Window].Ready {
				continue
			}
			for _, d := range p.Told.Turns {
				if d.Day < today || d.Day > last {
					continue
				}
				if other := whose[d]; other != 0 && other != m.ID {
					w.t.Fatalf("%v: members %d and %d both think that they have tool %d on %v", w.clock.Now(), other,
						m.ID, d.Tool, d.Day)
				}
				whose[d] = m.ID
				w.seen["turns that are near"]++
			}
		}
	}
}
