package engine

// WaterDay holds the inputs of one day of the water balance. All are in mm and not negative. ETcMM and LossMM are the
// amounts that would leave the plot if the plot had enough water.
type WaterDay struct {
	RainMM, InMM  float64 // rain and irrigation
	ETcMM, LossMM float64 // crop evapotranspiration; seepage and percolation
}

// WaterFlow is the result of one day of the water balance, in mm.
type WaterFlow struct {
	DepthMM      float64 // standing water at the end of the day
	EvaporatedMM float64 // evapotranspiration
	LostMM       float64 // seepage and percolation
	SpilledMM    float64 // overflow over the bund
}

// WaterStep computes one day of the balance of ponded water, from a depth in mm:
//
//	depth = min(BundMM, max(0, depth + rain + let in - ETc - loss))
//
// The balance is exact: the old depth plus rain and inflow equals the evaporated, lost, spilled and remaining water. If
// the plot has too little water for both ETc and loss, ETc is subtracted first. Water inside the soil is not modelled:
// the depth is never below 0, and dry soil absorbs nothing before water stands on it again.
func WaterStep(depthMM float64, day WaterDay) (f WaterFlow) {
	rest := depthMM + day.RainMM + day.InMM
	f.EvaporatedMM = min(rest, day.ETcMM)
	rest -= f.EvaporatedMM
	f.LostMM = min(rest, day.LossMM)
	rest -= f.LostMM
	f.DepthMM = min(rest, BundMM)
	f.SpilledMM = rest - f.DepthMM
	return f
}

// Water describes the water on a plot, as known on a given day, and the water that the next pass needs. Depths are in
// mm, for the morning of a day.
type Water struct {
	DepthMM  float64 // standing water today
	From     Day     // day on which the balance starts
	FromSeen bool    // the balance starts from the depth that the grower saw; if false, from the usual depth

	NeedMM, LeastMM float64 // depth wanted for a pass, and the least depth that publications allow for a pass
	ShortOn         Day     // first day, today or later, with less than LeastMM; 0 = no such day was found
	On              Day     // day on which the water is needed: today, or the opening of the window
	OnDepthMM       float64 // depth on day On without irrigation

	BringMM    float64 // irrigation needed on day On
	M3, Litres float64 // volume of BringMM on this plot; 0 = area not given
	// InflowHours is the time in hours that the inlet needs to raise the water by BringMM, although the plot loses
	// water meanwhile. InflowHours is 0 if the area or the inflow is not given, or if InletWeak is true.
	InflowHours float64
	InletWeak   bool // the inlet brings no more water than the plot loses, or needs more than MaxInflowHours

	ETcMM, LossMM float64 // evapotranspiration and loss of day On
}

// Water computes the balance of ponded water of a season whose next window is w, as known on day today.
//
// If the grower saw the water in the last WaterSeenDays days, the balance starts from that depth. Otherwise the balance
// starts today, with a depth of KeptDepthMM (common practice), or with 0 on a plot that is kept moist. The balance
// includes rain and losses only. Irrigation after the start is not known, so the real depth may be higher than the
// computed depth. Measured rain counts fully. For days without a measurement, the effective part (EffectiveRainMM) of
// the month's normal rain is used, spread evenly over the month.
//
// The balance is computed for WaterAheadDays days, or until day On if On is later, but for at most horizon days. If the
// window opens after that, OnDepthMM, ETcMM and LossMM are those of the last day. All results are finite for any season
// that Validate accepts. Above 55 degrees of latitude the results are unreliable, because the radiation formula is
// published only for lower latitudes.
func (s Season) Water(today Day, w Window) Water {
	pond := newPond(&s, today)
	out := Water{From: pond.day, FromSeen: pond.seen, NeedMM: WeedingDepthMM, LeastMM: WeedingLeastMM, On: today}
	if w.Exists() {
		out.On = max(today, w.Opens)
	}
	pond.until(today)
	out.DepthMM = pond.depth
	onDay, last := min(out.On, today+horizon), max(out.On, today+WaterAheadDays)
	for d := today; d <= min(last, today+horizon) && (d <= onDay || out.ShortOn == 0); d++ {
		pond.until(d)
		if out.ShortOn == 0 && pond.depth < WeedingLeastMM {
			out.ShortOn = d
		}
		if d == onDay {
			out.OnDepthMM, out.ETcMM, out.LossMM = pond.depth, pond.et.on(pond.day), pond.loss
		}
	}
	out.BringMM = max(0, WeedingDepthMM-out.OnDepthMM)
	out.letIn(s.Plot.AreaM2, s.Plot.InflowLS)
	return out
}

