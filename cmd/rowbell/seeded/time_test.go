package seeded

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"pgregory.net/rapid"

	"rowbell/store"
)

var hops = []time.Duration{10 * time.Minute, time.Hour, 5 * time.Hour, 13 * time.Hour}

// timePasses moves the clock on, and the service does what is due.
func (w *world) timePasses() {
	w.hop()
	w.must(w.settle())
}

// wrongs are by how much the clock is wrong after it was set wrong.
var wrongs = []time.Duration{2 * time.Hour, 30 * time.Hour, 5 * 24 * time.Hour, -2 * time.Hour, -30 * time.Hour,
	-5 * 24 * time.Hour}

// clockIsSet sets the clock of the machine wrong, or right again, and the service does what is due. Everything is
// checked by this clock: what is night, today or in use by the right one cannot be known to the service. A network that
// repeats a step of a dialogue after its time by the wrong clock makes a new call; so networkRepeats goes by it too.
func (w *world) clockIsSet() {
	if w.wrong != 0 {
		w.setRight()
	} else {
		w.wrong = rapid.SampledFrom(wrongs).Draw(w.t, "wrong by")
		w.clock.Advance(w.wrong)
	}
	w.newSessions()
	w.must(w.settle())
	w.seen["clocks set"]++
}

func (w *world) setRight() {
	w.clock.Advance(-w.wrong)
	w.wrong = 0
}

func (w *world) hop() {
	w.clock.Advance(hops[rapid.IntRange(0, len(hops)-1).Draw(w.t, "hop")])
	w.newSessions()
}

func (w *world) newSessions() {
	for _, g := range w.growers {
		g.session, g.step = "", 0
	}
}

// settle does what is due.
func (w *world) settle() error {
	w.rang = true
	return w.service.Settle(context.Background())
}

// bellFails has the records fail, or the process end, while the bell writes texts. When it works again, the texts are
// the same as without the failure.
func (w *world) bellFails() {
	w.hop()
	w.each(func(n *network) { n.dark = true })
	var want []string
	_, passed := w.clone(func(copied *world) {
		copied.must(copied.settle())
		want = copied.rung()
	})
	w.failing(passed)
	w.each(func(n *network) { n.dark = false })
	// What becomes of the texts is not compared: the networks of the copy took none.
	if got := w.rung(); !slices.Equal(got, want) {
		w.t.Fatalf("the bell wrote\n%s", differences(strings.Join(got, "\n"), strings.Join(want, "\n")))
	}
}

// rung returns what the bell told of plots, and the kinds of the texts. Growers in circles are left out: while turns
// cannot be planned, the bell goes on without them, so what it writes then is another, and turnIsTrue looks at it.
func (w *world) rung() (list []string) {
	alone := ` AND NOT EXISTS (SELECT 1 FROM plot p JOIN circle_member m ON m.grower_id = p.grower_id
		WHERE p.id = x.plot_id)`
	for _, query := range []string{
		`SELECT x.plot_id, x.window_no, x.edition, x.day, CAST(x.kind AS TEXT) FROM told x WHERE true` + alone,
		`SELECT x.plot_id, 0, 0, 0, t.kind FROM message_plot x JOIN message t ON t.id = x.message_id
			WHERE true` + alone,
	} {
		rows, err := w.reader.db.Query(query)
		w.must(err)
		for rows.Next() {
			var plot, window, edition, day int64
			var kind string
			w.must(rows.Scan(&plot, &window, &edition, &day, &kind))
			list = append(list, fmt.Sprint(plot, window, edition, day, kind))
		}
		w.must(errors.Join(rows.Err(), rows.Close()))
	}
	slices.Sort(list)
	return list
}

// sendingFails has the records fail, or the process end, while answers and reminders go out.
func (w *world) sendingFails() {
	w.hop()
	for range rapid.IntRange(1, 3).Draw(w.t, "texts") {
		w.growerTexts()
	}
	w.failing(anyPoints())
}

// failing settles with a failure, and then without one.
func (w *world) failing(at []store.Point) {
	w.fault = w.drawFault(at)
	err := w.settle()
	if err != nil && !w.fault.fired {
		w.t.Fatal(err)
	}
	w.seen["work that met a failure"] += truth(w.fault.fired)
	if w.fault.crash && w.fault.fired {
		w.restart()
	}
	w.fault = nil
	w.must(w.settle())
}

// tables returns the lines of some tables.
func tables(contents string, names ...string) string {
	var out []string
	for line := range strings.SplitSeq(contents, "\n") {
		if name, _, _ := strings.Cut(line, " "); slices.Contains(names, name) {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

func (w *world) each(fn func(*network)) {
	for _, n := range w.networks {
		fn(n)
	}
}

func (w *world) serviceRestarts() {
	w.must(w.service.Close())
	w.service = w.start(w.conf, w.point)
	w.seen["restarts"]++
}

// end lets the networks work and the time pass until all texts have gone or are useless, and checks what became of
// each. It ends by day, because some texts wait for the morning.
func (w *world) end() {
	if w.held {
		w.operatorHolds()
	}
	var wait []*grower
	if rapid.IntRange(0, 3).Draw(w.t, "ends ahead") == 0 {
		w.setRight()
		w.wrong = 5 * 24 * time.Hour
		w.clock.Advance(w.wrong)
		wait = w.failAhead()
	}
	w.setRight()
	w.each(func(n *network) { n.mood = well })
	for _, g := range wait {
		w.writes(g, "menu")
	}
	for range 3 {
		w.clock.Advance(time.Hour)
		w.must(w.settle())
	}
	w.checkWaiting()
	for n := range 12 { // one and a half day, and on until it is day
		if hour := w.clock.Now().Hour(); n >= 9 && hour >= 9 && hour < 18 {
			break
		}
		w.clock.Advance(3 * time.Hour)
		w.must(w.settle())
	}
	w.check()
	w.checkOutbox()
}

// failAhead has the networks fail while the clock is ahead, until the service pauses one, and returns other growers of
// that network. They need not wait until the time of the wrong clock.
func (w *world) failAhead() (others []*grower) {
	for _, g := range w.growers {
		if g.network.index == 1 {
			others = append(others, g)
		}
	}
	if len(others) == 0 {
		return nil
	}
	w.each(func(n *network) { n.dark = true })
	w.writes(others[0], "menu")
	for range 6 {
		w.clock.Advance(10 * time.Minute)
		w.must(w.settle())
	}
	w.each(func(n *network) { n.dark = false })
	return others[1:]
}

// counts are how often something happened in all seasons.
type counts map[string]int

func (c counts) add(d counts) {
	for what, n := range d {
		c[what] += n
	}
}

func (c counts) String() string { return fmt.Sprint(map[string]int(c)) }
