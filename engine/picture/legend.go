package picture

import (
	"fmt"
	"slices"

	"rowbell/engine"
)

type markShape uint8

const (
	toolMark     markShape = iota + 1 // full triangle: a pass with the tool
	handMark                          // full square: the plot was weeded by hand
	sightingMark                      // open circle: the grower looked at the plot
	lookMark                          // dashed open circle: the grower is asked to look at the weeds
	waterMark                         // open diamond: the grower saw the depth of the water
)

func passMark(p engine.Pass) markShape {
	if p.With == engine.ByHand {
		return handMark
	}
	return toolMark
}

// mark draws a mark with its centre at x, y.
func (c *canvas) mark(s markShape, x, y px) {
	r := px(6.5)
	p := path{Fill: colors.Ink, Stroke: colors.Paper, Width: 1}
	switch s {
	case toolMark:
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sZ", x-r, y-r+1, x+r, y-r+1, x, y+r)
	case handMark:
		r--
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sL%s %sZ", x-r, y-r, x+r, y-r, x+r, y+r, x-r, y+r)
	case sightingMark, lookMark:
		r--
		p.D = fmt.Sprintf("M%s %sA%s %s 0 1 1 %s %sA%s %s 0 1 1 %s %sZ", x-r, y, r, r, x+r, y, r, r, x-r, y)
		p.Fill, p.Stroke, p.Width = colors.Paper, colors.Ink, 2
		if s == lookMark {
			p.Dash = "3 2"
		}
	case waterMark:
		r--
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sL%s %sZ", x, y-r, x+r, y, x, y+r, x-r, y)
		p.Fill, p.Stroke, p.Width = colors.Paper, colors.Water, 2
	}
	c.Marks = append(c.Marks, p)
}

// legend writes the entries of the picture's legend, each a symbol with words, from left to right in lines.
type legend struct {
	canvas *canvas
	x, y   px // position of the next entry; y is the middle of the entry's symbol
}

const symbolWidth = px(26)

// entry writes the words of an entry, on the next line if this one is full. It returns the left edge and the middle
// height of the symbol, which the caller draws.
func (l *legend) entry(words string) (x, y px) {
	const gap = px(22)
	width := symbolWidth + 6 + textWidth(words, textSize, false)
	if l.x > margin && l.x+width > l.canvas.Width-margin {
		l.x, l.y = margin, l.y+20
	}
	x, y = l.x, l.y
	l.canvas.addText(textLine{X: x + symbolWidth + 6, Y: y + 4, Size: textSize, Color: colors.SoftInk, Text: words})
	l.x += width + gap
	return x, y
}

func (l *legend) box(words, fill, stroke, dash string) {
	x, y := l.entry(words)
	l.canvas.addRect(rect{X: x, Y: y - 7, W: symbolWidth, H: 14, Fill: fill, Stroke: stroke, Dash: dash})
}

func (l *legend) line(words, color string, width px, dash string) {
	x, y := l.entry(words)
	l.canvas.addLine(x, y, x+symbolWidth, y, color, width, dash)
}

func (l *legend) mark(words string, s markShape) {
	x, y := l.entry(words)
	l.canvas.mark(s, x+symbolWidth/2, y)
}

// legend explains the symbols that this picture uses.
func (c *canvas) legend() {
	l := legend{c, margin, c.y + 8}
	l.windows()
	l.marks()
	l.work()
	if c.chances != nil {
		l.box("chance of two to four leaves, if the plan is kept", colors.Chance, colors.Window, "")
	}
	l.weeds()
	l.water()
	if _, ok := c.panicles(); ok {
		l.line("panicles form: no tool from then on", colors.Ink, 1.4, "2 4")
	}
	l.box(c.endReason(), fillAfterWork, colors.Border, "")
	c.y = l.y + 12
}

func (l *legend) windows() {
	c := l.canvas
	window := func(words string, shape windowShape) {
		x, y := l.entry(words)
		c.box(rect{X: x, Y: y - 7, W: symbolWidth, H: 14}, shape)
	}
	coming, isMissed := len(c.coming()), c.plan.State == engine.Missed
	if coming > 0 && !isMissed {
		window("next window", nextWindow)
	}
	if coming > 1 {
		window("later, if the plan is kept", laterWindow)
	}
	if coming > 1 || coming > 0 && !isMissed {
		x, y := l.entry("best day")
		c.addRect(rect{X: x + 7, Y: y - 7, W: 12, H: 14, Fill: colors.BestDay, Stroke: colors.Ink})
	}
	ends := map[bool]bool{}
	for _, w := range c.past {
		ends[w.End == engine.WindowMissed] = true
	}
	if ends[true] || coming > 0 && isMissed {
		window("missed window", missedWindow)
	}
	if ends[false] {
		window("window that was weeded", weededWindow)
	}
	if _, ok := c.look(); ok {
		l.mark("day to look at the weeds", lookMark)
	}
}

func (l *legend) weeds() {
	c := l.canvas
	if c.plan.On > c.first {
		l.line("weeds so far", colors.Weeds, 2.4, "")
	}
	if c.plan.On+1 < c.over() {
		l.line("if nobody weeds", colors.Weeds, 2, "5 4")
	}
	l.box(fmt.Sprintf("range of %.0f plots in 10", 10*bandShare), fillWeeds, colors.Weeds, "")
	size := "right size for the tool"
	if c.plan.Fit.Hand() {
		size = "two to four leaves"
	}
	l.box(size, fillToolSize, "", "")
	if slices.ContainsFunc(c.Sightings, func(s engine.Sighting) bool { return s.Leaves != engine.LeavesUnknown }) {
		x, y := l.entry("leaves that were seen")
		c.addRect(leavesBox(x+symbolWidth/2, y-7, 14))
	}
}

func (l *legend) marks() {
	c := l.canvas
	shown := map[markShape]bool{}
	for _, p := range c.Passes {
		shown[passMark(p)] = true
	}
	if shown[toolMark] {
		l.mark("pass with the tool", toolMark)
	}
	if shown[handMark] {
		l.mark("weeded by hand", handMark)
	}
	if len(c.Sightings) == 0 {
		return
	}
	words := "seen by the grower"
	for _, s := range c.Sightings {
		if s.Leaves != engine.LeavesUnknown || s.Amount != engine.AmountUnknown {
			words = "seen: leaves on most weeds, how many"
		}
	}
	l.mark(words, sightingMark)
}
