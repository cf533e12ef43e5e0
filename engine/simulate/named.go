package simulate

import "rowbell/engine"

// natures are the growers that have a name, the usual ones first.
var natures = []struct {
	name string
	of   func() Nature
}{{"usual", Usual}, {"honest", Honest}, {"sloppy", Sloppy}, {"lying", Lying}}

// Natures are the names of the growers there are.
func Natures() []string {
	var names []string
	for _, n := range natures {
		names = append(names, n.name)
	}
	return names
}

// NatureNamed is the nature of a name; false for a name that is none.
func NatureNamed(name string) (Nature, bool) {
	for _, n := range natures {
		if n.name == name {
			return n.of(), true
		}
	}
	return Nature{}, false
}

// Years are the names of the kinds of years there are.
func Years() []string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.name)
	}
	return names
}

// WeatherOf is the valley in a year of the kind that has this name, with its
// days as measured; false for a name that is none. A normal year has none
// measured: the service and the weather go by the same months.
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

// valleyLatitude is where the invented valley lies, degrees north.
const valleyLatitude = 9
