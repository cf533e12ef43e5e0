package handset

import (
	"fmt"
	"math"

	"rowbell/engine"
)

// pondPole keeps the mark of a sighting inside its row.
const pondPole = stripPX(6)

// water draws the depth of the water: so far (solid) and as it will fall if
// none is let in (dashed), against what a pass needs. Nothing stands where
// nothing is known.
func (c *stripCanvas) water() {
	if !c.ponded() {
		return
	}
	top := c.body(stripPondH, true)
	foot := top + stripPondH
	y := func(mm float64) stripPX { return foot - stripPondH*stripPX(min(mm, engine.BundMM)/engine.BundMM) }
	area, was, will := "", "", ""
	begin := stripPX(0)
	end := begin
	for i, mm := range c.depths {
		d := c.first + engine.Day(i)
		if mm < 0 {
			continue
		}
		at := stripPoints(c.mid(d), y(mm))
		if area == "" {
			begin = c.mid(d)
		}
		area, end = area+at, c.mid(d)
		if d <= c.plan.On {
			was += at
		}
		if d >= c.plan.On {
			will += at
		}
	}
	if end > begin {
		c.path(stripPath{D: fmt.Sprintf("M%s %s%sL%s %sZ", begin, foot, area, end, foot), Fill: stripPond})
	}
	if !c.plan.Fit.Hand() {
		for _, mm := range []float64{engine.WeedingDepthMM, engine.WeedingLeastMM} {
			c.path(stripPath{D: stripLine(stripLeft, y(mm), c.x(min(c.over(), c.last+1)), y(mm)), Fill: "none", Stroke: stripInk, Width: 1, Dash: stripNeedDash(mm)})
		}
	}
	c.curve(was, stripBlue, 2.4, "")
	c.curve(will, stripBlue, 2, "5 4")
	for _, s := range c.Sightings {
		if at := int(s.On - c.first); s.Water != engine.StandsUnknown && at < len(c.depths) {
			c.mark(stripPondMark, c.mid(s.On), min(max(y(c.seenMM(s)), top+pondPole), foot-pondPole))
		}
	}
	c.caption(top+stripPondH/2-2, "Water", "depth, cm")
	c.scale(y(engine.WeedingDepthMM), stripCM(engine.WeedingDepthMM))
	c.scale(y(engine.WeedingLeastMM), stripCM(engine.WeedingLeastMM))
	c.y += 2
}

// stripNeedDash tells the two lines of depth apart.
func stripNeedDash(mm float64) string {
	if mm == engine.WeedingDepthMM {
		return "2 3"
	}
	return "6 3"
}

// ponded reports that there is a day of which the water is known.
func (x *stripSeason) ponded() bool {
	for _, mm := range x.depths {
		if mm >= 0 {
			return true
		}
	}
	return false
}

// seenMM is the depth that a grower's word stands for.
func (x *stripSeason) seenMM(s engine.Sighting) float64 {
	x2 := x.Season
	x2.Sightings = []engine.Sighting{s}
	return x2.WaterDepths(s.On, s.On, s.On)[0]
}

// stripStands is what a grower saw of the water.
func stripStands(s engine.Stands) string {
	switch s {
	case engine.StandsDry:
		return "dry"
	case engine.StandsMud:
		return "mud, no water"
	case engine.StandsFingers:
		return "water two fingers deep"
	}
	return "water a hand deep"
}

// stripCM writes mm in whole centimetres.
func stripCM(mm float64) string { return fmt.Sprintf("%.0f", mm/10) }

// waterLegend explains the water.
func (c *stripCanvas) waterLegend(item stripItem, line func(string, stripPX, string) stripSymbol, mark func(stripShape) stripSymbol) {
	if !c.ponded() {
		return
	}
	known := func(from, to engine.Day) bool {
		for i, mm := range c.depths {
			if d := c.first + engine.Day(i); mm >= 0 && from <= d && d <= to {
				return true
			}
		}
		return false
	}
	if known(c.first, c.plan.On-1) {
		so := "water so far"
		if !c.looked {
			so = "water, if kept so far"
		}
		item(so, line(stripBlue, 2.4, ""))
	}
	if known(c.plan.On+1, c.last) {
		item("if none is let in", line(stripBlue, 2, "5 4"))
	}
	if !c.plan.Fit.Hand() {
		item(fmt.Sprintf("%s cm wanted", stripCM(engine.WeedingDepthMM)), line(stripInk, 1, stripNeedDash(engine.WeedingDepthMM)))
		item(fmt.Sprintf("%s cm at least", stripCM(engine.WeedingLeastMM)), line(stripInk, 1, stripNeedDash(engine.WeedingLeastMM)))
	}
	for _, s := range c.Sightings {
		if s.Water != engine.StandsUnknown {
			item("water seen", mark(stripPondMark))
			break
		}
	}
}

// waterWords tells the water of today to those who cannot see it.
func (x *stripSeason) waterWords() string {
	at := int(x.plan.On - x.first)
	if at < 0 || at >= len(x.depths) || x.depths[at] < 0 {
		return ""
	}
	return fmt.Sprintf("About %g cm of water today", math.Round(x.depths[at]/5)/2)
}
