package picture

import (
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
)

// weeds draws the number of leaves of most weeds with their band of uncertainty, over a stripe from two to four leaves,
// in which the tool works. After today the curve is dashed and assumes that nobody weeds, as the row of water assumes
// that nobody lets water in.
func (c *canvas) weeds() {
	top := c.beginRow(weedsHeight, true)
	y := func(leaves float64) px { return top + weedsHeight*px(1-min(leaves, topLeaves)/topLeaves) }
	two, four := y(engine.WindowOpensLeaves), y(engine.WindowClosesLeaves)
	if end := min(c.over(), c.last+1); end > c.first {
		c.addRect(rect{X: leftEdge, Y: four, W: c.x(end) - leftEdge, H: two - four, Fill: fillToolSize})
	}
	past, future, low, high := "", "", "", ""
	for i, p := range c.growth {
		d := c.first + engine.Day(i)
		if d >= c.over() {
			break
		}
		at := lineTo(c.mid(d), y(p.leaves.Mean))
		low, high = lineTo(c.mid(d), y(p.leaves.Low))+low, high+lineTo(c.mid(d), y(p.leaves.High))
		if d <= c.plan.On {
			past += at
		}
		if d >= c.plan.On {
			future += at
		}
	}
	for _, s := range c.Sightings {
		if from, to, ok := leavesSeen(s); ok {
			c.addRect(leavesBox(c.mid(s.On), y(to), y(from)-y(to)))
		}
	}
	if high != "" {
		band := "M" + strings.TrimPrefix(high+low, "L") + "Z"
		c.addPath(path{D: band, Fill: fillWeeds, Stroke: colors.Weeds, Width: 0.8})
	}
	c.addCurve(past, colors.Weeds, 2.4, "")
	c.addCurve(future, colors.Weeds, 2, "5 4")
	c.caption(top+weedsHeight/2-4, "Weeds", "leaves on most")
	c.scale(two, "2")
	c.scale(four, "4")
	c.y += rowGap
}

// leavesSeen returns the range of leaves that a leaf count stands for; false if the grower did not count leaves.
func leavesSeen(s engine.Sighting) (from, to float64, ok bool) {
	switch s.Leaves {
	case engine.NoneUp:
		return 0, engine.NoneUpTo, true
	case engine.OneLeaf:
		return engine.NoneUpTo, engine.OneLeafTo, true
	case engine.TwoThree:
		return engine.OneLeafTo, engine.TwoThreeTo, true
	case engine.FourPlus:
		return engine.TwoThreeTo, topLeaves, true
	}
	return 0, 0, false
}

// leavesBox is the narrow box of a leaf count, with its middle at x.
func leavesBox(x, top, height px) rect {
	const width = px(6)
	return rect{X: x - width/2, Y: top, W: width, H: height, Fill: colors.Paper, Stroke: colors.Ink}
}

// chance draws the chance that most weeds have two to four leaves, with a line at the chance below which the days of a
// window are a guess. After the end of the work there is no chance. A plot that is weeded by hand has no such row.
func (c *canvas) chance() {
	if c.chances == nil {
		return
	}
	top := c.beginRow(chanceHeight, true)
	foot := top + chanceHeight
	y := func(chance float64) px { return foot - chanceHeight*px(chance) }
	steps := ""
	for i, p := range c.chances {
		d := c.first + engine.Day(i)
		steps += lineTo(c.x(d), y(p)) + lineTo(c.x(d+1), y(p))
	}
	end := c.x(c.first + engine.Day(len(c.chances)))
	c.addPath(path{D: fmt.Sprintf("M%s %s%s%sZ", leftEdge, foot, steps, lineTo(end, foot)), Fill: colors.Chance})
	c.addCurve(steps, colors.Window, 1, "")
	c.addLine(leftEdge, y(engine.GuessChance), end, y(engine.GuessChance), colors.Ink, 1, "2 3")
	c.caption(top+chanceHeight/2-2, "Chance", "right size")
	c.scale(y(engine.GuessChance), fmt.Sprintf("%.0f%%", 100*engine.GuessChance))
	c.y += rowGap
}

