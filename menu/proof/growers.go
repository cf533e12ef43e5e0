package proof

import (
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/menu/notebook"
)

// grower is an invented grower. Many screens are the same for every grower. To save time, only one of the growers
// visits these screens: for the others, branch limits which choices of the home screen the walk follows.
type grower struct {
	*notebook.Book
	branch string // digits of the choices to follow on the home screen; "": all choices
}

func (g *grower) clone() *grower { return &grower{g.Book.Clone(), g.branch} }

// After Erase and Unlink the service does not know the phone number any more. The home screen then has other choices,
// so branch is cleared and all of them are followed.
func (g *grower) Erase() error  { g.branch = ""; return g.Book.Erase() }
func (g *grower) Unlink() error { g.branch = ""; return g.Book.Unlink() }

// longLabel is the longest name that a plot, a place or a currency can have. It is made of W, the widest letter.
var longLabel = strings.Repeat("W", 10)

// longPhone is as long as the longest telephone number of ITU-T E.164, which has 15 digits. It is nobody's.
var longPhone = "+" + strings.Repeat("0", 15)

// today is a Wednesday in November, because in most languages "Wednesday" and "November" are the longest names of a
// weekday and a month.
var today = engine.Date(2026, 11, 25)

// climate is the weather of every grower's place: lowest and highest temperature of each day in °C.
var climate = engine.Steady(21, 31)

// growers returns growers of every kind: unknown to the service, without a plot, with one plot in each state, with nine
// plots, with the longest values and with the shortest values.
func growers(lang string) []*grower {
	empty := stranger()
	empty.Registered, empty.Lang, empty.branch = true, lang, ""
	empty.PlaceNames = slices.Repeat([]string{longLabel}, menu.MaxPlaces)
	empty.Place = longLabel
	blocked := stranger()
	blocked.WrongCodes, blocked.branch = 4, "-"
	unheard := empty.clone()
	unheard.Unheard, unheard.branch = true, "-"
	all := []*grower{stranger(), empty, blocked, unheard}
	with := func(n int, s engine.Season) *grower {
		g := empty.clone()
		g.branch = "234"
		if n == menu.MaxPlots {
			g.branch = "1234"
		}
		for no := 1; no <= n; no++ {
			g.Seasons[no] = s
		}
		all = append(all, g)
		return g
	}
	for _, age := range []engine.Day{0, 13, 16, 21, 30, 44, 60} {
		s := lineSeason(age)
		with(1, s)
		if age == 21 {
			s.Passes = []engine.Pass{{On: today - 5, With: engine.ByTool}}
			with(1, s)
			with(menu.MaxPlots, s)
			s.Tool = engine.Tool{WidthCM: 22.5} // this tool is wider than the row spacing allows
			with(1, s)
		}
	}
	priced := lineSeason(16)
	priced.Local, priced.Home = pricedPlace(), engine.Household{Herbicide: 987_654_321}
	with(1, priced).Home = priced.Home
	with(5, season(engine.Plot{Label: longLabel, Method: engine.Broadcast, Planted: today - 41,
		AreaM2: engine.MaxAreaM2}))
	with(2, season(engine.Plot{Label: longLabel, Method: engine.RowSown, Planted: today - 20, RowSpacingCM: 22.5}))
	trial := with(2, weededSeason())
	trial.OpenTrial = &notebook.Trial{A: 1, B: 2, WayA: engine.ToolThenHand, WayB: engine.ToolBoth,
		BagsA: 12, BagsB: 12, Begun: today - 60}
	short := empty.clone()
	short.PlaceNames, short.Place = nil, ""
	short.Seasons[1] = season(engine.Plot{Method: engine.Transplanted, Planted: today - 16,
		RowSpacingCM: 20, HillSpacingCM: 20})
	stopped := trial.clone()
	stopped.NoTexts, stopped.branch = true, "6"
	return append(append(all, short, stopped), circleGrowers(empty)...)
}

// stranger returns a grower whose phone number is unknown to the service. The list of languages offers the languages of
// the usual place first.
func stranger() *grower {
	places := slices.Repeat([]string{longLabel}, menu.MaxPlaces)
	places[0] = menu.UsualPlace
	return &grower{&notebook.Book{Day: today, Climate: climate, Seasons: map[int]engine.Season{},
		PlaceNames: places, Place: menu.UsualPlace}, "1"}
}

func season(p engine.Plot) engine.Season {
	return engine.Season{Plot: p, Weather: climate, Since: today}
}

// lineSeason returns a plot that was planted in lines, age days ago. The plot has the largest area that the menu
// accepts, and the tool fits between its rows.
func lineSeason(age engine.Day) engine.Season {
	s := season(engine.Plot{Label: longLabel, Method: engine.Transplanted, Planted: today - age,
		RowSpacingCM: 22.5, HillSpacingCM: 22.5, AreaM2: engine.MaxAreaM2})
	s.Tool = engine.Tool{WidthCM: 17.5}
	return s
}

// weededSeason returns a plot whose passes and sightings have all details that a grower can give. Their list needs two
// pages.
func weededSeason() engine.Season {
	s := lineSeason(70)
	s.Plot.AreaM2 = 100
	for d := range engine.Day(4) {
		s.Passes = append(s.Passes, engine.Pass{On: today - 55 + 10*d, With: engine.ByTool,
			Hours: 499, People: 50, Left: engine.Some, Share: 0.75})
		s.Sightings = append(s.Sightings, engine.Sighting{On: today - 56 + 10*d, Leaves: engine.FourPlus,
			Amount: engine.Many, Rows: engine.RowsClosed, Water: engine.StandsFingers})
	}
	return s
}

// pricedPlace returns a place that has a price for every way of weeding. Each price has the greatest number of digits.
func pricedPlace() *engine.Local {
	l := engine.NewLocal()
	l.Prices = engine.Prices{Currency: strings.Repeat("W", engine.MaxCurrency), Tool: 98_765_432, InterestYear: 0.24,
		HireDay: 1_234_567, ServiceHa: 23_456_789, LabourDay: 1_234_567}
	return &l
}

// knownGrowers returns growers who can register one more plot. On the home screen they choose only to register a plot.
func knownGrowers(lang string) (known []*grower) {
	for _, g := range growers(lang) {
		if g.Registered && !g.Unheard && len(g.Seasons) < menu.MaxPlots {
			g.branch = "1"
			known = append(known, g)
		}
	}
	return known
}
