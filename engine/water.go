package engine

import "slices"

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

// WaterStep computes one day of the balance of water on and in the ground, from a depth in mm. A negative depth is
// water that the soil has lost since water last stood on it, at most SoilHoldsMM:
//
//	depth = min(BundMM, max(-SoilHoldsMM, depth + rain + let in - ETc - loss))
//
// The balance is exact: old depth, rain and inflow are the evaporated, lost, spilled and remaining water. If there is
// too little water, ETc is subtracted first. Water that enters fills the soil before it stands on it.
func WaterStep(depthMM float64, day WaterDay) (f WaterFlow) {
	rest := depthMM + SoilHoldsMM + day.RainMM + day.InMM
	f.EvaporatedMM = min(rest, day.ETcMM)
	rest -= f.EvaporatedMM
	f.LostMM = min(rest, day.LossMM)
	rest -= f.LostMM + SoilHoldsMM
	f.DepthMM = min(rest, BundMM)
	f.SpilledMM = rest - f.DepthMM
	return f
}

// Water is the water on a plot on a given day, and what the next pass needs. Depths are in mm, for the morning.
type Water struct {
	// Known is false if the grower never told how the water stands. Then all fields about depths are 0, except what a
	// pass needs.
	Known bool

	DepthMM  float64 // standing water today
	From     Day     // day on which the balance starts
	FromSeen bool    // the balance starts from the depth that the grower saw; if false, from what Plot.Flood says

	NeedMM, LeastMM, MostMM float64 // depth wanted for a pass, and the least and greatest depth for a pass
	ShortOn                 Day     // first day, today or later, with less than LeastMM; 0 = no such day was found
	On                      Day     // day on which the water is needed: today, or the opening of the window
	OnDepthMM               float64 // depth on day On without irrigation

	SoilMM     float64 // water that the soil has lost by day On, which it takes up before water stands on it
	BringMM    float64 // irrigation needed on day On, with SoilMM; 0 if the depth is right without it
	M3, Litres float64 // volume of BringMM on this plot; 0 = area not given
	// InflowHours is how long the inlet needs to raise the water by BringMM, against the loss meanwhile; 0 if area or
	// inflow are not given, or if InletWeak.
	InflowHours float64
	InletWeak   bool // the inlet brings no more water than the plot loses, or needs more than MaxInflowHours

	LowerMM float64 // water to let out on day On, because it is deeper than MostMM
	FallsOn Day     // first day from On on which the water is not too deep, without letting any out; 0 = none was found
	Heavy   bool    // less than HeavyHoldsDays days ago rain fell heavily, or the grower saw the water a hand deep

	ETcMM, LossMM float64 // evapotranspiration and loss of day On
}

// WaterAdvice is what to do about the water for the next pass.
type WaterAdvice uint8

const (
	WaterAsk   WaterAdvice = iota // the depth is not known: ask the grower
	WaterRight                    // the depth is right
	WaterBring                    // let water in
	WaterLower                    // let water out
	WaterWait                     // wait until the water has fallen
)

func (a WaterAdvice) String() string { return name(a, "ask", "right", "bring", "lower", "wait") }

// Advice returns what to do about the water for a pass in window w. After a heavy fall of rain the water around the
// plot is high, too, and none can be let out. The grower waits, if the water falls before the window closes.
func (o *Water) Advice(w Window) WaterAdvice {
	switch {
	case !o.Known:
		return WaterAsk
	case o.LowerMM > 0 && o.Heavy && o.FallsOn != 0 && (!w.Exists() || o.FallsOn <= w.Closes):
		return WaterWait
	case o.LowerMM > 0:
		return WaterLower
	case tooLow(o.OnDepthMM):
		return WaterBring
	}
	return WaterRight
}

// tooDeep reports whether a depth, rounded to a centimetre, is too deep for a pass.
func tooDeep(mm float64) bool { return mm > WeedingMostMM+DepthRoundMM }

// tooLow reports whether a depth, rounded to a centimetre, is too low for a pass.
func tooLow(mm float64) bool { return mm < WeedingFromMM-DepthRoundMM }