// crop draws the share of the ground that the crop shades, with a line at the share at which weeds stop.
func (c *canvas) crop() {
	top := c.beginRow(cropHeight, false)
	foot := top + cropHeight
	y := func(shade float64) px { return top + cropHeight*px(1-shade) }
	line := ""
	for i, p := range c.growth {
		line += lineTo(c.mid(c.first+engine.Day(i)), y(p.shade))
	}
	area := fmt.Sprintf("M%s %s%s%sZ", leftEdge, foot, line, lineTo(c.mid(c.last), foot))
	c.addPath(path{D: area, Fill: colors.Shade})
	c.addCurve(line, colors.Crop, 2, "")
	closed := y(engine.ClosedShade)
	c.addLine(leftEdge, closed, c.right(), closed, colors.Ink, 1, "2 3")
	c.caption(top+cropHeight/2-2, "Crop", "ground shaded")
	c.scale(closed, fmt.Sprintf("%.0f%%", 100*engine.ClosedShade))
	c.y += rowGap
}

// ruler writes the time axis: a mark for each day, and dates with days after planting, at least a week apart.
func (c *canvas) ruler() {
	top := c.y
	step := engine.Day(7)
	for px(step)*c.day < dateWidth+8 {
		step *= 2
	}
	c.addLine(leftEdge, top, c.right(), top, colors.Ink, 1.2, "")
	for d := c.first; d <= c.last; d++ {
		n := d - c.Plot.Planted
		tick := px(4)
		if n%step == 0 {
			tick = 8
			number := strconv.Itoa(int(n))
			if n == 0 {
				number = "day 0"
			}
			date := textLine{X: c.mid(d), Y: top + 20, Size: 11, Anchor: anchorMiddle, Text: shortDate(d)}
			c.addText(date)
			date.Y, date.Color, date.Text = top+33, colors.SoftInk, number
			c.addText(date)
		} else if c.day < 4 {
			continue
		}
		c.addLine(c.mid(d), top, c.mid(d), top+tick, colors.Ink, 1, "")
	}
	c.y += rulerHeight
}

// windows draws each window as a box, and the best day of each coming window in it. What became of a window shows in
// the box: a tick for weeded, a cross for missed, narrow hatching for the next, wide hatching for a later one.
func (c *canvas) windows() {
	top := c.beginRow(windowHeight, true)
	for _, w := range c.past {
		c.windowBox(w.Window, top, drawnAs(w.End))
	}
	for i, w := range c.coming() {
		switch {
		case i > 0:
			c.windowBox(w, top, laterWindow)
		case c.plan.State == engine.Missed:
			c.windowBox(w, top, missedWindow)
			continue
		default:
			c.windowBox(w, top, nextWindow)
		}
		if c.shows(w.Best) {
			best := rect{X: c.x(w.Best), Y: top + 3, W: c.day, H: windowHeight - 6}
			best.Fill, best.Stroke = colors.BestDay, colors.Ink
			c.addRect(best)
		}
	}
	if look, ok := c.look(); ok {
		c.mark(lookMark, c.mid(look), top+windowHeight/2)
	}
	c.caption(top+windowHeight/2+4, "Windows", "")
}

// windowShape is how a window is drawn.
type windowShape uint8

const (
	weededWindow windowShape = iota + 1
	missedWindow
	nextWindow
	laterWindow
)

func drawnAs(end engine.WindowEnd) windowShape {
	if end == engine.WindowMissed {
		return missedWindow
	}
	return weededWindow
}

// windowBox draws the box of a window in the row that begins at top.
func (c *canvas) windowBox(w engine.Window, top px, shape windowShape) {
	opens, closes := max(w.Opens, c.first), min(w.Closes, c.last)
	c.box(rect{X: c.x(opens), Y: top + 3, W: c.x(closes+1) - c.x(opens), H: windowHeight - 6}, shape)
}

// box draws the shape of a window into the rectangle r.
func (c *canvas) box(r rect, shape windowShape) {
	r.Fill, r.Stroke = colors.Paper, colors.Window
	foot, right := r.Y+r.H, r.X+r.W
	switch shape {
	case nextWindow:
		r.Fill, r.Width = fillNextWindow, 2.5
	case laterWindow:
		r.Fill, r.Dash = fillLaterWindow, "4 3"
	case missedWindow:
		cross := fmt.Sprintf("M%s %sL%s %sM%s %sL%s %s", r.X, r.Y, right, foot, r.X, foot, right, r.Y)
		c.addPath(path{D: cross, Fill: "none", Stroke: colors.Window, Width: 1.4})
	case weededWindow:
		x, y := (r.X+right)/2, (r.Y+foot)/2
		size := min(r.H/3, r.W/2)
		tick := fmt.Sprintf("M%s %sL%s %sL%s %s", x-size, y, x-size/4, y+size*0.7, x+size, y-size*0.8)
		c.addPath(path{D: tick, Fill: "none", Stroke: colors.Window, Width: 2.2})
	}
	c.addRect(r)
}

