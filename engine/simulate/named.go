package simulate

import "rowbell/engine"

// natures lists the natures and their names. The first one is the default.
var natures = []struct {
	name string
	of   func() Nature
}{{"usual", Usual}, {"honest", Honest}, {"sloppy", Sloppy}, {"lying", Lying}}

// Natures returns the names of the natures.
func Natures() []string {
	var names []string
	for _, n := range natures {
		names = append(names, n.name)
	}
	return names
}

// NatureNamed returns the nature with this name; false if the name is unknown.
func NatureNamed(name string) (Nature, bool) {
	for _, n := range natures {
		if n.name == name {
			return n.of(), true
		}
	}
	return Nature{}, false
}

// Years returns the names of the kinds of years.
func Years() []string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.name)
	}
	return names
}

// WeatherOf returns the weather of the valley in a year of the named kind; false if the name is unknown. A normal year
// has only the normals, the usual values of each month. The other years also have measured days.
func WeatherOf(name string) (engine.Weather, bool) {
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

// valleyLatitude is the latitude of the invented valley in degrees north.
const valleyLatitude = 9
