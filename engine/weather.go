package engine

import (
	"math"
	"time"
)

// Normal is the climate of one month: mean daily minimum and maximum temperature in °C, and rain in mm a month.
type Normal struct{ MinC, MaxC, RainMM float64 }

// Normals holds the climate of the twelve months, January first.
type Normals [12]Normal

// DayWeather is the weather of one day: minimum and maximum temperature in °C, rain in mm.
type DayWeather struct{ MinC, MaxC, RainMM float64 }

// Measured is the measured weather of a day; NaN = not measured. Either both temperatures are measured or neither.
type Measured struct{ MinC, MaxC, RainMM float64 }

// Unmeasured returns a day on which nothing was measured.
func Unmeasured() Measured { return Measured{math.NaN(), math.NaN(), math.NaN()} }

// HasTemperature reports whether the temperatures were measured.
func (m Measured) HasTemperature() bool { return !math.IsNaN(m.MinC) && !math.IsNaN(m.MaxC) }

// HasRain reports whether the rain was measured.
func (m Measured) HasRain() bool { return !math.IsNaN(m.RainMM) }

// Daily is measured weather, one entry per day from day From on.
type Daily struct {
	From Day
	Days []Measured
}

// On returns what was measured on day d; false outside the days of Daily.
func (y Daily) On(d Day) (Measured, bool) {
	if d < y.From || int(d-y.From) >= len(y.Days) {
		return Measured{}, false
	}
	return y.Days[d-y.From], true
}

// Weather is the weather of any day: as measured, or else normal temperatures, interpolated between the middles of the
// months, and normal rain, spread evenly over the month.
type Weather struct {
	Normals     Normals
	LatitudeDeg float64 // in degrees; north is positive, south negative
	Daily       Daily
}

// On returns the weather of day d.
func (w Weather) On(d Day) DayWeather { return w.at(d) }

// at is On without a copy of the weather.
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

// on interpolates between the middles of the two months around day d, which are as far apart as the earlier month is
// long.
func (n *Normals) on(d Day) DayWeather {
	y, m, day := d.Date()
	rain := n[m-1].RainMM / float64(monthDays(y, m))
	past := day - middle // days since the middle of the earlier month
	if past < 0 {
		if m--; m < time.January {
			m = time.December // December has 31 days in any year, so the year does not matter
		}
		past += monthDays(y, m)
	}
	a, b := &n[m-1], &n[m%12]
	f := float64(past) / float64(monthDays(y, m))
	return DayWeather{a.MinC + f*(b.MinC-a.MinC), a.MaxC + f*(b.MaxC-a.MaxC), rain}
}

// riceHeat returns the degree-days of rice of day d above a base temperature.
func (w *Weather) riceHeat(d Day, baseC float64) float64 {
	return DegreeDays(w.at(d), baseC, HeatCeilingC)
}

// Steady returns weather with the same temperatures on every day and no rain, for tools and worked examples.
func Steady(minC, maxC float64) Weather {
	var w Weather
	for i := range w.Normals {
		w.Normals[i] = Normal{MinC: minC, MaxC: maxC}
	}
	return w
}
