package engine

import (
	"math"
)

// ExtraterrestrialMJ is the radiation that reaches the top of the air above
// a place on a day of the year (1 = 1 January), in MJ/m2 a day:
//
//	Ra = (24 x 60 / pi) Gsc dr (ws sin(lat) sin(decl) + cos(lat) cos(decl) sin(ws))
//
// with the sun's distance dr, its declination and the hour angle of sunset ws.
// The latitude is in degrees, north positive. Where the sun does not rise or
// not set that day, ws is 0 or pi. A latitude beyond a pole counts as the
// pole, one that is no number as the equator.
//
// Source: Allen et al. 1998, FAO-56, equations 21 and 23 to 25. The paper
// gives them for latitudes up to 55 degrees.
func ExtraterrestrialMJ(latDeg float64, dayOfYear int) float64 {
	return newSun(latDeg).radiation(dayOfYear)
}

// DaylightHours is the time from sunrise to sunset in hours, 24 ws / pi, with
// latitude and day as in ExtraterrestrialMJ (FAO-56, equation 34).
func DaylightHours(latDeg float64, dayOfYear int) float64 {
	return newSun(latDeg).day(dayOfYear).sunset * hoursOfDay / math.Pi
}

// HargreavesMM is the water that well-watered short grass would evaporate on
// a day, in mm, told from temperature alone:
//
//	ETo = 0.0023 (Tmean + 17.8) sqrt(Tmax - Tmin) Ra
//
// with Ra as water evaporated: 0.408 mm a MJ/m2. It is meant for means of
// five days or more, and says too much in the humid tropics. It is never less
// than 0, and 0 where the minimum is above the maximum.
//
// Source: FAO-56, equation 52.
func HargreavesMM(w DayWeather, raMJ float64) float64 {
	if !(w.MaxC > w.MinC) {
		return 0
	}
	mean := (w.MaxC + w.MinC) / 2
	return max(0, HargreavesFactor*(mean+HargreavesOffsetC)*math.Sqrt(w.MaxC-w.MinC)*EvaporatedMMPerMJ*raMJ)
}

// sun is the sun as seen from one latitude.
type sun struct{ sinLat, cosLat float64 }

func newSun(latDeg float64) sun {
	if math.IsNaN(latDeg) {
		latDeg = 0
	}
	sin, cos := math.Sincos(min(max(latDeg, -poleDeg), poleDeg) / poleDeg * (math.Pi / 2))
	return sun{sin, cos}
}

// sunDay is the sun's course on a day of the year.
type sunDay struct {
	distance          float64 // dr: inverse relative distance, squared
	declination       float64 // radians
	up, across        float64 // sin(lat) sin(decl) and cos(lat) cos(decl)
	cosSunset, sunset float64 // of the hour angle ws, and ws in radians, 0 to pi
}

func (s sun) day(dayOfYear int) (d sunDay) {
	angle := 2 * math.Pi / sunYearDays * float64(dayOfYear)
	d.distance = 1 + SunDistanceSwing*math.Cos(angle)
	d.declination = SunTilt * math.Sin(angle-SunPhase)
	sin, cos := math.Sincos(d.declination)
	d.up, d.across = s.sinLat*sin, s.cosLat*cos
	// Beyond the polar circles there are days without a sunset, or without a
	// sunrise: the cosine would leave -1 to 1.
	d.cosSunset = min(max(-d.up/d.across, -1), 1)
	d.sunset = math.Acos(d.cosSunset)
	return d
}

func (s sun) radiation(dayOfYear int) float64 {
	d := s.day(dayOfYear)
	sinSunset := math.Sqrt(1 - d.cosSunset*d.cosSunset)
	return max(0, minutesOfDay/math.Pi*SolarConstant*d.distance*(d.sunset*d.up+d.across*sinSunset))
}

