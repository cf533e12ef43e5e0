package main

import (
	"encoding/json"
	"io"
	"math"

	"rowbell/engine"
)

// The JSON of rowbell plan. Names are stable and carry their unit; days are
// YYYY-MM-DD; shares run from 0 to 1; a figure that needs something not told
// is left out. States, verdicts and reasons are the engine's words.
type planOut struct {
	On               string           `json:"on"`
	DaysAfterPlanted int              `json:"days_after_planted"`
	State            string           `json:"state"`
	Fit              planFitOut       `json:"fit"`
	Next             *planWindowOut   `json:"next"`  // null: no further window
	Later            []*planWindowOut `json:"later"` // if each window is used on its best day
	LastToolDay      string           `json:"last_tool_day"`
	LastToolDayWhy   string           `json:"last_tool_day_why"`
	RowsClose        string           `json:"rows_close,omitempty"`
	PlantsBig        string           `json:"plants_big,omitempty"`
	PanicleStarts    string           `json:"panicle_starts"`
	WeedLeaves       float64          `json:"weed_leaves"`
	CropShade        float64          `json:"crop_shade_share"`
	Passes           int              `json:"passes"`
	LookAgain        string           `json:"look_again,omitempty"`
	Weather          string           `json:"weather"`
	LatitudeDeg      float64          `json:"latitude_deg"`
	Moved            *planWindowOut   `json:"moved,omitempty"` // where next belongs by now, if it was announced for other days

	Water   planWaterOut    `json:"water"`
	Work    planWorkOut     `json:"work"`
	Costs   planCostsOut    `json:"costs"`
	Risk    planRiskOut     `json:"risk"`
	Summary *planSummaryOut `json:"summary,omitempty"` // of the season so far; left out before the first pass
	Heat    *planHeatOut    `json:"heat,omitempty"`
}

type planFitOut struct {
	Verdict       string  `json:"verdict"`
	WidthCM       float64 `json:"width_cm,omitempty"`
	ClearanceCM   float64 `json:"clearance_cm,omitempty"`
	SmallestRowCM float64 `json:"smallest_row_cm,omitempty"`
	LargestRowCM  float64 `json:"largest_row_cm,omitempty"`
	Square        bool    `json:"square"`
	CrossFits     bool    `json:"cross_fits"`
	SweptOnce     float64 `json:"swept_once_share,omitempty"`
	SweptCrossed  float64 `json:"swept_crossed_share,omitempty"`
	HillsPerM2    float64 `json:"hills_per_m2,omitempty"`
	WalkKMPerHa   float64 `json:"walk_km_per_ha,omitempty"`
	WalkKM        float64 `json:"walk_km,omitempty"`
	HoursPerHa    float64 `json:"hours_per_ha,omitempty"`
	Hours         float64 `json:"hours,omitempty"`
	HoursCrossed  float64 `json:"hours_crossed,omitempty"`
}

type planWindowOut struct {
	Number  int    `json:"number"`
	Edition int    `json:"edition,omitempty"` // sightings of weeds since the last pass
	Opens   string `json:"opens"`
	Best    string `json:"best"`
	Closes  string `json:"closes"`
	With    string `json:"with"`
	Why     string `json:"why"`
}

func planJSON(w io.Writer, all planned) error {
	s, p := all.season, all.Full.Plan
	f := p.Fit
	out := planOut{
		On: p.On.String(), DaysAfterPlanted: int(p.On - s.Plot.Planted), State: p.State.String(),
		Fit: planFitOut{
			Verdict: f.Verdict.String(), WidthCM: planRound(f.WidthCM), ClearanceCM: planRound(f.ClearanceCM),
			SmallestRowCM: planRound(f.SmallestRowCM), LargestRowCM: planRound(f.LargestRowCM), Square: f.Square, CrossFits: f.CrossFits,
			SweptOnce: planRound(f.SweptOnce), SweptCrossed: planRound(f.SweptCrossed), HillsPerM2: planRound(f.HillsPerM2),
			WalkKMPerHa: planRound(f.WalkKMPerHa), WalkKM: planRound(f.WalkKM), HoursPerHa: planRound(f.HoursPerHa),
			Hours: planRound(f.Hours), HoursCrossed: planRound(f.HoursCrossed),
		},
		Next: planWindowJSON(p.Next), Later: []*planWindowOut{},
		LastToolDay: p.Closure.LastToolDay.String(), LastToolDayWhy: p.Closure.Why.String(),
		RowsClose: planSometimes(p.Closure.RowsClose), PlantsBig: planSometimes(p.Closure.PlantsBig), PanicleStarts: p.Closure.PanicleStarts.String(),
		WeedLeaves: planRound(p.WeedLeaves), CropShade: planRound(p.Shade), Passes: p.Passes, LookAgain: planSometimes(p.LookAgain),
		Weather: all.weather, LatitudeDeg: s.Weather.LatitudeDeg, Moved: planWindowJSON(p.Moved),
		Water: planWaterJSON(all), Work: planWorkJSON(all.Work), Costs: planCostsJSON(all), Risk: planRiskJSON(all.Risk),
		Summary: planSummaryJSON(all.summary), Heat: planHeatJSON(all),
	}
	for _, x := range p.Later {
		out.Later = append(out.Later, planWindowJSON(x))
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(out)
}

func planWindowJSON(w engine.Window) *planWindowOut {
	if !w.Exists() {
		return nil
	}
	return &planWindowOut{Number: w.Number, Edition: w.Edition, Opens: w.Opens.String(), Best: w.Best.String(), Closes: w.Closes.String(), With: w.With.String(), Why: w.Why.String()}
}

// planSometimes is a day that may be none.
func planSometimes(d engine.Day) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

// planRound keeps three decimals: more is not known.
func planRound(x float64) float64 { return math.Round(x*1000) / 1000 }
