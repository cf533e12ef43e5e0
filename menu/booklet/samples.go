package booklet

import (
	"rowbell/engine"
	"rowbell/menu/notebook"
)

// samples returns invented growers, the commonest kind first. For each screen, the booklet shows the page of the first
// grower in this list who reaches the screen. Together the growers reach every screen.
func samples(lang string) []*notebook.Book {
	today := engine.Date(2026, 11, 20) // on this day every date that the sample entries contain is accepted
	weather := engine.Steady(22, 31)
	local := engine.NewLocal()
	local.Prices = engine.Prices{Tool: 2400, InterestYear: 0.24, HireDay: 60, LabourDay: 400}
	lines := engine.Season{Weather: weather, Since: today, Local: &local, Tool: engine.Tool{WidthCM: 15},
		Plot: engine.Plot{Method: engine.Transplanted, Planted: today - 16,
			RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 600}}
	book := func(seasons ...engine.Season) *notebook.Book {
		b := &notebook.Book{Day: today, Climate: weather, Registered: true, Lang: lang,
			Seasons: map[int]engine.Season{}, PlaceNames: []string{"default", "Upland"}, Place: "default"}
		for i, s := range seasons {
			b.Seasons[i+1] = s
		}
		return b
	}
	weeded := lines
	weeded.Plot.Planted = today - 30
	weeded.Passes = []engine.Pass{{On: today - 14, With: engine.ByTool, Hours: 5, People: 1, Left: engine.Few}}
	weeded.Sightings = []engine.Sighting{{On: today - 15, Leaves: engine.TwoThree, Amount: engine.Some}}
	closing := weeded // the crop may soon close the rows of this plot
	closing.Plot.Planted = today - 45
	unmeasured := lines
	unmeasured.Plot.AreaM2 = 0
	scattered := engine.Season{Weather: weather, Since: today,
		Plot: engine.Plot{Method: engine.Broadcast, Planted: today - 20, AreaM2: 600}}
	sown := lines
	sown.Plot.Method, sown.Plot.HillSpacingCM = engine.RowSown, 0

	trial := book(weeded, weeded)
	trial.OpenTrial = &notebook.Trial{A: 1, B: 2, WayA: engine.ToolThenHand, WayB: engine.HandOnly,
		BagsA: 12, BagsB: 11, Begun: today - 14}
	harvested := book() // a grower without plots whose comparison of two plots is still running
	harvested.OpenTrial = trial.OpenTrial
	stranger := book()
	stranger.Registered, stranger.Lang = false, ""
	blocked := book()
	blocked.Registered, blocked.Lang, blocked.WrongCodes = false, "", 4
	unheard := book(lines)
	unheard.Unheard = true
	stopped := book(lines)
	stopped.NoTexts = true
	// Prices with many digits make a comparison so long that it needs all its pages.
	dear, prices := lines, engine.NewLocal()
	prices.Prices = engine.Prices{Currency: "Coin", Tool: 24_000_000, InterestYear: 0.24, HireDay: 600_000,
		ServiceHa: 9_000_000, LabourDay: 4_000_000}
	dear.Local, dear.Home.Herbicide = &prices, 3_000_000
	return append([]*notebook.Book{book(lines), book(weeded, lines), book(lines, lines), book(), stranger, blocked,
		unheard, book(scattered, scattered), book(sown), trial, harvested, stopped, book(dear), book(closing),
		book(unmeasured)}, circleSamples(book, lines)...)
}
