package simulate

import "testing"

func TestNames(t *testing.T) {
	for _, name := range Natures() {
		n, ok := NatureNamed(name)
		if !ok || n == (Nature{}) || n.validate() != nil {
			t.Errorf("%s: %+v, %v", name, n, ok)
		}
	}
	for _, name := range Years() {
		w, ok := WeatherOf(name)
		if !ok || (len(w.Daily.Days) == 0) != (name == "normal") {
			t.Errorf("%s: %d days, %v", name, len(w.Daily.Days), ok)
		}
		if _, err := Run(Options{Plots: 3, Weather: w, Measured: true}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, ok := NatureNamed("perfect"); ok {
		t.Error("there are perfect growers")
	}
	if _, ok := WeatherOf("snow"); ok {
		t.Error("it snows")
	}
}
