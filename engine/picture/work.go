package picture

import (
	"fmt"
	"math"

	"rowbell/engine"
)

// workDays are the days of work in the next window.
type workDays struct {
	from, to engine.Day
	fits     bool // the work fits into the window
	words    string
}

// workDays returns the days of work in the next window; they end when the window closes. Work that fits into the window
// begins on the last possible day (Work.StartBy), other work today or when the window opens. The result is false if
// there is no work to show, for example because the area is not given.
func (v *seasonView) workDays() (workDays, bool) {
	w, next := v.effort, v.plan.Next
	days := fmt.Sprintf("%d days' work", w.MostDays)
	switch {
	case w.Days < w.MostDays:
		days = fmt.Sprintf("%d to %d days' work", w.Days, w.MostDays)
	case w.Days == 1:
		days = "1 day's work"
	}
	if w.Fits {
		words := fmt.Sprintf("%s, start by %s", days, shortDate(w.StartBy))
		return workDays{from: w.StartBy, to: next.Closes, fits: true, words: words}, true
	}
	if w.Instead == engine.NoAlternative {
		return workDays{}, false
	}
	words := fmt.Sprintf("%s, too long: about %.0f%% by %s", days, math.Floor(100*w.Share), shortDate(next.Closes))
	return workDays{from: max(v.plan.On, next.Opens), to: next.Closes, words: words}, true
}

// shownWork returns the result of workDays without days outside the picture; false if no day is left.
func (v *seasonView) shownWork() (workDays, bool) {
	w, ok := v.workDays()
	w.from, w.to = max(w.from, v.first), min(w.to, v.last)
	return w, ok && w.from <= w.to
}

// work draws a row with a box for each day of work in the next window; if there is no such day, it draws no row.
func (c *canvas) work() {
	work, ok := c.shownWork()
	if !ok {
		return
	}
	top := c.beginRow(workHeight, true)
	for d := work.from; d <= work.to; d++ {
		c.addRect(work.box(c.x(d)+1, top+4, max(c.day-2, 1)))
	}
	c.caption(top+14, "Work", "")
}

func (w workDays) box(x, y, width px) rect {
	r := rect{X: x, Y: y, W: width, H: workHeight - 8, Fill: colors.SoftInk, Stroke: colors.Ink}
	if !w.fits {
		r.Fill, r.Dash = colors.Paper, "3 2"
	}
	return r
}

func (c *canvas) workLabels() []dayLabel {
	work, ok := c.shownWork()
	if !ok {
		return nil
	}
	return []dayLabel{{Day: work.from, Text: work.words}}
}

func (l *legend) work() {
	work, ok := l.canvas.shownWork()
	if !ok {
		return
	}
	words := "a day's work, as late as can be"
	if !work.fits {
		words = "too few days for the work"
	}
	x, y := l.entry(words)
	l.canvas.addRect(work.box(x+7, y-6, 12))
}