func (c *canvas) windowLabels() []dayLabel {
	var labels []dayLabel
	add := func(w engine.Window, bold bool, words string) {
		text := fmt.Sprintf("window %d: %s", w.Number, words)
		labels = append(labels, dayLabel{Day: max(w.Opens, c.first), Text: text, Bold: bold})
	}
	for _, w := range c.past { // without a number, because a missed window and the next one may have the same
		labels = append(labels, dayLabel{Day: max(w.Opens, c.first), Text: "window " + pastWords(w)})
	}
	for i, w := range c.coming() {
		days := dateRange(w.Opens, w.Closes)
		switch {
		case i > 0:
			add(w, false, "about "+days)
		case c.plan.State == engine.Missed:
			add(w, true, days+", missed")
		default:
			add(w, true, days)
			best := "best " + shortDate(w.Best) + chanceWords(w)
			labels = append(labels, dayLabel{Day: max(w.Best, c.first), Text: best, Bold: true})
		}
	}
	if look, ok := c.look(); ok {
		labels = append(labels, dayLabel{Day: look, Text: "look " + shortDate(look)})
	}
	return labels
}

func (c *canvas) passes() {
	top := c.beginRow(marksHeight, true)
	for _, p := range c.Passes {
		c.mark(passMark(p), c.mid(p.On), top+marksHeight/2)
	}
	c.caption(top+16, "Weeded", "")
}

func (c *canvas) passLabels() []dayLabel {
	var labels []dayLabel
	for _, p := range c.Passes {
		labels = append(labels, dayLabel{Day: p.On, Text: passWords(p)})
	}
	return labels
}

// sightings draws a row with a mark for each sighting; if there are no sightings, it draws no row.
func (c *canvas) sightings() {
	if len(c.Sightings) == 0 {
		return
	}
	top := c.beginRow(marksHeight, true)
	for _, s := range c.Sightings {
		c.mark(sightingMark, c.mid(s.On), top+marksHeight/2)
	}
	c.caption(top+16, "Seen", "")
}

func (c *canvas) sightingLabels() []dayLabel {
	var labels []dayLabel
	for _, s := range c.Sightings {
		labels = append(labels, dayLabel{Day: s.On, Text: sightingWords(s)})
	}
	return labels
}

// importantDays returns labels of planting, today, panicle formation, the end of the work and the last day on which it
// pays to pull weeds by hand.
func (c *canvas) importantDays() []dayLabel {
	labels := []dayLabel{{Day: c.Plot.Planted, Text: "planted " + shortDate(c.Plot.Planted)}}
	if c.shows(c.plan.On) {
		labels = append(labels, dayLabel{Day: c.plan.On, Text: "today " + shortDate(c.plan.On), Bold: true})
	}
	if pi, ok := c.panicles(); ok {
		labels = append(labels, dayLabel{Day: pi, Text: "panicles form " + shortDate(pi)})
	}
	if c.closedByGrower() && c.shows(c.ClosedOn) {
		return append(labels, dayLabel{Day: c.ClosedOn, Text: "closed by the grower " + shortDate(c.ClosedOn)})
	}
	if last := c.plan.Closure.LastToolDay; c.shows(last) {
		text := "last tool day " + shortDate(last)
		if c.plan.Fit.Hand() {
			text = "last weeding " + shortDate(last)
		}
		labels = append(labels, dayLabel{Day: last, After: true, Text: text})
	}
	if until := c.plan.Closure.PullUntil; until != 0 && c.shows(until) {
		labels = append(labels, dayLabel{Day: until, After: true, Text: "pull by hand to " + shortDate(until)})
	}
	return labels
}

// dayLines draws vertical lines through the rows, but not through labels, at panicle formation, today and the end of
// the work.
func (c *canvas) dayLines() {
	through := func(x, width px, dash string) {
		for _, r := range c.rows {
			c.Lines = append(c.Lines, straight(x, r.Y, x, r.Y+r.H, colors.Ink, width, dash))
		}
	}
	if pi, ok := c.panicles(); ok {
		through(c.mid(pi), 1.4, "2 4")
	}
	if over := c.over(); over <= c.last {
		through(c.x(over), 2.4, "")
	}
	if c.shows(c.plan.On) {
		through(c.mid(c.plan.On), 1.6, "7 3")
	}
}
