package engine

// EffectiveRainMM is the part of a month's rain that a crop can count on, in
// mm a month:
//
//	Pe = 0.8 P - 25  above 75 mm a month
//	Pe = 0.6 P - 10  below, and never less than 0
//
// Recalled from Brouwer & Heibloem 1986, FAO Irrigation Water Management
// Training Manual 3, section 4.2; for slopes under 4 to 5 %.
func EffectiveRainMM(monthMM float64) float64 {
	pe := RainLowShare*monthMM - RainLowLessMM
	if monthMM > RainHighFromMM {
		pe = RainHighShare*monthMM - RainHighLessMM
	}
	if !(pe > 0) {
		return 0
	}
	return pe
}

// waterRain is the rain that the water balance counts with, asked for days in
// rising order. Measured rain counts in full: the bund decides what of it
// stays. Of the normals only the effective part counts, a month's spread
// evenly over its days: what a forecast of ordinary weather may build on.
type waterRain struct {
	w    *Weather
	next Day // first day of the month that follows; before the first question, the day asked first
	mm   float64
}

func (r *waterRain) on(d Day) float64 {
	if m, ok := r.w.Daily.On(d); ok && m.HasRain() {
		return max(0, m.RainMM)
	}
	if d >= r.next {
		y, month, day := d.Date()
		days := monthDays(y, month)
		r.mm = EffectiveRainMM(r.w.Normals[month-1].RainMM) / float64(days)
		r.next = d + Day(days-day) + 1
	}
	return r.mm
}
