package engine

import (
	"math"
	"time"
)

// Normal is the climate of one month: mean daily minimum and maximum
// temperature in degrees Celsius, and rain in mm a month.
type Normal struct {
	MinC, MaxC float64
	RainMM     float64
}

// Normals are the twelve months, January first.
type Normals [12]Normal

// DayWeather is one day's temperature in degrees Celsius and rain in mm.
type DayWeather struct {
	MinC, MaxC float64
	RainMM     float64
}

// Measured is the weather of one day as it was measured at the place. What
// was not measured is NaN (see Unmeasured); the temperatures of a day are
// known together or not at all.
type Measured struct {
	MinC, MaxC float64
	RainMM     float64
}

// Unmeasured is a day of which nothing is known.
func Unmeasured() Measured { return Measured{math.NaN(), math.NaN(), math.NaN()} }

// HasTemperature and HasRain report what was measured.
func (m Measured) HasTemperature() bool { return !math.IsNaN(m.MinC) && !math.IsNaN(m.MaxC) }
func (m Measured) HasRain() bool        { return !math.IsNaN(m.RainMM) }

// Daily is measured weather, a day each from day From on; days that nobody
// measured stand in it as Unmeasured.
type Daily struct {
	From Day
	Days []Measured
}

// On is what was measured on day d.
func (y Daily) On(d Day) (Measured, bool) {
	if d < y.From || int(d-y.From) >= len(y.Days) {
		return Measured{}, false
	}
	return y.Days[d-y.From], true
}

// Weather tells the weather of any day: as measured where it is known, else
// from monthly normals, taken at the middle of each month and joined by
// straight lines. A day's normal rain is the month's, spread evenly.
type Weather struct {
	Normals     Normals
	LatitudeDeg float64 // north positive
	Daily       Daily
}

// On returns the weather of day d.
func (w Weather) On(d Day) DayWeather { return w.at(d) }

func (w *Weather) at(d Day) DayWeather {
	m, ok := w.Daily.On(d)
	if !ok {
		return w.Normals.on(d)
	}
	day := DayWeather(m)
	if !m.HasTemperature() || !m.HasRain() {
		normal := w.Normals.on(d)
		if !m.HasTemperature() {
			day.MinC, day.MaxC = normal.MinC, normal.MaxC
		}
		if !m.HasRain() {
			day.RainMM = normal.RainMM
		}
	}
	return day
}

// on joins the middles of the two months around d. From one middle to the
// next are as many days as the earlier month has, so no calendar need be
// asked but for d itself.
func (n *Normals) on(d Day) DayWeather {
	y, m, day := d.Date()
	rain := n[m-1].RainMM / float64(monthDays(y, m))
	past := day - middle // days since the earlier of the two middles
	if past < 0 {
		if m--; m < time.January {
			m = time.December // as long in any year
		}
		past += monthDays(y, m)
	}
	a, b := &n[m-1], &n[m%12]
	f := float64(past) / float64(monthDays(y, m))
	return DayWeather{a.MinC + f*(b.MinC-a.MinC), a.MaxC + f*(b.MaxC-a.MaxC), rain}
}

// weedHeat and riceHeat are one day's degree-days for the two clocks.
func (w *Weather) weedHeat(d Day) float64 { return DegreeDays(w.at(d), WeedBaseC, HeatCeilingC) }
func (w *Weather) riceHeat(d Day, baseC float64) float64 {
	return DegreeDays(w.at(d), baseC, HeatCeilingC)
}

// Steady is a year of the same temperatures and no rain: for tools and worked
// examples.
func Steady(minC, maxC float64) Weather {
	var w Weather
	for i := range w.Normals {
		w.Normals[i] = Normal{MinC: minC, MaxC: maxC}
	}
	return w
}