// demand is what the air takes from a season's plot, in mm a day, asked for
// one day after the other:
//
//	ETc = Kc ETo
//
// (FAO-56, equation 58). Weather, radiation and crop are looked at once in
// demandDays days, counted from 1 January 1970, and hold for all of them:
// normals in their middle, measured temperatures as their mean, as
// HargreavesMM wants it.
type demand struct {
	w    *Weather
	f    *Figures
	sun  sun
	leaf float64 // leaf area index when growth begins
	wait float64 // degree-days for which growth stands still after transplanting
	heat float64 // degree-days since growth began, on the first day of the days to come

	begins Day // first day of growth
	ripe   Day // harvest
	next   Day // first of the days to come
	etc    float64
}

// newDemand is the demand from day d on.
func newDemand(s *Season, d Day) demand {
	f := &s.local().Figures
	p := &s.Plot
	m := demand{w: &s.Weather, f: f, sun: newSun(s.Weather.LatitudeDeg), leaf: p.firstLAI(f), begins: p.Planted, ripe: p.ripe(), next: demandFirst(d)}
	if m.next >= m.ripe {
		return m // ripe rice, whatever its leaves were
	}
	if p.Method == Transplanted {
		m.wait = f.TransplantPause * m.heatOf(p.Planted-Day(p.seedlingAge()), p.Planted)
	} else {
		m.begins += DefaultSeedlingAgeDays
	}
	m.heat = m.heatOf(m.begins, m.next)
	return m
}

// on is the demand of day d.
func (m *demand) on(d Day) float64 {
	if d >= m.next {
		m.look(demandFirst(d))
	}
	return m.etc
}

// look works out the days that begin with first.
func (m *demand) look(first Day) {
	w := m.weather(first)
	m.next = first + demandDays
	gain := DegreeDays(w, m.f.CanopyBaseC, HeatCeilingC) * float64(min(max(m.next-m.begins, 0), demandDays))
	amid := first + demandDays/2
	m.etc = m.kc(amid, m.heat+gain/2) * HargreavesMM(w, m.sun.radiation(amid.utc().YearDay()))
	m.heat += gain
}

// kc is the crop coefficient on day d, the crop having had so many
// degree-days: KcInitial from planting, rising with the ground that the crop
// shades to KcMiddle where the rows have closed, and falling evenly to KcEnd
// over the RipeningDays before harvest.
func (m *demand) kc(d Day, heat float64) float64 {
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

// leafAfter is the leaf area index after so many degree-days: the logistic
// growth of Season.growth as one formula instead of day by day,
//
//	LAI = C / (1 + (C/LAI0 - 1) exp(-r h))
func (m *demand) leafAfter(heat float64) float64 {
	c := m.f.LeafCeiling
	return c / (1 + (c/m.leaf-1)*math.Exp(-m.f.LeafGrowthRate*max(0, heat-m.wait)))
}

// heatOf is the rice degree-days of the days from from until before to.
func (m *demand) heatOf(from, to Day) (heat float64) {
	for d := from; d < to; {
		first := demandFirst(d)
		next := min(first+demandDays, to)
		heat += float64(next-d) * DegreeDays(m.weather(first), m.f.CanopyBaseC, HeatCeilingC)
		d = next
	}
	return heat
}

// weather is that of the days that begin with first. What was measured is
// held within the temperatures that are believed.
func (m *demand) weather(first Day) DayWeather {
	y := &m.w.Daily
	if first+demandDays <= y.From || first >= y.From+Day(len(y.Days)) {
		return m.w.Normals.on(first + demandDays/2)
	}
	var mean DayWeather
	for d := first; d < first+demandDays; d++ {
		w := m.w.at(d)
		mean.MinC += min(max(w.MinC, ColdestC), HottestC) / demandDays
		mean.MaxC += min(max(w.MaxC, ColdestC), HottestC) / demandDays
	}
	return mean
}

// demandFirst is the first of the days among which d is looked at.
func demandFirst(d Day) Day {
	past := d % demandDays
	if past < 0 {
		past += demandDays
	}
	return d - past
}

// ripe is the day of harvest.
func (p *Plot) ripe() Day { return p.PanicleInitiation() + PanicleBeforeHarvestDays }
