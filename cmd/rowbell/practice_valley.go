package main

import (
	"context"
	"fmt"
	"slices"

	"rowbell/engine"
	"rowbell/store"
)

// The practice valley: warm lowland whose days hardly differ over the year,
// so that a window is about a week long whatever the date. All of it is
// invented: the place, its climate, the people.

// valleyPlace is the place of every practice phone, five hours ahead of UTC
// all year.
func valleyPlace() store.Place {
	p := store.Place{Name: store.DefaultPlace, Zone: "Etc/GMT-5", Latitude: 9, ElevationM: 60, MorningHour: 7, Soil: engine.SoilMedium, Learning: true,
		Prices: engine.Prices{Currency: "tal", Tool: 900, ToolSalvage: 90, ToolYears: 8, InterestYear: 0.2, HireDay: 45, ServiceHa: 2700, LabourDay: 120, FamilyDay: 75, SeasonsYear: 2}}
	minC := [12]float64{19.5, 20, 20.5, 21, 21, 21, 20.5, 20.5, 20.5, 20.5, 20, 19.5}
	maxC := [12]float64{28.5, 29, 30, 30, 30, 29.5, 29, 29, 29, 29, 29, 28.5}
	rain := [12]float64{30, 40, 90, 150, 210, 240, 250, 240, 220, 180, 110, 50}
	for m := range p.Normals {
		p.Normals[m] = engine.Normal{MinC: minC[m], MaxC: maxC[m], RainMM: rain[m]}
	}
	return p
}

// villager is one grower of the valley and where their plots are to stand on
// the first day of practice.
type villager struct {
	phone store.Phone
	name  string
	about string
	plots []stand
}

// stand is a plot, the passes made so far, and what is so of it on the first
// day. The day of planting follows from that.
type stand struct {
	plot   engine.Plot
	tool   engine.Tool
	passes int
	hours  float64 // that one person told of each pass; 0 = none
	at     func(engine.Season, engine.Plan) bool
}

func valley() []villager {
	square := func(label string, cm, areaM2 float64) engine.Plot {
		return engine.Plot{Label: label, Method: engine.Transplanted, RowSpacingCM: cm, HillSpacingCM: cm, AreaM2: areaM2}
	}
	on := func(p engine.Plot, soil engine.Soil) engine.Plot { p.Soil = soil; return p }
	tool := func(cm float64) engine.Tool { return engine.Tool{WidthCM: cm} }
	early := func(_ engine.Season, p engine.Plan) bool { return p.State == engine.TooEarly && p.Next.Opens == p.On+6 }
	prepare := func(_ engine.Season, p engine.Plan) bool { return p.State == engine.Prepare }
	open := func(_ engine.Season, p engine.Plan) bool { return p.State == engine.Open && p.Next.Opens < p.On }
	last := func(_ engine.Season, p engine.Plan) bool { return p.State == engine.LastDays }
	missed := func(_ engine.Season, p engine.Plan) bool { return p.State == engine.Missed && p.Next.Closes < p.On-1 }
	weeded := func(s engine.Season, p engine.Plan) bool {
		return p.State == engine.FollowUp && s.Passes[0].On < p.On-1
	}
	ending := func(_ engine.Season, p engine.Plan) bool {
		left := p.Closure.LastToolDay - p.On
		return p.State != engine.Closed && left >= 2 && left <= 5
	}
	scattered := func(_ engine.Season, p engine.Plan) bool { return p.Next.Opens < p.On && p.Next.Contains(p.On) }
	return []villager{
		{"+447700900001", "Asha", "One plot, just planted. Nothing to do yet.",
			[]stand{{square("", 25, 1500), tool(15), 0, 0, early}}},
		{"+447700900002", "Bento", "Two plots. The upper one needs water and a tool in a day or two.",
			[]stand{{on(square("upper", 25, 2000), engine.SoilLight), tool(18), 0, 0, prepare}, {square("lower", 20, 1200), tool(14), 0, 0, early}}},
		{"+447700900003", "Chanda", "One plot. The weeds are the right size now.",
			[]stand{{on(square("well", 25, 1800), engine.SoilHeavy), tool(15), 0, 0, open}}},
		{"+447700900004", "Dinh", "One plot. The last days of the first window.",
			[]stand{{square("", 22, 900), tool(16), 0, 0, last}}},
		{"+447700900005", "Efua", "One plot. The first window went by.",
			[]stand{{square("road", 25, 2500), tool(18), 0, 0, missed}}},
		{"+447700900006", "Farah", "One plot, weeded once.",
			[]stand{{on(square("", 30, 4000), engine.SoilHeavy), engine.Tool{WidthCM: 15, MaxWidthCM: 24}, 1, 0, weeded}}},
		{"+447700900007", "Goro", "One plot, weeded twice, with the hours told. The rows are about to close.",
			[]stand{{square("home", 25, 1600), tool(15), 2, 6, ending}}},
		{"+447700900008", "Hawa", "One plot, scattered: no rows for a tool, so by hand.",
			[]stand{{engine.Plot{Method: engine.Broadcast, AreaM2: 1000}, engine.Tool{}, 0, 0, scattered}}},
	}
}

