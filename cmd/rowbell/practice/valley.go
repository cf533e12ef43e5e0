package practice

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"rowbell/engine"
	"rowbell/store"
)

// The practice valley is an invented warm lowland. Its temperature is the same all year, and is the one that rowbell
// plan takes where none is told. So a window (the days in which the tool removes the weeds) lasts four to six days at
// any date, and practice and plan give the same days for the same plot.

// Place returns the place of the practice growers. Its time zone is UTC+5 all year.
func Place() store.Place {
	p := store.Place{Name: store.DefaultPlace, Zone: "Etc/GMT-5", Latitude: 15, ElevationM: 60, MorningHour: 7,
		Soil: engine.SoilMedium, Learning: true,
		Prices: engine.Prices{Currency: "tal", Tool: 900, ToolSalvage: 90, ToolYears: 8, InterestYear: 0.2,
			HireDay: 45, ServiceHa: 2700, LabourDay: 120, FamilyDay: 75, SeasonsYear: 2}}
	rain := [12]float64{30, 40, 90, 150, 210, 240, 250, 240, 220, 180, 110, 50}
	for m := range p.Normals {
		p.Normals[m] = engine.Normal{MinC: 23, MaxC: 32, RainMM: rain[m]}
	}
	return p
}

// villager is an invented grower with the plots on the first day of practice.
type villager struct {
	phone store.Phone
	name  string
	plots []example
}

// example is a plot that meets a condition on the first day of practice; its planting day is chosen for this.
type example struct {
	plot   engine.Plot
	tool   engine.Tool
	passes int     // number of passes before the first day of practice, each on the best day of its window
	hours  float64 // hours that one person reported for each pass; 0 = not reported
	is     condition
}

// condition reports whether a plot is in the state that an example shows.
type condition func(s engine.Season, p engine.Plan) bool

// The functions below are the conditions of the examples. The examples together show every state of a season.

func early(_ engine.Season, p engine.Plan) bool {
	return p.State == engine.TooEarly && p.Next.Opens == p.On+6
}

func prepare(_ engine.Season, p engine.Plan) bool { return p.State == engine.Prepare }

func opened(_ engine.Season, p engine.Plan) bool {
	return p.State == engine.Open && p.Next.Opens < p.On
}

func lastDays(_ engine.Season, p engine.Plan) bool { return p.State == engine.LastDays }

func missed(_ engine.Season, p engine.Plan) bool {
	return p.State == engine.Missed && p.Next.Closes < p.On-1
}

func weeded(s engine.Season, p engine.Plan) bool {
	return p.State == engine.FollowUp && s.Passes[0].On < p.On-1
}

func ending(_ engine.Season, p engine.Plan) bool {
	return p.State == engine.Open && p.Closure.LastToolDay-p.On <= 5
}

func scattered(_ engine.Season, p engine.Plan) bool {
	return p.Next.Opens < p.On && p.Next.Contains(p.On)
}

// valley lists the growers: first those with a tool of their own, then those of the circle.
func valley() []villager {
	square := func(label string, cm, areaM2 float64, soil engine.Soil) engine.Plot {
		return engine.Plot{Label: label, Method: engine.Transplanted, RowSpacingCM: cm, HillSpacingCM: cm,
			AreaM2: areaM2, Soil: soil, Flood: engine.FloodKept}
	}
	tool := func(cm float64) engine.Tool { return engine.Tool{WidthCM: cm} }
	const own, light, heavy = engine.SoilUnknown, engine.SoilLight, engine.SoilHeavy
	return append([]villager{
		{"+447700900001", "Asha", []example{
			{plot: square("", 25, 600, own), tool: tool(15), is: early}}},
		{"+447700900002", "Bento", []example{
			{plot: square("upper", 25, 2000, light), tool: tool(18), is: prepare},
			{plot: square("lower", 20, 1200, own), tool: tool(14), is: early}}},
		{"+447700900003", "Chanda", []example{
			{plot: square("well", 25, 1800, heavy), tool: tool(15), is: opened}}},
		{"+447700900004", "Dinh", []example{
			{plot: square("", 22, 900, own), tool: tool(16), is: lastDays}}},
		{"+447700900005", "Efua", []example{
			{plot: square("road", 25, 2500, own), tool: tool(18), is: missed}}},
		{"+447700900006", "Farah", []example{
			{plot: square("", 30, 4000, heavy), tool: engine.Tool{WidthCM: 15, MaxWidthCM: 24}, passes: 1,
				is: weeded}}},
		{"+447700900007", "Goro",
			[]example{{plot: square("home", 25, 1600, own), tool: tool(15), passes: 2, hours: 6, is: ending}}},
		{"+447700900008", "Hawa", []example{
			{plot: engine.Plot{Method: engine.Broadcast, AreaM2: 1000}, is: scattered}}},
	}, circleGrowers()...)
}