// Water computes the balance of the water of a season whose next window is w, as known on day today.
//
// The balance starts from the depth that the grower saw in the last WaterSeenDays days. If the last such report was dry
// ground or mud, the balance starts from the last report of standing water before it, so that the water that the soil
// has lost since then counts. Otherwise the balance starts from what Plot.Flood says about the plot: up to today the
// grower keeps at least that depth, measured rain adds to it, and the soil does not dry. If neither is known, the depth
// is not known.
//
// The balance includes rain and losses; irrigation after a report is unknown, so the real depth may be higher. Measured
// rain counts fully; other days have the effective part (EffectiveRainMM) of the normal rain, spread evenly over the
// month.
//
// The balance runs for WaterAheadDays days, or until day On if that is later, but for at most horizon days; if the
// window opens later still, OnDepthMM, ETcMM and LossMM are those of the last day. All results are finite. Above 55
// degrees of latitude they are unreliable, because the radiation formula is published for lower latitudes.
func (s Season) Water(today Day, w Window) Water {
	pond := newPond(&s, today)
	out := Water{Known: pond.known, NeedMM: WeedingDepthMM, LeastMM: WeedingLeastMM, MostMM: WeedingMostMM, On: today}
	if w.Exists() {
		out.On = max(today, w.Opens)
	}
	if pond.known {
		out.From, out.FromSeen = pond.day, pond.seen
	}
	pond.until(today)
	depth, onDay, last := pond.depth, min(out.On, today+horizon), max(out.On, today+WaterAheadDays)
	out.DepthMM = max(0, depth)
	falling := false // the water is too deep on day On, and FallsOn is not found yet
	for d := today; d <= min(last, today+horizon) && (d <= onDay || out.ShortOn == 0 || falling); d++ {
		pond.until(d)
		if out.ShortOn == 0 && pond.depth < WeedingLeastMM {
			out.ShortOn = d
		}
		if d == onDay {
			depth, out.ETcMM, out.LossMM = pond.depth, pond.et.on(pond.day), pond.loss
			out.Heavy, falling = pond.isHeavy(), tooDeep(depth)
		}
		if falling && !tooDeep(pond.depth) {
			out.FallsOn, falling = d, false
		}
	}
	if !pond.known {
		out.DepthMM, out.ShortOn, out.FallsOn, out.Heavy = 0, 0, 0, false
		return out
	}
	out.OnDepthMM, out.SoilMM = max(0, depth), max(0, -depth)
	if tooLow(depth) {
		out.BringMM = WeedingDepthMM - depth
	}
	if tooDeep(depth) {
		out.LowerMM = depth - WeedingDepthMM
	}
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
// follow from the water balance as the function Water computes it on day today. If that balance starts from what
// Plot.Flood says, the days before its start have the same depth as its start. -1 = unknown: before planting, after
// harvest, before the day on which the grower last saw the water, or if the grower never told how the water stands.
func (s Season) WaterDepths(from, to, today Day) []float64 {
	if to < from {
		return nil
	}
	pond := newPond(&s, today)
	start := pond.day
	depths := make([]float64, 0, int(to)-int(from)+1)
	for i := range cap(depths) {
		d := from + Day(i)
		if !pond.known || d < s.Plot.Planted || d > s.Plot.harvest() || d < start && pond.seen {
			depths = append(depths, -1)
			continue
		}
		pond.until(d)
		depths = append(depths, max(0, pond.depth))
	}
	return depths
}

// pond is the water balance of a plot on one day.
type pond struct {
	day    Day
	depth  float64 // as in WaterStep
	known  bool
	seen   bool       // the balance starts from the depth that the grower saw
	later  []Sighting // what the grower saw after that, up to today
	kept   float64    // depth that the grower keeps before day keptTo, if seen is false
	keptTo Day
	heavy  Day // day of a heavy fall of rain, or on which the grower saw the water a hand deep; 0 = none since
	rain   waterRain
	et     cropET
	loss   float64
}

func newPond(s *Season, today Day) pond {
	p := pond{day: max(today, s.Plot.Planted), loss: s.local().Figures.lossMM(s.Plot.Soil)}
	if seen := s.waterSeen(today); len(seen) > 0 {
		p.day, p.known, p.seen, p.later = seen[0].On, true, true, seen[1:]
		_, p.depth = seen[0].Water.rangeMM()
		p.sawHeavy(seen[0])
	} else if s.Plot.Flood != FloodUnknown {
		p.keptTo = p.day
		p.kept, p.known = s.Plot.Flood.depthMM(), true
		p.day, p.depth = max(today-WaterSeenDays, s.Plot.Planted), p.kept
	}
	p.rain = waterRain{w: &s.Weather, next: p.day}
	p.et = newCropET(s, p.day)
	return p
}

// until advances the balance to day d.
func (p *pond) until(d Day) {
	for p.day < d {
		rain, measured := p.rain.on(p.day)
		if !measured && !p.seen && p.day < p.keptTo {
			rain = 0 // a grower who keeps a depth lets in less where it rains as usual
		}
		if measured && rain >= HeavyRainMM {
			p.heavy = p.day + 1
		}
		p.depth = WaterStep(p.depth, WaterDay{RainMM: rain, ETcMM: p.et.on(p.day), LossMM: p.loss}).DepthMM
		switch {
		case p.seen:
		case p.day < p.keptTo:
			p.depth = max(p.depth, p.kept)
		default: // a grower who keeps the ground wet does not let it dry
			p.depth = max(p.depth, 0)
		}
		p.day++
		p.look()
	}
}

// look applies what the grower saw on the present day: the depth moves into the range that the answer stands for.
func (p *pond) look() {
	for ; len(p.later) > 0 && p.later[0].On == p.day; p.later = p.later[1:] {
		low, high := p.later[0].Water.rangeMM()
		p.depth = min(max(p.depth, low), high)
		p.sawHeavy(p.later[0])
	}
}

// sawHeavy applies what a grower saw of the water: a hand deep, or less.
func (p *pond) sawHeavy(x Sighting) {
	p.heavy = 0
	if x.Water == StandsHand {
		p.heavy = x.On
	}
}

// isHeavy returns Water.Heavy of the present day. The water around the plot falls within HeavyHoldsDays days.
func (p *pond) isHeavy() bool { return p.heavy != 0 && p.day < p.heavy+HeavyHoldsDays }

// waterSeen returns the reports of water from which the balance on day today starts: the last report of standing water,
// and those after it. Each of them is at most WaterSeenDays days before the next one, or before today. If none of them
// is of standing water, the first of them starts the balance.
func (s *Season) waterSeen(today Day) []Sighting {
	seen := slices.Collect(lastOfDay(s.Sightings, Sighting.ofWater))
	for len(seen) > 0 && seen[len(seen)-1].On > today {
		seen = seen[:len(seen)-1]
	}
	first, next := len(seen), today
	for i := first - 1; i >= 0 && seen[i].On >= max(s.Plot.Planted, next-WaterSeenDays); i-- {
		first, next = i, seen[i].On
		if w := seen[i].Water; w == StandsFingers || w == StandsHand {
			break
		}
	}
	return seen[first:]
}

// rangeMM returns the depths in mm that an answer stands for; a negative depth is water that the soil has lost.
func (w Stands) rangeMM() (low, high float64) {
	switch w {
	case StandsDry:
		return -SoilHoldsMM, -DryLostMM
	case StandsMud:
		return -DryLostMM, 0
	case StandsFingers:
		return FingersMM, FingersMM
	case StandsHand:
		return HandMM, HandMM
	}
	return -SoilHoldsMM, BundMM
}

// depthMM returns the depth in mm that a grower who gives this answer about the plot is taken to keep.
func (f Flood) depthMM() float64 {
	switch f {
	case FloodKept:
		return KeptDepthMM
	case FloodOnOff:
		return OnOffDepthMM
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

// on returns the rain of day d, and whether it was measured.
func (r *waterRain) on(d Day) (mm float64, measured bool) {
	if m, ok := r.w.Daily.On(d); ok && m.HasRain() {
		return max(0, m.RainMM), true
	}
	if d >= r.next {
		y, month, day := d.Date()
		days := monthDays(y, month)
		r.mm = EffectiveRainMM(r.w.Normals[month-1].RainMM) / float64(days)
		r.next = d + Day(days-day) + 1
	}
	return r.mm, false
}
