package simulate

import (
	"strconv"

	"rowbell/engine"
)

// Years returns the names of the kinds of years.
func Years() []string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.name)
	}
	return names
}

// WeatherOf returns the weather of the valley in a year of the named kind, or the steady weather of a mean temperature
// such as "19"; false if the name is neither. A normal year has only the normals, the usual values of each month. The
// other years also have measured days.
func WeatherOf(name string) (engine.Weather, bool) {
	if c, err := strconv.ParseFloat(name, 64); err == nil {
		return steady(c), coldestC <= c && c <= hottestC
	}
	for i, k := range kinds {
		if k.name != name {
			continue
		}
		year, _, _ := FirstPlanting.Date()
		w := engine.Weather{Normals: Valley(), LatitudeDeg: valleyLatitude}
		if Kind(i) != Normal {
			w.Daily = Year(Kind(i), year)
		}
		return w, true
	}
	return engine.Weather{}, false
}

// steady returns weather with the same mean temperature on every day.
func steady(meanC float64) engine.Weather { return engine.Steady(meanC-halfRangeC, meanC+halfRangeC) }

const (
	valleyLatitude     = 9.0 // of the invented valley, in degrees north
	coldestC, hottestC = 15, 31
	halfRangeC         = 4.0 // half of the difference between day and night
)
