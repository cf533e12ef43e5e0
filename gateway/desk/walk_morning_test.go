package desk_test

import (
	"flag"
	"fmt"
	"testing"

	"rowbell/engine"
	"rowbell/gateway/browser"
)

// With the flag update, TestMorningInABrowser and TestHalfWeedingCorrectedInABrowser write the pictures of the README:
//
//	go test ./gateway/desk -run InABrowser -update
var update = flag.Bool("update", false, "write morning.png and plot.png anew")

// line returns a selector for the line of the morning with this phone number.
func line(number string) string {
	return fmt.Sprintf(`main ol.calls li:has(a[href="tel:%s"])`, number)
}

// The morning of a field worker, on a phone: the list says whom to call and why, a number is a link that dials. One
// grower has weeded and goes off the list, one is not reached and goes down, one has two or three leaves in the plot.
func TestMorningInABrowser(t *testing.T) {
	const weeded, notReached, cameBy = "+447700900004", "+447700900011", "+447700900012"
	v := openValley(t)
	w := v.openWindow("worker")
	if path := browser.Value[string](w.Window, `location.pathname`); path != "/desk/" {
		t.Errorf("after the log-in the browser is at %s", path)
	}
	w.Says(line(weeded), "last days", "Ask whether the plot is weeded", "Lift the tool by its handle")
	w.Shot("morning")
	if *update {
		w.SaveWindow("morning.png", 1280, 760)
		w.Resize(360, 740)
	}
	lines := func() int {
		return browser.Value[int](w.Window, `document.querySelectorAll("main ol.calls > li").length`)
	}
	before := lines()

	w.Press(line(weeded) + ` a[href*="/contact"]`)
	w.Choose("#f-weeded", "Yes, all of it")
	w.Shot("reached")
	w.Press("main form button.do")
	w.Says(".note", "Noted for plot 1: reached, weeded 1 Jun")
	if now := lines(); now != before-1 || browser.Value[bool](w.Window, fmt.Sprintf(`!!document.querySelector(%q)`,
		line(weeded))) {
		t.Errorf("%d lines after a plot was weeded, %d before", now, before)
	}
	if n := one[int](v, `SELECT count(*) FROM pass JOIN plot ON plot.id = plot_id JOIN grower g ON g.id = grower_id
		WHERE g.phone = ?`, weeded); n != 1 {
		t.Errorf("%d passes of the weeded plot, want 1", n)
	}

	w.Press(line(notReached) + ` form button`)
	w.Says(line(notReached), "not reached today")
	if last := browser.Value[bool](w.Window, fmt.Sprintf(`document.querySelector("main ol.calls > li:last-child") ===
		document.querySelector(%q)`, line(notReached))); !last {
		t.Error("a grower who was not reached does not go down to the end of the list")
	}
	w.Shot("morning-later")

	w.Press(line(cameBy) + ` a[href*="what=came"]`)
	w.Choose("#f-leaves", "2 or 3 leaves")
	w.Press("main form button.do")
	w.Says(".note", "came by")
	if leaves := one[engine.Leaves](v, `SELECT leaves FROM sighting JOIN plot ON plot.id = plot_id JOIN grower g
		ON g.id = grower_id WHERE g.phone = ?`, cameBy); leaves != engine.TwoThree {
		t.Errorf("what was seen is stored as %s", leaves)
	}
	if n := one[int](v, `SELECT count(*) FROM trail WHERE who = 'worker'`); n < 3 {
		t.Errorf("the trail has %d entries, want one for each call at least", n)
	}
}
