package engine

import "time"

// Normal is the climate of one month: mean daily minimum and maximum
// temperature in degrees Celsius, and rain in mm a month.
type Normal struct {
	MinC, MaxC float64
	RainMM     float64
}

// Normals are the twelve months, January first.
type Normals [12]Normal

// DayWeather is one day's temperature.
type DayWeather struct{ MinC, MaxC float64 }

// Weather tells the temperature of any day from monthly normals, taken at the
// middle of each month and joined by straight lines.
type Weather struct{ Normals Normals }

// On returns the weather of day d.
func (w Weather) On(d Day) DayWeather { return w.Normals.on(d) }

// on joins the middles of the two months around d. From one middle to the
// next are as many days as the earlier month has, so no calendar need be
// asked but for d itself.
func (n *Normals) on(d Day) DayWeather {
	y, m, day := d.Date()
	past := day - middle // days since the earlier of the two middles
	if past < 0 {
		if m--; m < time.January {
			m = time.December // as long in any year
		}
		past += monthDays(y, m)
	}
	a, b := &n[m-1], &n[m%12]
	f := float64(past) / float64(monthDays(y, m))
	return DayWeather{a.MinC + f*(b.MinC-a.MinC), a.MaxC + f*(b.MaxC-a.MaxC)}
}

// Steady is a year of the same temperatures: for tools and worked examples.
func Steady(minC, maxC float64) Weather {
	var w Weather
	for i := range w.Normals {
		w.Normals[i] = Normal{MinC: minC, MaxC: maxC}
	}
	return w
}
