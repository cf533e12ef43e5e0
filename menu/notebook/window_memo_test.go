package notebook

import (
	"reflect"
	"strings"
	"testing"

	"rowbell/engine"
)

// A season that differs in anything but the household has another key, so that WindowMemo.Of never returns the windows
// of another season. A new field of Season is tested without a change here.
func TestEveryFieldOfASeasonIsInTheKey(t *testing.T) {
	today := engine.Date(2026, 11, 25)
	local := engine.NewLocal()
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: today - 20, RowSpacingCM: 25},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(21, 31), Local: &local,
		Passes: []engine.Pass{{On: today - 9}}, Sightings: []engine.Sighting{{On: today - 2}}}
	s.Weather.Daily.Days = []engine.Measured{{}}
	s.Home.Worked = []engine.Worked{{}}
	was := key(&s, today)
	if key(&s, today+1) == was {
		t.Error("the day is not in the key")
	}
	fields := 0
	var change func(name string, v reflect.Value)
	change = func(name string, v reflect.Value) {
		old := reflect.New(v.Type()).Elem()
		old.Set(v)
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					change(name+"."+f.Name, v.Field(i))
				}
			}
			return
		case reflect.Array:
			for i := range v.Len() {
				change(name, v.Index(i))
			}
			return
		case reflect.Pointer:
			change(name, v.Elem())
			v.SetZero()
		case reflect.Slice:
			change(name, v.Index(0))
			v.Set(reflect.Append(v, v.Index(0)))
		case reflect.Bool:
			v.SetBool(!v.Bool())
		case reflect.String:
			v.SetString(v.String() + "x")
		case reflect.Float64:
			v.SetFloat(v.Float() + 1)
		case reflect.Int, reflect.Int32, reflect.Int64:
			v.SetInt(v.Int() + 1)
		case reflect.Uint8:
			v.SetUint(v.Uint() + 1)
		default:
			t.Fatalf("%s is a %s", name, v.Kind())
		}
		if now := key(&s, today); (now == was) != strings.HasPrefix(name, ".Home") {
			t.Errorf("%s: the key is %d and was %d", name, now, was)
		}
		v.Set(old)
		fields++
	}
	change("", reflect.ValueOf(&s).Elem())
	if fields < 50 {
		t.Errorf("only %d fields were changed", fields)
	}
}

// Of returns what the season itself returns, the first time and later.
func TestWindowsAreThoseOfTheSeason(t *testing.T) {
	var w WindowMemo
	today := engine.Date(2026, 11, 25)
	for range 2 {
		for age := range engine.Day(60) {
			s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: today - age, RowSpacingCM: 25},
				Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(21, 31)}
			want, _ := s.Windows(today)
			if got, err := w.Of(s, today); err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("%d days after planting: %+v, %v; want %+v", age, got, err, want)
			}
		}
	}
	if len(w.known) != 60 {
		t.Errorf("%d seasons are remembered, want 60", len(w.known))
	}
	if _, err := w.Of(engine.Season{Tool: engine.Tool{WidthCM: -1}}, today); err == nil {
		t.Error("a season that is not valid has windows")
	}
}
