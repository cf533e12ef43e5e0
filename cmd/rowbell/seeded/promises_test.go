package seeded

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// check ends the season if a promise was broken.
func (w *world) check() {
	w.t.Helper()
	for _, n := range w.networks {
		for _, p := range n.problems {
			w.t.Errorf("%s: %s", w.clock.Now().Format(time.DateTime), p)
		}
		if len(n.problems) > 0 {
			w.t.FailNow()
		}
	}
	w.checkTurns()
	w.countErased()
}

// countErased counts the texts that were erased with all data of a grower while it was not sure whether a network had
// them. They stay charged.
func (w *world) countErased() {
	rows, err := w.reader.db.Query(`SELECT id, charge_day IS NOT NULL AND accepted_at IS NULL
		AND (begun = 1 OR doubt = 1) FROM message`)
	w.must(err)
	unsure := map[int64]bool{}
	for rows.Next() {
		var id int64
		var is bool
		w.must(rows.Scan(&id, &is))
		unsure[id] = is
	}
	w.must(errors.Join(rows.Err(), rows.Close()))
	for id, was := range w.unsure {
		if _, is := unsure[id]; was && !is {
			w.erased++
		}
	}
	w.unsure = unsure
}

// mayGo looks whether a text that a network takes now may go out: as it is stored, while it is useful, not during
// quiet hours or the operator's hold, not after STOP, and while what it says is true.
func (w *world) mayGo(n *network, key, to, text string) {
	err := w.look(func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(to), w.now())
		if err != nil {
			return err
		}
		list, err := tx.Inbox(store.Phone(to), 0)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(list, func(m store.Message) bool { return m.Key == key })
		if i < 0 || list[i].Text != text {
			n.problem("took %q for %s, which is not in the outbox", text, to)
			return nil
		}
		m := list[i]
		g := w.growers[slices.IndexFunc(w.growers, func(g *grower) bool { return g.phone == m.To })]
		switch hour := w.clock.Now().Hour(); {
		case w.now() > m.UsefulUntil:
			n.problem("took %s after its use", key)
		case w.held:
			n.problem("took %s although the operator holds all texts", key)
		case g.stopped > 0 && m.Note != "stop":
			n.problem("took %s after STOP", key)
		case m.Reminder != 0 && !m.Reminder.AtNight() && (hour < 6 || hour >= 20):
			n.problem("took %s at %d o'clock", key, hour)
		case (m.Note == "turn" || m.Note == "circle") && (hour < 6 || hour >= 20):
			n.problem("took %s, about a circle, at %d o'clock", key, hour)
		}
		if m.Note == "turn" {
			return w.turnIsTrue(tx, n, m, l.Today())
		}
		if m.Reminder == 0 {
			return nil
		}
		w.seen["reminders"]++
		return w.isTrue(tx, n, m, l.Today())
	})
	if err != nil {
		n.problem("the records cannot be read: %v", err)
	}
}

// trueIn are the states of a plot in which a reminder of a kind is true.
var trueIn = map[engine.Kind][]engine.State{
	engine.KindPrepare:  {engine.Prepare, engine.Missed},
	engine.KindOpen:     {engine.Open, engine.LastDays},
	engine.KindNudge:    {engine.Open, engine.LastDays},
	engine.KindLastDays: {engine.Open, engine.LastDays},
	engine.KindMissed:   {engine.Missed},
	engine.KindClosed:   {engine.Closed},
	engine.KindMoved:    {engine.TooEarly, engine.Prepare, engine.Open, engine.LastDays},
}

// isTrue looks whether a reminder is true today of all its plots, and whether they had no more texts than they may.
func (w *world) isTrue(tx *store.Tx, n *network, m store.Message, today engine.Day) error {
	circles, err := w.circles(tx)
	if err != nil {
		return err
	}
	for _, id := range m.PlotIDs {
		told, turns := w.turnsOf(circles, id)
		if told != nil && told.On == today && strings.Contains(m.Text, "turn") { // it tells of the turn
			w.seen["reminders of turns"]++
			n.turnsStand(m, told, turns, today)
		}
		sheet, err := tx.PlotSheet(id)
		if err != nil {
			return err
		}
		p, err := sheet.Season.Windows(today)
		if err != nil {
			return err
		}
		if !slices.Contains(trueIn[m.Reminder], p.State) || sheet.Closed != 0 {
			n.problem("took %q, but plot %d is %v on %v (closed %v)", m.Text, sheet.No, p.State, today, sheet.Closed)
		}
		var day, week, wentToday, wentInWeek int
		for _, told := range sheet.Told {
			day += truth(told.On == today)
			week += truth(told.On > today-engine.TextsWeekDays)
		}
		went := w.went[id]
		for _, d := range went {
			wentToday += truth(d == today)
			wentInWeek += truth(d > today-engine.TextsWeekDays)
		}
		w.went[id] = append(went, today)
		if wentToday > 0 || wentInWeek >= engine.TextsAWeek {
			n.problem("plot %d got %d earlier texts today, %d in a week", sheet.No, wentToday, wentInWeek)
		}
		if day > 1 || week > engine.TextsAWeek {
			n.problem("plot %d was told %d times today, %d times in a week", sheet.No, day, week)
		}
	}
	return nil
}