// season finds the latest planting with which the plot stands as it is to
// stand on day today. Each pass was made on the best day of its window and
// left few weeds.
func (st stand) season(today engine.Day) (engine.Season, error) {
	weather := engine.Weather{Normals: valleyPlace().Normals}
	for planted := today - 1; planted > today-120; planted-- {
		s := engine.Season{Plot: st.plot, Tool: st.tool, Weather: weather, Since: planted}
		s.Plot.Planted = planted
		on := planted
		for range st.passes {
			p, err := s.Windows(on)
			if err != nil {
				return engine.Season{}, err
			}
			if !p.Next.Exists() {
				return engine.Season{}, fmt.Errorf("practice: a season has no room for %d passes", st.passes)
			}
			on = p.Next.Best
			s.Passes = append(s.Passes, engine.Pass{On: on, With: engine.ByTool, Way: engine.Along, Hours: st.hours, People: st.people(), Left: engine.Few})
		}
		if on > today {
			continue
		}
		p, err := s.Plan(today)
		if err != nil {
			return engine.Season{}, err
		}
		if st.at(s, p) {
			return s, nil
		}
	}
	return engine.Season{}, fmt.Errorf("practice: no planting date brings a plot to where it is to stand on %s", today)
}

// people are those who told the hours.
func (st stand) people() int {
	if st.hours == 0 {
		return 0
	}
	return 1
}

// deed is something that a grower of the valley did before practice began.
type deed struct {
	on    engine.Day
	phone store.Phone
	do    func(*store.Ledger) error
}

// history lists what the valley's growers did up to the first day of
// practice, in order of day: they registered each plot when it was planted,
// and logged their passes.
func history(today engine.Day) ([]deed, error) {
	var deeds []deed
	for _, v := range valley() {
		seasons := make([]engine.Season, len(v.plots))
		for i, st := range v.plots {
			s, err := st.season(today)
			if err != nil {
				return nil, fmt.Errorf("%w (%s)", err, v.name)
			}
			seasons[i] = s
		}
		// Plots are numbered as they are registered: oldest first.
		slices.SortStableFunc(seasons, func(a, b engine.Season) int { return int(a.Plot.Planted - b.Plot.Planted) })
		for i, s := range seasons {
			deeds = append(deeds, deed{s.Plot.Planted, v.phone, func(l *store.Ledger) error {
				if !l.Known() {
					if err := l.Consent("en", "practice", "ussd"); err != nil {
						return err
					}
				}
				_, err := l.AddPlot(s.Plot, s.Tool)
				return err
			}})
			for _, pass := range s.Passes {
				deeds = append(deeds, deed{pass.On, v.phone, func(l *store.Ledger) error { return l.LogPass(i+1, pass) }})
			}
		}
	}
	slices.SortStableFunc(deeds, func(a, b deed) int { return int(a.on - b.on) })
	return deeds, nil
}

// did writes a deed into the records.
func did(ctx context.Context, s *store.Store, d deed, now int64) error {
	return s.InTx(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(d.phone, now)
		if err != nil {
			return err
		}
		return d.do(l)
	})
}
