package simulate

import "rowbell/engine"

// natures lists the natures by name, the default first.
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

// NatureNamed returns the nature with a name; false for an unknown name.
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

// WeatherOf returns the weather of the valley in a year of the named kind, with its measured days; false for an
// unknown name. A normal year has no measured days, only the normals.
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