// checkOutbox looks at every text: what became of it is true, none waits without a reason, and each was charged once.
func (w *world) checkOutbox() {
	var unknown, handed int
	for _, g := range w.growers {
		w.view(func(tx *store.Tx) error {
			list, err := tx.Inbox(g.phone, 0)
			for _, m := range list {
				unknown += truth(m.State == store.Unknown)
				w.seen[string(m.State)]++
				if !w.stateIsTrue(m) {
					w.t.Errorf("%s is %s (%s) by %q: taken %d and %d times, receipts %v", m.Key, m.State, m.Reason,
						m.Gateway, w.networks[0].taken[m.Key], w.networks[1].taken[m.Key], w.allSaid(m.Key))
				}
			}
			return err
		})
	}
	var micros int64
	for _, n := range w.networks {
		handed += len(n.taken)
	}
	var texts int64
	w.view(func(tx *store.Tx) error {
		for _, last := range []time.Time{time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC),
			time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC), time.Date(2027, 1, 31, 0, 0, 0, 0, time.UTC)} {
			list, err := tx.Spends(last.Unix())
			if err != nil {
				return err
			}
			texts, micros = texts+list[0].MonthTexts, micros+list[0].MonthMicros
		}
		return nil
	})
	// A text that a process might be sending when it was withdrawn or erased, or that waits for the time of a wrong
	// clock, stays charged, if the process never said.
	var unsure int
	w.must(w.reader.db.QueryRow(`SELECT count(*) FROM message WHERE charge_day IS NOT NULL
		AND (state = 'withdrawn' AND begun = 1 OR state IN ('queued', 'claimed'))`).Scan(&unsure))
	if texts < int64(handed) || texts > int64(handed+unknown+unsure+w.erased) {
		w.t.Errorf("%d texts are charged, %d taken, %d unknown, %d unsure, %d erased:\n%s", texts, handed, unknown,
			unsure, w.erased, tables(w.contents(), "message", "spend"))
	}
	if t := w.clock.Now(); t.After(time.Date(2027, 1, 31, 0, 0, 0, 0, time.UTC)) {
		w.t.Errorf("the season lasts until %v: look at the money of more months", t)
	}
}

// checkWaiting looks whether a text waits that may go: all networks have worked for some hours. A text that was to be
// tried again while the clock was ahead waits until the time of that clock, and others to the same phone wait for it.
func (w *world) checkWaiting() {
	var waits int
	w.must(w.reader.db.QueryRow(`SELECT count(*) FROM message m WHERE m.state = 'queued' AND m.claim_at <= $1
		AND NOT EXISTS (SELECT 1 FROM message o WHERE o.phone = m.phone AND o.claim_at > $1)`, w.now()).Scan(&waits))
	if waits > 0 {
		w.t.Errorf("%d texts wait, but the networks work:\n%s", waits, tables(w.contents(), "message"))
	}
}

// stateIsTrue compares the state of a text with what the networks took and reported.
func (w *world) stateIsTrue(m store.Message) bool {
	taken := w.networks[0].taken[m.Key] + w.networks[1].taken[m.Key]
	said := w.allSaid(m.Key)
	reported := slices.Contains(said, m.State)
	unsure := w.networks[0].unsure[m.Key] || w.networks[1].unsure[m.Key]
	switch m.State {
	case store.Accepted:
		return taken > 0 && (len(said) == 0 || unsure)
	case store.Delivered:
		return taken > 0 && (reported || unsure)
	case store.Refused, store.Expired:
		if m.AcceptedAt == 0 {
			return taken == 0
		}
		return taken > 0 && reported && !slices.Contains(said, store.Delivered)
	case store.Withdrawn:
		return taken == 0
	case store.Unknown:
		return len(said) == 0 || unsure
	// Deferred, or behind one that is; if the clock was ahead, perhaps until the time of that clock.
	case store.Queued, store.Claimed:
		var at int64
		w.must(w.reader.db.QueryRow(`SELECT max(o.claim_at) FROM message m JOIN message o ON o.phone = m.phone
			WHERE m.key = $1 AND o.state IN ('queued', 'claimed')`, m.Key).Scan(&at))
		return at > w.now()
	}
	return false
}

// enough fails the test if too little happened for it to mean something.
func (c counts) enough(t *testing.T) {
	for what, least := range map[string]int{"calls": 100, "calls that met a failure": 10, "work that met a failure": 20,
		"repeats": 10, "forged": 10, "receipts": 20, "texts taken": 50, "reminders": 20, "restarts": 10, "holds": 10,
		"circles": 10, "texts about turns": 1, "turns that are near": 20, "clocks set": 10} {
		if c[what] < least {
			t.Errorf("%s: %d, want at least %d", what, c[what], least)
		}
	}
}
