package seeded

import (
	"context"
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

func (w *world) hop() {
	w.clock.Advance(hops[rapid.IntRange(0, len(hops)-1).Draw(w.t, "hop")])
	for _, g := range w.growers {
		g.session, g.step = "", 0
	}
}

// settle does what is due.
func (w *world) settle() error { return w.service.Settle(context.Background()) }

// bellFails has the records fail, or the process end, while the bell writes texts. When it works again, the texts are
// the same as without the failure.
func (w *world) bellFails() {
	w.hop()
	w.each(func(n *network) { n.dark = true })
	want, passed := w.clone(func(copied *world) { copied.must(copied.settle()) })
	w.failing(passed)
	w.each(func(n *network) { n.dark = false })
	// What becomes of the texts is not compared: the networks of the copy took none.
	told := []string{"told", "message_plot"}
	if got, want := tables(w.contents(), told...), tables(want, told...); got != want {
		w.t.Fatalf("the bell wrote\n%s", differences(got, want))
	}
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
// each.
func (w *world) end() {
	if w.held {
		w.operatorHolds()
	}
	w.each(func(n *network) { n.mood = well })
	for range 30 {
		w.clock.Advance(time.Hour)
		w.must(w.settle())
	}
	w.check()
	w.checkOutbox()
}

// counts are how often something happened in all seasons.
type counts map[string]int

func (c counts) add(d counts) {
	for what, n := range d {
		c[what] += n
	}
}

func (c counts) String() string { return fmt.Sprint(map[string]int(c)) }
