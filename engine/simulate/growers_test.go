package simulate

import (
	"math"
	"reflect"
	"testing"

	"rowbell/engine"
)

func TestNames(t *testing.T) {
	for _, name := range KindsOfGrowers() {
		g, ok := GrowersNamed(name)
		if !ok || g == (Growers{}) || g.validate() != nil {
			t.Errorf("%s: %+v, %v", name, g, ok)
		}
	}
	for _, name := range append(Years(), "15", "26.5", "31") {
		w, ok := WeatherOf(name)
		if !ok || (len(w.Daily.Days) > 0) != (name == "dry" || name == "wet" || name == "cool") {
			t.Errorf("%s: %d days, %v", name, len(w.Daily.Days), ok)
		}
		if _, err := Run(Options{Plots: 3, Weather: w, Measured: true}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, ok := GrowersNamed("perfect"); ok {
		t.Error("there are perfect growers")
	}
	for _, name := range []string{"snow", "14", "32", "NaN", "Inf"} {
		if _, ok := WeatherOf(name); ok {
			t.Errorf("there is a year %s", name)
		}
	}
}

func TestParseHabit(t *testing.T) {
	for s, want := range map[string]Habit{"21": {21, 21}, "14-21": {14, 21}, "16-18": {16, 18}, "1-60": {1, 60}} {
		if h, err := ParseHabit(s); err != nil || h != want || h.String() != s {
			t.Errorf("%s: %s, %v", s, h, err)
		}
	}
	for _, s := range []string{"", "0", "61", "21-14", "14-", "-3", "14-21-28", "14 - 21", "x"} {
		if h, err := ParseHabit(s); err == nil {
			t.Errorf("%q: %s", s, h)
		}
	}
}

func TestEveryAssumptionIsNamed(t *testing.T) {
	names := map[string]bool{}
	for _, a := range must(Run(Options{Plots: 1, Measured: true})).Assumptions {
		if names[a.Name] || a.Name == "" || a.Unit == "" || a.Meaning == "" || math.IsNaN(a.Value) {
			t.Errorf("%+v", a)
		}
		names[a.Name] = true
	}
	// Each field of Growers has a different value, and each of these values must be in the list of assumptions.
	growers := Growers{0.11, 0.12, 0.13, 0.14, 0.15, 0.16, 0.17, 0.18, 0.19}
	o := Options{Growers: growers, Place: &engine.Local{}}
	values := map[float64]bool{}
	for _, a := range o.assumptions() {
		values[a.Value] = true
	}
	fields := reflect.ValueOf(growers)
	for i := range fields.NumField() {
		if !values[fields.Field(i).Float()] {
			t.Errorf("%s is not told", fields.Type().Field(i).Name)
		}
	}
}
