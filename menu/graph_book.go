package menu

import "rowbell/engine"

// sampleBooks are invented growers whose screens read as most growers' do, the
// commonest first.
func sampleBooks(lang string) []*notebook {
	today := engine.Date(2026, 7, 15)
	weather := engine.Steady(22, 31)
	local := engine.NewLocal()
	local.Prices = engine.Prices{Tool: 2400, InterestYear: 0.24, HireDay: 60, LabourDay: 400}
	lines := engine.Season{Weather: weather, Since: today, Local: &local, Tool: engine.Tool{WidthCM: 15},
		Plot: engine.Plot{Method: engine.Transplanted, Planted: today - 16, RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 600}}
	book := func(seasons ...engine.Season) *notebook {
		b := &notebook{today: today, weather: weather, known: true, lang: lang, plots: map[int]engine.Season{}, places: []string{usualPlace, "Upland"}, place: usualPlace}
		for i, s := range seasons {
			b.plots[i+1] = s
		}
		return b
	}
	weeded := lines
	weeded.Plot.Planted = today - 30
	weeded.Passes = []engine.Pass{{On: today - 14, With: engine.ByTool, Hours: 5, People: 1, Left: engine.Few}}
	scattered := engine.Season{Weather: weather, Since: today, Plot: engine.Plot{Method: engine.Broadcast, Planted: today - 20, AreaM2: 600}}

	trial := book(weeded, weeded)
	trial.trial = &trialNote{a: 1, b: 2, wayA: engine.ToolThenHand, wayB: engine.HandOnly, bagsA: 12, bagsB: 11, begun: today - 14}
	stranger := book()
	stranger.known, stranger.lang = false, ""
	stopped := book(lines)
	stopped.stopped = true
	// Where money has many digits a comparison takes all its pages.
	dear, prices := lines, engine.NewLocal()
	prices.Prices = engine.Prices{Currency: "Coin", Tool: 24_000_000, InterestYear: 0.24, HireDay: 600_000, ServiceHa: 9_000_000, LabourDay: 4_000_000}
	dear.Local, dear.Home.Herbicide = &prices, 3_000_000
	return []*notebook{book(lines), book(weeded, lines), book(lines, lines), book(), stranger, book(scattered, scattered), trial, stopped, book(dear)}
}
