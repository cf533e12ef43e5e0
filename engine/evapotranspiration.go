package engine

import "math"

// ExtraterrestrialMJ returns the solar radiation at the top of the atmosphere in MJ/m2 a day (dayOfYear 1 = 1 January):
//
//	Ra = (24 x 60 / pi) Gsc dr (ws sin(lat) sin(decl) + cos(lat) cos(decl) sin(ws))
//
// where dr is the inverse relative distance of the sun, decl its declination, and ws the sunset hour angle: 0 without
// sunrise, pi without sunset. The latitude is in degrees, north positive, limited to -90 to 90; NaN counts as 0.
//
// Source: Allen et al. 1998, FAO-56, equations 21 and 23 to 25, given there for latitudes up to 55 degrees.
func ExtraterrestrialMJ(latDeg float64, dayOfYear int) float64 {
	return newSun(latDeg).radiation(dayOfYear)
}

// DaylightHours returns the hours from sunrise to sunset, 24 ws / pi (FAO-56, equation 34).
func DaylightHours(latDeg float64, dayOfYear int) float64 {
	return newSun(latDeg).day(dayOfYear).sunset * hoursOfDay / math.Pi
}

// HargreavesMM returns the reference evapotranspiration ETo of well-watered short grass in mm a day, from temperature
// alone:
//
//	ETo = 0.0023 (Tmean + 17.8) sqrt(Tmax - Tmin) Ra
//
// with Ra in mm of evaporated water: 0.408 mm per MJ/m2. The formula is meant for means of five days or more; in the
// humid tropics its results are too high. HargreavesMM returns 0 if the minimum is above the maximum, and never less.
//
// Source: FAO-56, equation 52.
func HargreavesMM(w DayWeather, raMJ float64) float64 {
	if !(w.MaxC > w.MinC) {
		return 0
	}
	mean := (w.MaxC + w.MinC) / 2
	return max(0, HargreavesFactor*(mean+HargreavesOffsetC)*math.Sqrt(w.MaxC-w.MinC)*EvaporatedMMPerMJ*raMJ)
}

// sun computes the sun's radiation at one latitude.
type sun struct{ sinLat, cosLat float64 }

func newSun(latDeg float64) sun {
	if math.IsNaN(latDeg) {
		latDeg = 0
	}
	sin, cos := math.Sincos(min(max(latDeg, -poleDeg), poleDeg) / poleDeg * (math.Pi / 2))
	return sun{sin, cos}
}

// sunDay is the position of the sun on a day of the year.
type sunDay struct {
	distance          float64 // dr: inverse relative distance, squared
	declination       float64 // radians
	up, across        float64 // sin(lat) sin(decl) and cos(lat) cos(decl)
	cosSunset, sunset float64 // cos(ws), and ws in radians, 0 to pi
}

func (s sun) day(dayOfYear int) (d sunDay) {
	angle := 2 * math.Pi / sunYearDays * float64(dayOfYear)
	d.distance = 1 + SunDistanceSwing*math.Cos(angle)
	d.declination = SunTilt * math.Sin(angle-SunPhase)
	sin, cos := math.Sincos(d.declination)
	d.up, d.across = s.sinLat*sin, s.cosLat*cos
	// Without sunset or sunrise the formula gives a cosine outside -1 to 1.
	d.cosSunset = min(max(-d.up/d.across, -1), 1)
	d.sunset = math.Acos(d.cosSunset)
	return d
}

func (s sun) radiation(dayOfYear int) float64 {
	d := s.day(dayOfYear)
	sinSunset := math.Sqrt(1 - d.cosSunset*d.cosSunset)
	return max(0, minutesOfDay/math.Pi*SolarConstant*d.distance*(d.sunset*d.up+d.across*sinSunset))
}

// cropET computes the crop evapotranspiration of a plot, in mm a day, for days in rising order:
//
//	ETc = Kc ETo
//
// (FAO-56, equation 58), from the crop coefficient Kc and the reference evapotranspiration ETo. A block of etDays days,
// counted from 1 January 1970, has one ETc, because HargreavesMM is meant for means of several days. The temperatures
// of a block are the mean of the measured ones or, if none were measured, the normals of its middle day.
type cropET struct {
	w     *Weather
	f     *Figures
	sun   sun
	leaf  float64 // leaf area index when growth begins
	pause float64 // degree-days for which leaf area does not grow after transplanting
	heat  float64 // degree-days from the start of growth until day next

	begins Day     // first day of growth
	ripe   Day     // day of harvest
	next   Day     // first day of the next block
	etc    float64 // ETc of the present block
}

