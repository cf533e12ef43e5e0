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

// heatBase is an index into heatBasesC.
type heatBase uint8

const (
	base0 heatBase = iota
	base6
	base10
	heatBases
)

// heatBasesC holds the base temperatures in °C of the published weed clocks.
var heatBasesC = [heatBases]float64{0, WeedLowBaseC, WeedBaseC}

// heatSums holds degree-days summed from the end of day `from` on, for each base temperature. The sums grow as far as
// they are needed.
type heatSums struct {
	weather *Weather
	from    Day
	sum     [heatBases][]float64 // sum[b][i] is the degree-days of the days from+1 to from+i
}

func newHeatSums(w *Weather, from Day) *heatSums {
	h := &heatSums{weather: w, from: from}
	backing := make([]float64, 0, usualDays*int(heatBases))
	for b := range h.sum {
		h.sum[b] = append(backing[b*usualDays:b*usualDays:(b+1)*usualDays], 0)
	}
	return h
}

// heatSums returns the sums from the last puddling on. Within one plan they are computed once.
func (s *Season) heatSums() *heatSums {
	if h := s.heat; h != nil && h.from == s.Plot.puddled() {
		return h
	}
	return newHeatSums(&s.Weather, s.Plot.puddled())
}

// extend sums at least the days up to from + days, at most up to from + horizon. It returns false if there are no more.
func (h *heatSums) extend(days int) bool {
	days = min(days, horizon)
	for n := len(h.sum[0]); n <= days; n++ {
		day := h.weather.at(h.from + Day(n))
		for b := range h.sum {
			h.sum[b] = append(h.sum[b], h.sum[b][n-1]+DegreeDays(day, heatBasesC[b], HeatCeilingC))
		}
	}
	return days < horizon
}

// at returns the degree-days from day `from` to t days later. Between two days it interpolates linearly. Before the
// first day it is 0.
func (h *heatSums) at(b heatBase, t float64) float64 {
	if t <= 0 {
		return 0
	}
	i := int(t)
	if i+1 >= len(h.sum[b]) && !h.extend(i+1) {
		i = min(i, horizon-1)
		t = min(t, horizon)
	}
	s := h.sum[b]
	return s[i] + (t-float64(i))*(s[i+1]-s[i])
}

// reach returns after how many days the sum is at least heat. The search starts at hint days, which must not be after
// the result. If the sum stays below heat for horizon days, the result is horizon.
func (h *heatSums) reach(b heatBase, heat, hint float64) float64 {
	if heat <= 0 {
		return 0
	}
	for i := int(hint); i < horizon; i++ {
		if i+1 >= len(h.sum[b]) {
			h.extend(i + extendBy)
		}
		s := h.sum[b]
		if s[i+1] >= heat {
			return float64(i) + max(0, heat-s[i])/(s[i+1]-s[i])
		}
	}
	return horizon
}

const (
	usualDays = 96 // days for which the sums have room at first; a warm place needs no more
	extendBy  = 16 // days by which reach extends the sums at a time
)
