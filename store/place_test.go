package store

import (
	"encoding/json"
	"errors"
	"maps"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

func TestPlaces(t *testing.T) {
	s := open(t)
	p := Place{Name: "delta", Zone: "Africa/Nairobi", Latitude: -1.5, ElevationM: 1150, MorningHour: 6,
		Normals: engine.Steady(15.5, 28).Normals, Learning: true, WeedRate: 1}
	p.Normals[11].RainMM = 77.5
	for _, change := range []func(){func() {}, func() { p.Zone = "Asia/Dhaka" }, func() { p.Normals[0].MinC = 3 }} {
		change()
		p.ID = putPlace(t, s, p)
		view(t, s, func(tx *Tx) error {
			got, ok, err := tx.PlaceByName("delta")
			errorIf(t, !ok || got != p, "place %+v, want %+v", got, p)
			all, err2 := tx.Places()
			errorIf(t, len(all) != 2 || all[0].Name != DefaultPlace || all[1] != p || err2 != nil,
				"places %+v, %v", all, err2)
			_, there, err3 := tx.PlaceByName("nowhere")
			errorIf(t, there || err3 != nil, "nowhere: %v, %v", there, err3)
			return err
		})
	}
}

func TestPlacesThatCannotBe(t *testing.T) {
	for name, spoil := range map[string]func(*Place){
		"no name":      func(p *Place) { p.Name = "" },
		"no zone":      func(p *Place) { p.Zone = "" },
		"no such zone": func(p *Place) { p.Zone = "Mars/North" },
		"latitude":     func(p *Place) { p.Latitude = 91 },
		"not a number": func(p *Place) { p.Latitude = math.NaN() },
		"hour":         func(p *Place) { p.MorningHour = 24 },
		"temperatures": func(p *Place) { p.Normals[3].MinC = 50 },
		"elevation":    func(p *Place) { p.ElevationM = 1e6 },
	} {
		s := open(t)
		p := defaultPlace()
		spoil(&p)
		errorIf(t, s.InTx(ctx, func(tx *Tx) error { return second(tx.PutPlace(p)) }) == nil, "%s: was taken", name)
	}
}

// The figures that a place sets are stored unchanged. In the seasons of the place, they replace the figures of the
// engine's table of facts.
func TestFiguresOfAPlace(t *testing.T) {
	s := openWithPlot(t, ana)
	rapid.Check(t, func(t *rapid.T) {
		p := defaultPlace()
		want := engine.NewLocal()
		set := map[string]float64{}
		for _, f := range engine.Settings() {
			if !rapid.Bool().Draw(t, f.Name) {
				continue
			}
			v := rapid.Float64Range(f.Min, f.Max).Draw(t, "value")
			set[f.Name] = v
			ok(t, p.Figures.Set(f.Name, v))
			ok(t, want.Figures.Set(f.Name, v))
		}
		putPlace(t, s, p)
		got, _ := lookUp(t, s, func(tx *Tx) (Place, bool, error) { return tx.PlaceByName(p.Name) })
		fatalIf(t, got.Figures != p.Figures || !maps.Equal(maps.Collect(got.Figures.All()), set),
			"figures %v, want %v", maps.Collect(got.Figures.All()), set)
		equal(t, *season(t, s, ana, 1).Local, want, "local")
	})
}

func TestFiguresThatAreRefused(t *testing.T) {
	var f Figures
	for name, v := range map[string]float64{"KcMiddle": 9, "Nothing": 1, "": 0} {
		errorIf(t, f.Set(name, v) == nil, "%q = %g was taken", name, v)
	}
	errorIf(t, f != (Figures{}), "%+v was set all the same", f)
	// If a stored figure is unknown to this version or out of bounds, it is treated as not set.
	err := json.Unmarshal([]byte(`{"KcMiddle": 1.3, "KcEnd": 77, "Forgotten": 1}`), &f)
	got := maps.Collect(f.All())
	errorIf(t, err != nil || !maps.Equal(got, map[string]float64{"KcMiddle": 1.3}), "read %v, %v", got, err)
	errorIf(t, json.Unmarshal([]byte(`{"KcMiddle": "much"}`), &f) == nil, "a word was taken for a number")
}

// fillFields sets every field of a struct to a different value.
func fillFields(v reflect.Value) {
	for i := range v.NumField() {
		switch f := v.Field(i); f.Kind() {
		case reflect.Float64:
			f.SetFloat(float64(i) + 0.25)
		case reflect.Int:
			f.SetInt(int64(i) + 1)
		case reflect.String:
			f.SetString("XYZ")
		}
	}
}

// All prices of a place are stored. After the prices are removed, no price is left in the database.
func TestPricesOfAPlace(t *testing.T) {
	s := openWithPlot(t, ana)
	p := defaultPlace()
	fillFields(reflect.ValueOf(&p.Prices).Elem())
	p.Prices.ToolSalvage, p.Prices.SeasonsYear = 0.5, 2
	p.Soil = engine.SoilHeavy
	putPlace(t, s, p)
	equal(t, season(t, s, ana, 1).Local.Prices, p.Prices, "prices")
	p.Prices = engine.Prices{}
	putPlace(t, s, p)
	equal(t, season(t, s, ana, 1).Local.Prices, (engine.Prices{}), "prices are left")
}

// If the grower gave no soil for a plot, the plot has the soil of its place. A change of such a plot must not store
// this soil.
func TestSoilOfThePlace(t *testing.T) {
	s := openWithPlot(t, ana)
	p := defaultPlace()
	soil := func(of engine.Soil) {
		t.Helper()
		p.Soil = of
		putPlace(t, s, p)
	}
	want := func(want engine.Soil) {
		t.Helper()
		equal(t, season(t, s, ana, 1).Plot.Soil, want, "soil")
	}
	change := func(fn func(*engine.Plot)) {
		t.Helper()
		ledger(t, s, ana, noon, func(l *Ledger) error {
			season, err := l.Season(1)
			fn(&season.Plot)
			return errors.Join(err, l.ChangePlot(1, season.Plot, season.Tool))
		})
	}
	want(engine.SoilUnknown)
	soil(engine.SoilHeavy)
	want(engine.SoilHeavy)
	change(func(p *engine.Plot) { p.AreaM2 = 700 })
	soil(engine.SoilLight)
	want(engine.SoilLight)
	change(func(p *engine.Plot) { p.Soil, p.InflowLS = engine.SoilHeavy, 2.5 })
	want(engine.SoilHeavy)
	soil(engine.SoilMedium)
	want(engine.SoilHeavy)
	equal(t, season(t, s, ana, 1).Plot.InflowLS, 2.5, "inflow")
}

// PutPlace does not change the weed rate that a place has learned. A season uses the learned weed rate only while the
// field Learning of its place is true.
func TestPutPlaceKeepsWhatWasLearned(t *testing.T) {
	s := openWithPlot(t, ana)
	execSQL(t, s, "UPDATE place SET weed_rate = 1.1, learned_n = 7, weather_version = 5")
	for _, learning := range []bool{true, false, true} {
		p := defaultPlace()
		p.Learning, p.WeedRate, p.LearnedN = learning, 1.3, 99
		putPlace(t, s, p)
		got := placeOf(t, s)
		errorIf(t, got.WeedRate != 1.1 || got.LearnedN != 7 || got.Learning != learning,
			"learning %v: %+v", learning, got)
		want := map[bool]float64{true: 1.1, false: 1}[learning]
		equal(t, season(t, s, ana, 1).Local.WeedRate, want, "learning %v: weed rate", learning)
	}
	wantNumber(t, s, 5, "SELECT weather_version FROM place")
}