// letIn computes the volume of BringMM of water for a plot of the given area, and the time in which the given inflow
// brings that volume. One mm of water on one m2 is one litre.
func (o *Water) letIn(areaM2, inflowLS float64) {
	o.Litres = o.BringMM * areaM2
	o.M3 = o.Litres / litresAM3
	if o.Litres == 0 || inflowLS == 0 {
		return
	}
	gain := inflowLS*secondsAnHour/areaM2 - (o.ETcMM+o.LossMM)/hoursOfDay // mm an hour
	if o.InletWeak = gain*MaxInflowHours < o.BringMM; !o.InletWeak {
		o.InflowHours = o.BringMM / gain
	}
}

// WaterDepths returns the depth in mm of each day in the range from-to, by the balance of Water as known on day today.
// If the balance starts from the usual depth, all days before its start have the usual depth. A depth of -1 means that
// the depth is not known: on a day before planting, after harvest, or before the day on which the grower last saw the
// water.
func (s Season) WaterDepths(from, to, today Day) []float64 {
	if to < from {
		return nil
	}
	pond := newPond(&s, today)
	start := pond.day
	depths := make([]float64, 0, int(to)-int(from)+1)
	for i := range cap(depths) {
		d := from + Day(i)
		if d < s.Plot.Planted || d > s.Plot.ripe() || d < start && pond.seen {
			depths = append(depths, -1)
			continue
		}
		pond.until(d)
		depths = append(depths, pond.depth)
	}
	return depths
}

// pond computes the water balance of a plot day by day.
type pond struct {
	day   Day
	depth float64
	seen  bool // the balance starts from the depth that the grower saw
	rain  waterRain
	et    cropET
	loss  float64
}

// newPond returns the balance on its first day.
func newPond(s *Season, today Day) pond {
	p := pond{day: max(today, s.Plot.Planted), depth: KeptDepthMM, loss: s.local().Figures.lossMM(s.Plot.Soil)}
	if s.Plot.Flood == FloodMoist {
		p.depth = 0
	}
	if seen, ok := s.waterSeen(today); ok {
		p.day, p.depth, p.seen = seen.On, seen.Water.depthMM(), true
	}
	p.rain = waterRain{w: &s.Weather, next: p.day}
	p.et = newCropET(s, p.day)
	return p
}

// until advances the balance to day d. If d is before the start of the balance, until does nothing.
func (p *pond) until(d Day) {
	for ; p.day < d; p.day++ {
		p.depth = WaterStep(p.depth, WaterDay{RainMM: p.rain.on(p.day), ETcMM: p.et.on(p.day), LossMM: p.loss}).DepthMM
	}
}

// waterSeen returns the last sighting of water that is at most WaterSeenDays days old and not from before planting. It
// returns false if there is no such sighting.
func (s *Season) waterSeen(today Day) (Sighting, bool) {
	for i := len(s.Sightings) - 1; i >= 0; i-- {
		seen := s.Sightings[i]
		if seen.On < max(s.Plot.Planted, today-WaterSeenDays) {
			break
		}
		if seen.On <= today && seen.Water != StandsUnknown {
			return seen, true
		}
	}
	return Sighting{}, false
}

// depthMM returns the depth in mm that the engine assumes for the grower's answer.
func (w Stands) depthMM() float64 {
	switch w {
	case StandsFingers:
		return FingersMM
	case StandsHand:
		return HandMM
	}
	return 0
}

// lossMM returns seepage and percolation of a puddled soil in mm a day.
func (f *Figures) lossMM(soil Soil) float64 {
	switch soil {
	case SoilHeavy:
		return f.LossHeavyMM
	case SoilLight:
		return f.LossLightMM
	}
	return f.LossMediumMM
}

// EffectiveRainMM returns the part of a month's rain P that a crop can use, in mm a month:
//
//	Pe = 0.8 P - 25  above 75 mm a month
//	Pe = 0.6 P - 10  otherwise, and never less than 0
//
// From memory: Brouwer & Heibloem 1986, FAO Irrigation Water Management
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

// waterRain returns the rain that enters the water balance, for days in rising order. Measured rain counts fully,
// because the balance itself models the overflow. For a day without a measurement, waterRain returns the effective part
// of the month's normal rain, spread evenly over the days of the month.
type waterRain struct {
	w    *Weather
	next Day     // first day for which mm must be computed again; initially the day of the first call
	mm   float64 // effective rain a day in the present month
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
