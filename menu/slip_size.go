package menu

import (
	"maps"

	"rowbell/engine"
	"rowbell/menu/text"
)

// usualArea is what a family weeds by hand or with a pushed tool, in m2: up to
// two hectares, as smallholdings are bounded (common practice, no source).
var usualArea = limits{10, 20_000}

// doubtArea asks back a plot that is far from usual: 200*300 may be 20*30,
// 6 ha 0.6 ha.
func doubtArea(units func(*scene) areaUnits) func(*scene, string) (slip, map[Field]string) {
	return func(c *scene, entry string) (slip, map[Field]string) {
		m2 := c.s.float(fArea)
		if usualArea.hold(m2) {
			return "", nil
		}
		meant := tenth(m2 / 10)
		if a, _ := parseArea(entry, units(c), areaLimits); a.A > 0 {
			meant = tenth(m2 / 100) // each side
		}
		if !usualArea.hold(meant) {
			return slipArea, nil
		}
		return slipArea, fArea.with(meant)
	}
}

// doubtSides does the same with the sides.
func doubtSides(c *scene, _ string) (slip, map[Field]string) {
	a, b := c.s.float(fLength), c.s.float(fWidth)
	switch {
	case usualArea.hold(a * b):
		return "", nil
	case !usualArea.hold(a * b / 100), !sideLimits.hold(tenth(a / 10)), !sideLimits.hold(tenth(b / 10)):
		return slipSides, nil
	}
	mend := fLength.with(tenth(a / 10))
	maps.Copy(mend, fWidth.with(tenth(b/10)))
	return slipSides, mend
}

func sayArea(c *scene, a map[Field]string) string {
	return c.t("doubt.area", text.Args{"area": number(fArea.in(a))})
}

func saySides(c *scene, a map[Field]string) string {
	return c.t("doubt.sides", text.Args{"a": number(fLength.in(a)), "b": number(fWidth.in(a))})
}

const (
	hoursADay = 24
	// longestTimes is how many times as long as weeding by hand usually takes
	// is believed without asking (judgement).
	longestTimes = 2
)

// doubtHours asks back more hours than a day has, where even by hand the plot
// takes far fewer: 25 may be 2.5.
func doubtHours(c *scene, _ string) (slip, map[Field]string) {
	h := c.s.float(fHours)
	s, err := c.b.Season(c.s.int(fPlot))
	if err != nil {
		c.fail(err)
	}
	if h <= max(hoursADay, longestTimes*engine.HandHoursPerHa*s.Plot.AreaM2/1e4) {
		return "", nil
	}
	return slipHours, fHours.with(tenth(h / 10))
}

// usualDayHours is a day of weeding (common practice, no source).
var usualDayHours = limits{2, 12}

// doubtDayHours asks back hours that no day has and were taken for a tenth: 75
// for 7.5.
func doubtDayHours(_ *scene, entry string) (slip, map[Field]string) {
	if _, guessed, _ := likelyHours(entry, dayHoursLimits, usualDayHours); guessed {
		return slipDayHours, nil
	}
	return "", nil
}
