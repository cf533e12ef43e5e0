package handset

import (
	"fmt"
	"math"

	"rowbell/engine"
)

// stripBar is the work in the next window: the days that it takes, with words.
type stripBar struct {
	from, to engine.Day
	fits     bool
	words    string
}

// workBar is the bar of the next window: it ends with the window, so that its
// beginning is the last day to start. Where the work is too long, it is as long
// as the window.
func (x *stripSeason) workBar() (stripBar, bool) {
	w, next := x.effort, x.plan.Next
	if w.Fits {
		return stripBar{w.StartBy, next.Closes, true, fmt.Sprintf("%s, start by %s", stripDays(w.Days), stripDate(w.StartBy))}, true
	}
	if w.Instead == engine.NoAlternative {
		return stripBar{}, false
	}
	b := stripBar{from: max(x.plan.On, next.Opens), to: next.Closes}
	b.words = fmt.Sprintf("%s, too long: about %.0f%% by %s", stripDays(w.Days), math.Floor(100*w.Share), stripDate(b.to))
	return b, true
}

func stripDays(n int) string {
	if n == 1 {
		return "1 day's work"
	}
	return fmt.Sprintf("%d days' work", n)
}

// shownBar is the bar as far as the strip goes.
func (x *stripSeason) shownBar() (stripBar, bool) {
	b, ok := x.workBar()
	b.from, b.to = max(b.from, x.first), min(b.to, x.last)
	return b, ok && b.from <= b.to
}

// work draws the days of work in the next window, a box each.
func (c *stripCanvas) work() {
	bar, ok := c.shownBar()
	if !ok {
		return
	}
	top := c.body(stripWorkH, true)
	for d := bar.from; d <= bar.to; d++ {
		c.rect(bar.box(c.x(d)+1, top+4, max(c.day-2, 1)))
	}
	c.caption(top+14, "Work", "")
}

// box is a day of the bar.
func (b stripBar) box(x, y, width stripPX) stripRect {
	r := stripRect{X: x, Y: y, W: width, H: stripWorkH - 8, Fill: stripSoft, Stroke: stripInk}
	if !b.fits {
		r.Fill, r.Dash = stripPaper, "3 2"
	}
	return r
}

// workLegend explains the bar.
func (c *stripCanvas) workLegend(item stripItem) {
	bar, ok := c.shownBar()
	if !ok {
		return
	}
	words := "a day's work, as late as can be"
	if !bar.fits {
		words = "too few days for the work"
	}
	item(words, func(x, y stripPX) { c.rect(bar.box(x+7, y-6, 12)) })
}

func (c *stripCanvas) workFlags() []stripMarked {
	bar, ok := c.shownBar()
	if !ok {
		return nil
	}
	return []stripMarked{{Day: bar.from, Text: bar.words, Bold: true}}
}
