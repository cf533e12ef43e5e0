package picture

import (
	"fmt"

	"rowbell/engine"
)

// water draws the depth of the water, with lines at the depths that a pass with the tool needs. After today the curve
// is dashed and assumes that no water is let in. If the depth is known on no day, water draws no row.
func (c *canvas) water() {
	if !c.depthKnown(c.first, c.last) {
		return
	}
	top := c.beginRow(waterHeight, true)
	foot := top + waterHeight
	y := func(mm float64) px { return foot - waterHeight*px(min(mm, engine.BundMM)/engine.BundMM) }
	area, past, future := "", "", ""
	var begin, end px
	for i, mm := range c.depths {
		d := c.first + engine.Day(i)
		if mm < 0 {
			continue
		}
		at := lineTo(c.mid(d), y(mm))
		if area == "" {
			begin = c.mid(d)
		}
		area, end = area+at, c.mid(d)
		if d <= c.plan.On {
			past += at
		}
		if d >= c.plan.On {
			future += at
		}
	}
	if end > begin {
		c.addPath(path{D: fmt.Sprintf("M%s %s%s%sZ", begin, foot, area, lineTo(end, foot)), Fill: fillWater})
	}
	if !c.plan.Fit.Hand() {
		right := c.x(min(c.over(), c.last+1))
		for _, mm := range []float64{engine.WeedingMostMM, engine.WeedingFromMM} {
			c.addLine(leftEdge, y(mm), right, y(mm), colors.Ink, 1, wantedDash)
		}
		c.addLine(leftEdge, y(engine.WeedingLeastMM), right, y(engine.WeedingLeastMM), colors.Ink, 1, leastDash)
	}
	c.addCurve(past, colors.Water, 2.4, "")
	c.addCurve(future, colors.Water, 2, "5 4")
	for _, s := range c.Sightings {
		if at := int(s.On - c.first); s.Water != engine.StandsUnknown && at < len(c.depths) {
			c.mark(waterMark, c.mid(s.On), min(max(y(c.seenMM(s)), top+waterMarkRadius), foot-waterMarkRadius))
		}
	}
	c.caption(top+waterHeight/2-2, "Water", "depth, cm")
	c.scale(y(engine.WeedingMostMM), wholeCM(engine.WeedingMostMM))
	c.scale(y(engine.WeedingLeastMM), wholeCM(engine.WeedingLeastMM))
	c.y += rowGap
}

// waterMarkRadius is the least distance of a mark's middle from the edges of the row, so that no mark is cut off.
const waterMarkRadius = px(6)

// Dash patterns of the lines at the least and the greatest depth that is advised for a pass, and at the least depth for
// any pass.
const wantedDash, leastDash = "2 3", "6 3"

// depthKnown reports whether the water depth is known on at least one of the days from-to, both included.
func (v *seasonView) depthKnown(from, to engine.Day) bool {
	for i, mm := range v.depths {
		if d := v.first + engine.Day(i); mm >= 0 && from <= d && d <= to {
			return true
		}
	}
	return false
}

// seenMM returns the water depth in mm that the engine takes for the word of a sighting, such as two fingers.
func (v *seasonView) seenMM(s engine.Sighting) float64 {
	alone := v.Season
	alone.Sightings = []engine.Sighting{s}
	return alone.WaterDepths(s.On, s.On, s.On)[0]
}

func wholeCM(mm float64) string { return fmt.Sprintf("%.0f", mm/10) }

func (l *legend) water() {
	c := l.canvas
	if !c.depthKnown(c.first, c.last) {
		return
	}
	if c.depthKnown(c.first, c.plan.On-1) {
		words := "water so far"
		if !c.looked {
			words = "water, if kept so far"
		}
		l.line(words, colors.Water, 2.4, "")
	}
	if c.depthKnown(c.plan.On+1, c.last) {
		l.line("if none is let in", colors.Water, 2, "5 4")
	}
	if !c.plan.Fit.Hand() {
		wanted := wholeCM(engine.WeedingFromMM) + " to " + wholeCM(engine.WeedingMostMM)
		l.line(wanted+" cm wanted", colors.Ink, 1, wantedDash)
		l.line(wholeCM(engine.WeedingLeastMM)+" cm at least", colors.Ink, 1, leastDash)
	}
	for _, s := range c.Sightings {
		if s.Water != engine.StandsUnknown {
			l.mark("water seen", waterMark)
			break
		}
	}
}
