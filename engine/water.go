package engine

// WaterDay is the input of one day of the water balance, in mm, not negative. ETcMM and LossMM leave the plot if it has
// enough water.
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
// The balance is exact: old depth, rain and inflow are the evaporated, lost, spilled and remaining water. If there is
// too little water, ETc is subtracted first. Water inside the soil is not modelled: dry soil absorbs nothing before
// water stands on it again.
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

// Water is the water on a plot on a given day, and what the next pass needs. Depths are in mm, for the morning.
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
	// InflowHours is how long the inlet needs to raise the water by BringMM, against the loss meanwhile; 0 if area or
	// inflow are not given, or if InletWeak.
	InflowHours float64
	InletWeak   bool // the inlet brings no more water than the plot loses, or needs more than MaxInflowHours

	ETcMM, LossMM float64 // evapotranspiration and loss of day On
}

// Water computes the balance of ponded water of a season whose next window is w, as known on day today.
//
// The balance starts from the depth that the grower saw in the last WaterSeenDays days. Otherwise it starts today with
// KeptDepthMM (common practice), or with 0 on a plot that is kept moist. It includes rain and losses; irrigation after
// the start is unknown, so the real depth may be higher. Measured rain counts fully; other days have the effective part
// (EffectiveRainMM) of the normal rain, spread evenly over the month.
//
// The balance runs for WaterAheadDays days, or until day On if that is later, but for at most horizon days; if the
// window opens later still, OnDepthMM, ETcMM and LossMM are those of the last day. All results are finite. Above 55
// degrees of latitude they are unreliable, because the radiation formula is published for lower latitudes.
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

// letIn computes the volume of BringMM for this area, and the time for this inflow. One mm on one m2 is one litre.
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

// WaterDepths returns the depth of the water on the plot in mm for each day from the day from to the day to. The depths
// follow from the water balance as the function Water computes it on day today. If that balance starts from the usual
// depth, the days before its start have the usual depth. -1 = unknown: before planting, after harvest, or before the
// day on which the grower last saw the water.
func (s Season) WaterDepths(from, to, today Day) []float64 {
	if to < from {
		return nil
	}
	pond := newPond(&s, today)
	start := pond.day
	depths := make([]float64, 0, int(to)-int(from)+1)
	for i := range cap(depths) {
		d := from + Day(i)
		if d < s.Plot.Planted || d > s.Plot.harvest() || d < start && pond.seen {
			depths = append(depths, -1)
			continue
		}
		pond.until(d)
		depths = append(depths, pond.depth)
	}
	return depths
}

type pond struct {
	day   Day
	depth float64
	seen  bool // the balance starts from the depth that the grower saw
	rain  waterRain
	et    cropET
	loss  float64
}

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

// until advances the balance to day d.
func (p *pond) until(d Day) {
	for ; p.day < d; p.day++ {
		p.depth = WaterStep(p.depth, WaterDay{RainMM: p.rain.on(p.day), ETcMM: p.et.on(p.day), LossMM: p.loss}).DepthMM
	}
}

// waterSeen returns the last sighting of water since planting that is at most WaterSeenDays days old.
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

// depthMM returns the depth in mm that an answer stands for.
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

// EffectiveRainMM returns the part of the rain P of a month that a crop can use, in mm a month:
//
//	Pe = 0.8 P - 25  above 75 mm a month
//	Pe = 0.6 P - 10  otherwise, and never less than 0
//
// From memory: Brouwer & Heibloem 1986, FAO Irrigation Water Management Training Manual 3, section 4.2; for slopes
// under 4 to 5 %.
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

// waterRain returns the rain of the water balance, for days in rising order: measured rain, because the balance models
// the overflow, or else the effective part of the normal rain, spread evenly over the month.
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
