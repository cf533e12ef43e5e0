package engine

// DegreeDays returns one day's thermal time in degree-days (°C d) above base:
//
//	GDD = (Tmax + Tmin)/2 - Tbase, and 0 where that is negative
//
// This is method 1 of McMaster & Wilhelm 1997 (Agric. For. Met. 87:291-300):
// the mean is compared with the base, not Tmax and Tmin one by one (method 2;
// the two differ by up to 83 %). Tmax and Tmin are first held at ceiling,
// above which growth gains nothing more. All arguments in °C.
func DegreeDays(w DayWeather, base, ceiling float64) float64 {
	return max(0, (min(w.MaxC, ceiling)+min(w.MinC, ceiling))/2-base)
}

// weedClock tells the leaf stage of most weeds: once half of them are up,
// each leaf takes WeedPhyllochron degree-days.
type weedClock struct {
	from Day
	heat float64 // degree-days past half emergence on day from; negative: still to come
	rate float64 // how fast weeds go here: a day's degree-days count this many times
}

// reach returns the days, not before from, whose middle lies nearest to the
// moments at which most weeds have each of the given numbers of leaves, in
// rising order. A place too cold to get there within horizon days answers
// from + horizon.
func (c weedClock) reach(w *Weather, stages [3]float64) (days [3]Day) {
	d, heat, gain := c.from, c.heat, 0.0
	for i, leaves := range stages {
		need := leaves * WeedPhyllochron
		for heat < need-gain/2 && d < c.from+horizon { // less than half a day short is nearest
			d++
			gain = c.rate * w.weedHeat(d)
			heat += gain
		}
		days[i] = d
	}
	return days
}

// leaves is the number of leaves of most weeds on day d, 0 until half of the
// weeds are up.
func (c weedClock) leaves(w *Weather, d Day) float64 {
	heat := c.heat
	for x := c.from + 1; x <= min(d, c.from+horizon); x++ {
		heat += c.rate * w.weedHeat(x)
	}
	return max(0, heat/WeedPhyllochron)
}
