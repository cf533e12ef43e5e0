package engine

// DegreeDays returns one day's thermal time in degree-days (°C d) above base:
//
//	GDD = (Tmax + Tmin)/2 - Tbase, and 0 where that is negative
//
// This is method 1 of McMaster & Wilhelm 1997 (Agric. For. Met. 87:291-300), which compares the mean with the base.
// Method 2 compares Tmax and Tmin; the results differ by up to 83 %. Tmax and Tmin above ceiling count as ceiling.
func DegreeDays(w DayWeather, base, ceiling float64) float64 {
	return max(0, (min(w.MaxC, ceiling)+min(w.MinC, ceiling))/2-base)
}

// weedClock models the leaves of most weeds: WeedPhyllochron degree-days for each leaf after half of the weeds have
// emerged.
type weedClock struct {
	from Day
	heat float64 // degree-days on day from, counted from the emergence of half of the weeds; negative before that
	rate float64 // each day's degree-days are multiplied by rate; 1 = the published speed of growth
}

// reach returns, for each of three rising leaf counts, the day whose middle is nearest to the moment at which most
// weeds have so many leaves; not before day from, and from + horizon if the place is too cold.
func (c weedClock) reach(w *Weather, stages [3]float64) (days [3]Day) {
	d, heat, gain := c.from, c.heat, 0.0
	for i, leaves := range stages {
		need := leaves * WeedPhyllochron
		// If less than half a day's growth is missing, d is the nearest day.
		for heat < need-gain/2 && d < c.from+horizon {
			d++
			gain = c.rate * w.weedHeat(d)
			heat += gain
		}
		days[i] = d
	}
	return days
}

// leaves returns the leaves of most weeds on day d, 0 until half of the weeds have emerged.
func (c weedClock) leaves(w *Weather, d Day) float64 {
	heat := c.heat
	for x := c.from + 1; x <= min(d, c.from+horizon); x++ {
		heat += c.rate * w.weedHeat(x)
	}
	return max(0, heat/WeedPhyllochron)
}
