package handset

import (
	"fmt"

	"rowbell/engine"
)

// stripShape is the mark of a pass or a sighting.
type stripShape uint8

const (
	stripToolMark stripShape = iota + 1 // full triangle
	stripHandMark                       // full square
	stripSeenMark                       // open circle
	stripPondMark                       // open diamond
)

func stripMarkOf(p engine.Pass) stripShape {
	if p.With == engine.ByHand {
		return stripHandMark
	}
	return stripToolMark
}

func (c *stripCanvas) mark(s stripShape, x, y stripPX) {
	const r = stripPX(6.5)
	p := stripPath{Fill: stripInk, Stroke: stripPaper, Width: 1}
	switch s {
	case stripToolMark:
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sZ", x-r, y-r+1, x+r, y-r+1, x, y+r)
	case stripHandMark:
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sL%s %sZ", x-r+1, y-r+1, x+r-1, y-r+1, x+r-1, y+r-1, x-r+1, y+r-1)
	case stripSeenMark:
		r := r - 1
		p.D = fmt.Sprintf("M%s %sA%s %s 0 1 1 %s %sA%s %s 0 1 1 %s %sZ", x-r, y, r, r, x+r, y, r, r, x-r, y)
		p.Fill, p.Stroke, p.Width = stripPaper, stripInk, 2
	case stripPondMark:
		r := r - 1
		p.D = fmt.Sprintf("M%s %sL%s %sL%s %sL%s %sZ", x, y-r, x+r, y, x, y+r, x-r, y)
		p.Fill, p.Stroke, p.Width = stripPaper, stripBlue, 2
	}
	c.Marks = append(c.Marks, p)
}

// stripSymbol draws a sign of the legend; stripItem puts one in with its words.
type (
	stripSymbol func(x, y stripPX)
	stripItem   func(text string, draw stripSymbol)
)

// legend explains what stands on the strip, and nothing that does not.
func (c *stripCanvas) legend() {
	const symbol, gap = stripPX(26), stripPX(22)
	x, y := stripPad, c.y+8
	item := func(text string, draw stripSymbol) {
		if w := symbol + 6 + stripWidth(text, stripType, false); x > stripPad && x+w > c.Width-stripPad {
			x, y = stripPad, y+20
		}
		draw(x, y)
		c.text(stripText{X: x + symbol + 6, Y: y + 4, Size: stripType, Color: stripSoft, Text: text})
		x += symbol + 6 + stripWidth(text, stripType, false) + gap
	}
	box := func(fill, dash string) stripSymbol {
		return func(x, y stripPX) {
			c.rect(stripRect{X: x, Y: y - 7, W: symbol, H: 14, Fill: fill, Stroke: stripWater, Dash: dash})
		}
	}
	mark := func(s stripShape) stripSymbol {
		return func(x, y stripPX) { c.mark(s, x+symbol/2, y) }
	}
	line := func(color string, width stripPX, dash string) stripSymbol {
		return func(x, y stripPX) {
			c.path(stripPath{D: stripLine(x, y, x+symbol, y), Fill: "none", Stroke: color, Width: width, Dash: dash})
		}
	}
	coming := len(c.coming())
	if coming > 0 {
		next := "next window"
		if c.plan.State == engine.Missed {
			next = "missed window"
		}
		item(next, box(stripNext, ""))
	}
	if coming > 1 {
		item("later, if the plan is kept", box(stripLater, "4 3"))
	}
	if coming > 0 {
		item("best day", func(x, y stripPX) {
			c.rect(stripRect{X: x + 7, Y: y - 7, W: 12, H: 14, Fill: stripStraw, Stroke: stripInk})
		})
	}
	if len(c.past) > 0 {
		item("window of a pass", box(stripPaper, ""))
	}
	c.workLegend(item)
	if c.plan.On > c.first {
		item("weeds so far", line(stripClay, 2.4, ""))
	}
	if c.plan.On+1 < c.over() {
		item("weeds expected", line(stripClay, 2, "5 4"))
	}
	band := "right size for the tool"
	if c.plan.Fit.Hand() {
		band = "two to four leaves"
	}
	item(band, func(x, y stripPX) {
		c.rect(stripRect{X: x, Y: y - 7, W: symbol, H: 14, Fill: stripBand})
	})
	c.waterLegend(item, line, mark)
	tool, hand := false, false
	for _, p := range c.Passes {
		tool, hand = tool || stripMarkOf(p) == stripToolMark, hand || stripMarkOf(p) == stripHandMark
	}
	if tool {
		item("pass with the tool", mark(stripToolMark))
	}
	if hand {
		item("weeded by hand", mark(stripHandMark))
	}
	if len(c.Sightings) > 0 {
		item(c.seenLegend(), mark(stripSeenMark))
	}
	if _, ok := c.panicles(); ok {
		item("panicles form: push gently", line(stripInk, 1.4, "2 4"))
	}
	item(c.why(), func(x, y stripPX) {
		c.rect(stripRect{X: x, Y: y - 7, W: symbol, H: 14, Fill: stripOver, Stroke: stripRule})
	})
	c.y = y + 12
}

// seenLegend says what the words beside a sighting are.
func (x *stripSeason) seenLegend() string {
	for _, s := range x.Sightings {
		if s.Leaves != engine.LeavesUnknown || s.Amount != engine.AmountUnknown {
			return "seen: leaves on most weeds, how many"
		}
	}
	return "seen by the grower"
}
