package store

import (
	"math"
	"testing"

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