// season returns a season that meets the condition x.is today, with the latest possible planting day.
func (x example) season(today engine.Day) (engine.Season, error) {
	weather := engine.Weather{Normals: Place().Normals}
	for planted := today - 1; planted > today-120; planted-- {
		s := engine.Season{Plot: x.plot, Tool: x.tool, Weather: weather, Since: planted}
		s.Plot.Planted = planted
		on := planted
		for range x.passes {
			p, err := s.Windows(on)
			if err != nil {
				return engine.Season{}, err
			}
			if !p.Next.Exists() {
				return engine.Season{}, fmt.Errorf("practice: a season has no room for %d passes", x.passes)
			}
			on = p.Next.Best
			s.Passes = append(s.Passes, x.pass(on))
		}
		if on > today {
			continue
		}
		p, err := s.Plan(today)
		if err != nil {
			return engine.Season{}, err
		}
		if x.is(s, p) {
			return s, nil
		}
	}
	return engine.Season{}, fmt.Errorf("practice: no planting day meets the condition of a plot on %s", today)
}

// pass returns a pass with the tool that left few weeds.
func (x example) pass(on engine.Day) engine.Pass {
	p := engine.Pass{On: on, With: engine.ByTool, Way: engine.Along, Left: engine.Few}
	if x.hours > 0 {
		p.Hours, p.People = x.hours, 1
	}
	return p
}

// Deed is what a grower did before practice began, such as to register a plot, log a pass or join a circle.
type Deed struct {
	On    engine.Day
	phone store.Phone
	do    func(*store.Ledger) error
}

// Record writes the deed to the records at the Unix time now.
func (d Deed) Record(ctx context.Context, s *store.Store, now int64) error {
	return s.InTx(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(d.phone, now)
		if err != nil {
			return err
		}
		return d.do(l)
	})
}

// History lists the deeds of all growers up to today, by day. Each plot was registered on its planting day.
func History(today engine.Day) ([]Deed, error) {
	var deeds []Deed
	for _, v := range valley() {
		seasons := make([]engine.Season, len(v.plots))
		for i, x := range v.plots {
			s, err := x.season(today)
			if err != nil {
				return nil, fmt.Errorf("%w (%s)", err, v.name)
			}
			seasons[i] = s
		}
		// A plot is registered on its planting day, and the records number plots in the order of registration.
		slices.SortStableFunc(seasons, func(a, b engine.Season) int { return int(a.Plot.Planted - b.Plot.Planted) })
		for i, s := range seasons {
			deeds = append(deeds, Deed{s.Plot.Planted, v.phone, func(l *store.Ledger) error {
				if !l.Known() {
					if err := errors.Join(l.Consent("en", "practice", "ussd"), l.SetName(v.name)); err != nil {
						return err
					}
				}
				_, err := l.AddPlot(s.Plot, s.Tool)
				return err
			}})
			for _, pass := range s.Passes {
				log := func(l *store.Ledger) error { return l.LogPass(i+1, pass) }
				deeds = append(deeds, Deed{pass.On, v.phone, log})
			}
		}
	}
	shared := engine.Day(0) // the day on which all plots of the circle are registered
	for _, d := range deeds {
		if slices.ContainsFunc(circleGrowers(), func(v villager) bool { return v.phone == d.phone }) {
			shared = max(shared, d.On)
		}
	}
	deeds = append(deeds, circleDeeds(shared)...)
	slices.SortStableFunc(deeds, func(a, b Deed) int { return int(a.On - b.On) })
	return deeds, nil
}
