package store

import (
	"context"
	"errors"
	"slices"
	"testing"

	"rowbell/engine"
)

func TestAGrowerMovesToAnotherPlace(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	hills := defaultPlace()
	hills.Name, hills.Zone, hills.Latitude = "hills", "Asia/Tokyo", 30
	for i := range hills.Normals {
		hills.Normals[i] = engine.Normal{MinC: 12, MaxC: 22, RainMM: 90}
	}
	if err := s.InTx(context.Background(), func(tx *Tx) error {
		id, err := tx.PutPlace(hills)
		if err != nil {
			return err
		}
		return tx.PutWeather(id, []WeatherDay{{On: day0, Measured: engine.Measured{MinC: 9, MaxC: 19, RainMM: 3}}}, noon)
	}); err != nil {
		t.Fatal(err)
	}
	names := func() (own string) {
		return read(t, s, ana, noon, func(l *Ledger) (string, error) {
			all, i, err := l.Places()
			if !slices.Equal(all, []string{DefaultPlace, "hills"}) {
				t.Errorf("places %v", all)
			}
			return all[i], err
		})
	}
	if own := names(); own != DefaultPlace {
		t.Errorf("at %s", own)
	}
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.SetPlace("hills") })
	if own := names(); own != "hills" {
		t.Errorf("at %s", own)
	}
	w := read(t, s, ana, noon, func(l *Ledger) (engine.Weather, error) { return l.Weather() })
	if w.LatitudeDeg != 30 || w.On(day0).MinC != 9 || w.On(day0+1).MinC != 12 {
		t.Errorf("weather %+v", w.On(day0))
	}
	season := season(t, s, ana, 1)
	if season.Weather.LatitudeDeg != 30 {
		t.Error("the season has the old weather")
	}
	for name, want := range map[string]error{"nowhere": ErrNoPlace} {
		err := s.InTx(context.Background(), func(tx *Tx) error {
			l, err := tx.Ledger(ana, noon)
			if err != nil {
				return err
			}
			return l.SetPlace(name)
		})
		if !errors.Is(err, want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
