package engine

// WaterDay is what comes to a plot on a day and what would leave it if there
// were water enough, all in mm and none below 0.
type WaterDay struct {
	RainMM, InMM  float64 // rain, and what is let in
	ETcMM, LossMM float64 // what the air takes; seepage and percolation
}

// WaterFlow is where a day's water went, all in mm.
type WaterFlow struct {
	DepthMM      float64 // what stands the day after
	EvaporatedMM float64
	LostMM       float64 // seeped and percolated
	SpilledMM    float64 // over the bund
}

// WaterStep is one day of the ponded balance, from a depth in mm:
//
//	depth = min(BundMM, max(0, depth + rain + let in - ETc - loss))
//
// Nothing gets lost on the way: what stood, fell and was let in is what
// evaporated, was lost, spilled and stands. Water that does not suffice for
// both goes to the air first. Below the ground nothing is followed: the
// layer ends at 0, and a dried plot takes no water before it stands again.
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

// Water is the water on a plot as seen on a day, with what the next pass
// needs. Depths are in mm as they stand in the morning.
type Water struct {
	DepthMM  float64 // standing today
	From     Day     // day on which the balance starts
	FromSeen bool    // it starts from what the grower saw; else from what is usual

	NeedMM, LeastMM float64 // wanted for a pass, and the least published
	ShortOn         Day     // first day from today on with less than LeastMM; 0 = not in the days looked at
	On              Day     // day on which the water is needed: today, or when the window opens
	OnDepthMM       float64 // standing then, if nothing is let in

	BringMM     float64 // to let in then
	M3, Litres  float64 // the same on this plot; 0 = area not told
	InflowHours float64 // time it takes to let in, while the plot goes on losing; 0 = area or inflow not told, or InletWeak
	InletWeak   bool    // the inlet cannot do it: it brings no more than the plot loses, or takes over MaxInflowHours

	ETcMM, LossMM float64 // what the air and the ground take a day, on that day
}

// Water works out the ponded balance of a season whose next window is w, as
// seen on day today.
//
// It starts from the water that the grower last saw, if that was in the
// WaterSeenDays before; otherwise from KeptDepthMM standing today, the common
// practice, or nothing on a plot kept moist. From there on it runs with rain
// and losses only: what has been let in since is not known, so the depth is
// the least to be expected. Rain is measured where it was; of normals only the
// effective part counts (EffectiveRainMM), spread over the month.
//
// It looks WaterAheadDays ahead, or until On, but no farther than horizon: a
// window that is to open later is answered with the water of that last day.
// Any season that Validate passes gets finite figures; above 55 degrees of
// latitude they are outside the range of the radiation formula.
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
			out.OnDepthMM, out.ETcMM, out.LossMM = pond.depth, pond.demand.on(pond.day), pond.loss
		}
	}
	out.BringMM = max(0, WeedingDepthMM-out.OnDepthMM)
	out.letIn(s.Plot.AreaM2, s.Plot.InflowLS)
	return out
}

// letIn turns BringMM into volume and time on a plot of so many m2 whose inlet
// brings so many litres a second. A mm on a m2 is a litre.
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

// WaterDepths are the depths in mm of each day from from to to, as seen on
// day today by the balance of Water. Days before its start have what is
// usual, if it starts from that. -1 is a day of which nothing is said: before
// planting, after harvest, or before what the grower last saw.
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

// pond is a plot's water on a day.
type pond struct {
	day    Day
	depth  float64
	seen   bool // it starts from what the grower saw
	rain   waterRain
	demand demand
	loss   float64
}

// newPond is the plot's water on the day from which the balance starts.
func newPond(s *Season, today Day) pond {
	p := pond{day: max(today, s.Plot.Planted), depth: KeptDepthMM, loss: s.local().Figures.lossMM(s.Plot.Soil)}
	if s.Plot.Flood == FloodMoist {
		p.depth = 0
	}
	if seen, ok := s.waterSeen(today); ok {
		p.day, p.depth, p.seen = seen.On, seen.Water.depthMM(), true
	}
	p.rain = waterRain{w: &s.Weather, next: p.day}
	p.demand = newDemand(s, p.day)
	return p
}

// until goes on to day d; before the start there is nothing to go on to.
func (p *pond) until(d Day) {
	for ; p.day < d; p.day++ {
		p.depth = WaterStep(p.depth, WaterDay{RainMM: p.rain.on(p.day), ETcMM: p.demand.on(p.day), LossMM: p.loss}).DepthMM
	}
}

// waterSeen is the last sighting of water that still says something today.
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

// depthMM is the depth that a grower's word stands for.
func (w Stands) depthMM() float64 {
	switch w {
	case StandsFingers:
		return FingersMM
	case StandsHand:
		return HandMM
	}
	return 0
}

// lossMM is what seeps and percolates from puddled ground, in mm a day.
func (f *Figures) lossMM(soil Soil) float64 {
	switch soil {
	case SoilHeavy:
		return f.LossHeavyMM
	case SoilLight:
		return f.LossLightMM
	}
	return f.LossMediumMM
}

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
