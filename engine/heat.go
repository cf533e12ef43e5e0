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
