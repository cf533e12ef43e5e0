package engine

import "math"

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