func newCropET(s *Season, d Day) cropET {
	f := &s.local().Figures
	p := &s.Plot
	m := cropET{w: &s.Weather, f: f, sun: newSun(s.Weather.LatitudeDeg), leaf: p.firstLAI(f), begins: p.Planted,
		ripe: p.harvest(), next: etFirst(d)}
	if m.next >= m.ripe {
		return m // after harvest kc does not need the leaf area
	}
	if p.Method == Transplanted {
		m.pause = f.TransplantPause*m.heatOf(p.Planted-Day(p.seedlingAge()), p.Planted) + p.deepPause()
	} else {
		m.begins += DefaultSeedlingAgeDays
	}
	m.heat = m.heatOf(m.begins, m.next)
	return m
}

// on returns ETc of day d in mm.
func (m *cropET) on(d Day) float64 {
	if d >= m.next {
		m.compute(etFirst(d))
	}
	return m.etc
}

// compute sets ETc for the block of days that begins with first.
func (m *cropET) compute(first Day) {
	w := m.weather(first)
	m.next = first + etDays
	gain := DegreeDays(w, m.f.CanopyBaseC, HeatCeilingC) * float64(min(max(m.next-m.begins, 0), etDays))
	amid := first + etDays/2
	m.etc = m.kc(amid, m.heat+gain/2) * HargreavesMM(w, m.sun.radiation(amid.utc().YearDay()))
	m.heat += gain
}

// kc returns the crop coefficient on day d after heat degree-days of growth: KcInitial at planting, rising with the
// shaded ground to KcMiddle when the rows close, and falling linearly to KcEnd in the RipeningDays days before harvest.
func (m *cropET) kc(d Day, heat float64) float64 {
	if d >= m.ripe {
		return m.f.KcEnd
	}
	kc := m.f.KcInitial
	if d >= m.begins {
		shade := ShadeOfLeaf(m.leafAfter(heat), m.f.LightExtinction)
		kc += (m.f.KcMiddle - kc) * min(1, shade/ClosedShade)
	}
	if ripening := d - (m.ripe - RipeningDays); ripening > 0 {
		kc += (m.f.KcEnd - kc) * float64(ripening) / RipeningDays
	}
	return kc
}

// leafAfter returns the leaf area index after heat degree-days, by the closed form of the growth in Season.growth:
//
//	LAI = C / (1 + (C/LAI0 - 1) exp(-r h))
func (m *cropET) leafAfter(heat float64) float64 {
	c := m.f.LeafCeiling
	return c / (1 + (c/m.leaf-1)*math.Exp(-m.f.LeafGrowthRate*max(0, heat-m.pause)))
}

// heatOf returns the rice degree-days from day from to the day before to.
func (m *cropET) heatOf(from, to Day) (heat float64) {
	for d := from; d < to; {
		first := etFirst(d)
		next := min(first+etDays, to)
		heat += float64(next-d) * DegreeDays(m.weather(first), m.f.CanopyBaseC, HeatCeilingC)
		d = next
	}
	return heat
}

// weather returns the weather of a block, with measured temperatures limited to ColdestC to HottestC.
func (m *cropET) weather(first Day) DayWeather {
	y := &m.w.Daily
	if first+etDays <= y.From || first >= y.From+Day(len(y.Days)) {
		return m.w.Normals.on(first + etDays/2)
	}
	var mean DayWeather
	for d := first; d < first+etDays; d++ {
		w := m.w.at(d)
		mean.MinC += min(max(w.MinC, ColdestC), HottestC) / etDays
		mean.MaxC += min(max(w.MaxC, ColdestC), HottestC) / etDays
	}
	return mean
}

// etFirst returns the first day of the block that contains d.
func etFirst(d Day) Day {
	past := d % etDays
	if past < 0 {
		past += etDays
	}
	return d - past
}
