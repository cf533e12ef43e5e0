package menu

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/menu/text"
)

// somePrices returns the prices of an invented place.
func somePrices() *engine.Local {
	l := engine.NewLocal()
	l.Prices = engine.Prices{Currency: "Tk", Tool: 3000, ToolSalvage: 300, InterestYear: 0.12, HireDay: 150,
		ServiceHa: 9000, LabourDay: 500, SeasonsYear: 2}
	return &l
}

// moneyPhone returns a phone on the screen "work and cost" of a plot of 4000 m2. The plot has equal row and hill
// spacing and was planted a week ago.
func moneyPhone(t testing.TB, local *engine.Local, edit func(*engine.Season)) *phone {
	t.Helper()
	b := knownBook()
	s := engine.Season{Plot: engine.Plot{Label: "Upper", Method: engine.Transplanted, Planted: b.Day - 7,
		RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 4000},
		Tool: engine.Tool{WidthCM: 15}, Weather: b.Climate, Local: local, Since: b.Day - 7}
	if edit != nil {
		edit(&s)
	}
	b.Home = s.Home
	b.Seasons[1] = s
	p := caller(t, b).enter("2", "5")
	p.wants("cheapest way", "share or hire a tool")
	return p
}

// engineCosts returns the costs that the engine calculates for the plot.
func (p *phone) engineCosts() engine.Costs { return must(p.b.Seasons[1].Full(p.b.Day)).Costs }

func TestCheapestFirst(t *testing.T) {
	p := moneyPhone(t, somePrices(), func(s *engine.Season) { s.Home.Herbicide = 40_000 })
	p.plays("4 => Upper: one season costs about\n |  Tk\n | \n9 more 0 back")
	first := strings.Split(p.last.Text, "\n")[1]
	costs := p.engineCosts()
	way := must(p.m.cat.Text("en", text.Key("costs.way."+wayKeys[costs.Cheapest]),
		text.Args{"households": engine.DefaultSharers}))
	if line := way + " " + estimatedEN(costs.Of(costs.Cheapest).Season) + " Tk"; first != line {
		t.Fatalf("first is %q, want %q", first, line)
	}
	p.lacks("herbicide")
	p.plays("9 => herbicide 40000 Tk | By hand means 2-3 times a season. | "+
		"Own tool is cheaper than hand or hire from about 0.57 ha, perhaps from 240 m2. | \n9 more", "9 => "+
		"Your own tool may pay on this plot. It depends on your hours. | "+
		"Your own work is counted as 500 Tk a day. | \n1 prices\n")
	p.plays("0 => by hand, paid", "0 => tool shared by 5  | 9 more", "0 => cheapest way")
}

// TestToolThatDoesNotPay checks that the screen says first that an own tool does not pay, and what is better.
func TestToolThatDoesNotPay(t *testing.T) {
	p := moneyPhone(t, somePrices(), func(s *engine.Season) { s.Plot.AreaM2 = 100 })
	p.plays("4 => With these prices your own tool does not pay here. Better: worker with tool. | worker with tool")
	if costs := p.engineCosts(); costs.OwnWorth != engine.PaysNot {
		t.Errorf("the engine says %s", costs.OwnWorth)
	}
}

// rangeEN writes a range of estimated amounts as the English texts do.
func rangeEN(low, high float64) string {
	if a, b := estimatedEN(low), estimatedEN(high); a != b {
		return a + "-" + b
	}
	return estimatedEN(low)
}

// TestWaysInOrder checks for random prices that all ways of weeding with a known cost are listed, the cheapest first.
func TestWaysInOrder(t *testing.T) {
	m := newMenu()
	rapid.Check(t, func(t *rapid.T) {
		price := func(name string, most float64) float64 {
			if !rapid.Bool().Draw(t, name+" told") {
				return 0
			}
			return written(rapid.Float64Range(0.01, most).Draw(t, name)).Value
		}
		l := engine.NewLocal()
		l.Prices = engine.Prices{Currency: "WWWW", Tool: price("tool", engine.MaxPrice), HireDay: price("hire", 1e5),
			ServiceHa: price("service", 1e6), LabourDay: price("wage", engine.MaxPrice),
			FamilyDay:    price("family", engine.MaxPrice),
			InterestYear: rapid.SampledFrom([]float64{0, 0.2}).Draw(t, "interest")}
		b := knownBook()
		b.Seasons[1] = engine.Season{Plot: engine.Plot{Label: longLabel, Method: engine.Transplanted,
			Planted: b.Day - 20, RowSpacingCM: 25, AreaM2: rapid.Float64Range(1, engine.MaxAreaM2).Draw(t, "area")},
			Weather: b.Climate, Local: &l, Home: engine.Household{Herbicide: price("herbicide", engine.MaxPrice)}}
		f := must(b.Seasons[1].Full(b.Day))
		known := 0
		for _, c := range f.Costs.All {
			if c.Known {
				known++
			}
		}
		ways := byPrice(f.Costs)
		if len(ways) != known {
			t.Fatalf("%d ways, %d known", len(ways), known)
		}
		for i := 1; i < len(ways); i++ {
			if ways[i].Season < ways[i-1].Season {
				t.Fatalf("%v before %v", ways[i-1], ways[i])
			}
		}
		if known > 1 && ways[0].Way != f.Costs.Cheapest {
			t.Fatalf("%v leads, the engine's cheapest is %v", ways[0].Way, f.Costs.Cheapest)
		}
		c := m.scene(b, USSD, &session{Lang: "en", Screen: "costs", Answers: map[Field]string{fPlot: "1"}})
		pages := c.pages(nil)
		shown := strings.Split(strings.Join(pages, "\n"), "\n")
		for _, way := range ways {
			line, err := m.cat.Text("en", text.Key("costs.way."+wayKeys[way.Way]),
				text.Args{"households": engine.DefaultSharers})
			if err != nil || !slices.Contains(shown, line+" "+rangeEN(way.LowSeason, way.HighSeason)+" WWWW") {
				t.Fatalf("%s is not in %q", line, pages)
			}
		}
		for _, page := range pages {
			if c.err != nil || !text.FitsUSSD(page) {
				t.Fatalf("%d octets, %v:\n%s", text.USSDOctets(page), c.err, page)
			}
		}
	})
}

func TestMissingPricesAreAskedFor(t *testing.T) {
	p := moneyPhone(t, nil, nil)
	p.plays("4 => Upper: tell a day's wage and the price of a tool | 1 tell a day's wage | 2 prices")
	p.plays("1 => What is a day's wage")
	p.plays("1,234,56 => 1,234,56? Type only the number, like 1200. | What is a day's wage")
	p.plays("9 => Noted: a day's wage, 9.")
	p.plays("1 => by hand, family | by hand, paid | tell a new tool")
	p.lacks("own tool", "cheaper than", "next\n2 tell a day's wage")
	if costs := p.engineCosts(); !costs.AtWage || p.b.Home.LabourDay != 9 {
		t.Fatalf("%+v of %+v", costs, p.b.Home)
	}
}

// TestTellAndForgetPrices checks that a household's own price is used instead of the place's price, and that the own
// price can be deleted.
func TestTellAndForgetPrices(t *testing.T) {
	for i, k := range priceKinds {
		t.Run(k.name, func(t *testing.T) {
			p := moneyPhone(t, somePrices(), nil)
			place := p.b.Seasons[1].Local.Prices
			p.enter("5", "3")
			p.wants("in Tk?", "a new tool: 3000", "tool for a day: 150", "a day's wage: 500", "herbicide: ?")
			p.enter(string(digit(i+1)), "Tk 1,240.50").wants("Noted: ", ", 1240.5 Tk.")
			kept := func() float64 { s := p.b.Seasons[1]; return *k.home(&s.Home) }
			if got := kept(); got != 1240.5 {
				t.Fatalf("kept %g", got)
			}
			p.plays("2 => : 1240.5\n")
			p.enter(string(digit(i+1))).wants("You told: ", ", 1240.5 Tk.")
			p.enter("2")
			if got := kept(); got != 0 {
				t.Fatalf("kept %g", got)
			}
			p.wants("Forgotten")
			if usual := k.place(place); usual > 0 {
				p.wants(writtenEN(usual) + " Tk")
			}
			p.enter("2", string(digit(i+1)), "700", "2", string(digit(i+1)), "1", "800").wants(": ", ", 800 Tk.")
			p.enter("2", string(digit(i+1)), "1", "2000000000").wants("2000000000 is too much: at most 1000000000.")
		})
	}
}

func TestHerbicideNamesNoDose(t *testing.T) {
	p := moneyPhone(t, somePrices(), nil).enter("5", "3", "4")
	p.wants("price the seller told", "Follow the label, ask a licensed adviser.")
}

// TestBroadcastHasNoTool checks that for scattered rice only weeding by hand and herbicide are compared, because no
// tool can weed scattered rice.
func TestBroadcastHasNoTool(t *testing.T) {
	scatter := func(s *engine.Season) {
		s.Plot.Method, s.Plot.RowSpacingCM, s.Plot.HillSpacingCM, s.Tool = engine.Broadcast, 0, 0, engine.Tool{}
	}
	p := moneyPhone(t, somePrices(), scatter)
	p.plays("4 => by hand, family | by hand, paid")
	p.lacks("tool")
	p.enter("0", "5", "1", "5").wants("5 families: each pays 600 Tk.", "no tool can go on Upper")
	bare := moneyPhone(t, nil, scatter)
	bare.plays("4 => Upper: tell a day's wage, then | 1 tell a day's wage")
	bare.lacks("tool")
}

func TestAreaNotTold(t *testing.T) {
	p := moneyPhone(t, somePrices(), func(s *engine.Season) { s.Plot.AreaM2 = 0 })
	p.plays("4 => Tell the size of the plot first.")
	p.enter("0", "5", "1", "3").wants("3 families: each pays 1000 Tk.", "Tell the size of Upper", "1 size")
	p.lacks("cheapest way", "season each")
}

func TestShareATool(t *testing.T) {
	p := moneyPhone(t, somePrices(), nil).enter("5", "1")
	p.wants("Tool: 3000 Tk.", "How many families", "2 to 50")
	p.plays("1 => Not 1: type a number, 2 to 50.")
	p.enter("4")
	costs := p.engineCosts()
	if p.b.Home.Neighbours != 4 || costs.Sharers != 4 || costs.SharePaysBack == 0 {
		t.Fatalf("%+v", costs)
	}
	p.wants("4 families: each pays 750 Tk.",
		"each pays about "+estimatedEN(costs.Of(engine.SharedTool).Cash)+" Tk a season",
		"After about 1 season it costs less than hand weeding.")
	dear := moneyPhone(t, somePrices(), func(s *engine.Season) { s.Plot.AreaM2, s.Home.ToolPrice = 20, 900_000 })
	dear.enter("5", "1", "2").wants("2 families: each pays 450000 Tk.",
		"On Upper alone it costs more than hand weeding")
	l := somePrices()
	l.Prices.LabourDay = 0
	poor := moneyPhone(t, l, nil).enter("5", "1", "2")
	poor.wants("Tell a day's wage to see", "1 a day's wage", "2 cheapest way")
}

func TestToolPriceIsAskedForFirst(t *testing.T) {
	for _, c := range []struct{ choice, then string }{{"1", "How many families"}, {"2", "In how many seasons"}} {
		p := moneyPhone(t, nil, nil).enter("5", c.choice)
		p.wants("What does a new tool cost here?")
		p.plays("none => none? Type only the number", "0000 => 0000? Type only the number")
		p.enter("45").wants("Tool: 45.", c.then)
		if p.b.Home.ToolPrice != 45 {
			t.Fatalf("kept %g", p.b.Home.ToolPrice)
		}
	}
}

// TestAskForADay checks how much to charge for a day of hire, without interest. The charge is the price of the tool
// divided by its seasons, plus repairs of 12 % of the price a year (IS 9164:1979), all divided by the days of hire in a
// season. The expected charge for 20 days is (3000/5 + 360)/20.
func TestAskForADay(t *testing.T) {
	l := somePrices()
	l.Prices.InterestYear, l.Prices.SeasonsYear = 0, 1
	p := moneyPhone(t, l, nil).enter("5", "2")
	p.wants("In how many seasons", "1 to 10")
	p.plays("11 => Not 11: type a number, 1 to 10.")
	p.enter("5", "20").wants("Ask about 48 Tk a day.",
		"With 20 days of hire a season, 5 seasons pay for the tool and repairs.")
	p.lacks("interest")
	// If the tool is paid back in one season with 200 days of hire, the charge is (3000 + 360)/200 = 16.8.
	p.enter("1", "1", "200").wants("Ask about 17 Tk a day.", "1 season pays for the tool and repairs.")
	with := moneyPhone(t, somePrices(), nil).enter("5", "2", "5", "20")
	own := somePrices().Prices.For(engine.Household{})
	ask, ok := engine.HireToAsk(own, 5, 20)
	if !ok {
		t.Fatal("no hire to ask")
	}
	with.wants("Ask about "+estimatedEN(ask)+" Tk a day.", "5 seasons pay for the tool, repairs and interest.")
}

// TestPriceForgottenMeanwhile checks a price that is deleted, on another channel, while the dialogue asks for the days
// of hire. The menu must ask for the price, and must not fail.
func TestPriceForgottenMeanwhile(t *testing.T) {
	p := moneyPhone(t, nil, nil).enter("5", "2", "900", "4")
	p.b.Home.ToolPrice = 0
	must(0, p.b.SetHousehold(p.b.Home))
	p.plays("12 => Tell the price of a tool first.")
}

// TestRoughArea checks that an area below a tenth of a hectare is written in m2.
func TestRoughArea(t *testing.T) {
	c := newMenu().scene(knownBook(), USSD, &session{Lang: "en"})
	for ha, want := range map[float64]string{0.4321: "0.43 ha", 0.1: "0.1 ha", 2.56: "2.6 ha", 123: "120 ha",
		0.0432: "430 m2", 0.000001: "1 m2", 0.09999: "1000 m2"} {
		if got := c.roughArea(ha); got != want {
			t.Errorf("%g: %s, want %s", ha, got, want)
		}
	}
}

// TestTurningSentence checks that the sentence about the break-even area names the ways of weeding that it compares,
// and that the sentence is left out if no such area is known.
func TestTurningSentence(t *testing.T) {
	c := newMenu().scene(knownBook(), USSD, &session{Lang: "en"})
	from, always, never := engine.BreakEvenArea{When: engine.FromArea, LowHa: 0.4, HighHa: 0.404},
		engine.BreakEvenArea{When: engine.AnyArea}, engine.BreakEvenArea{When: engine.NoArea}
	wide := engine.BreakEvenArea{When: engine.FromArea, LowHa: 0.09, HighHa: 0.12}
	perhaps := engine.BreakEvenArea{When: engine.PerhapsArea, LowHa: 0.4}
	for _, tt := range []struct {
		own  engine.BreakEvenAreas
		want string
	}{
		{engine.BreakEvenAreas{}, ""},
		{engine.BreakEvenAreas{Hand: from, All: from}, "Own tool is cheaper than hand weeding from about 0.4 ha."},
		{engine.BreakEvenAreas{Hand: wide, All: wide},
			"Own tool is cheaper than hand weeding from about 0.12 ha, perhaps from 900 m2."},
		{engine.BreakEvenAreas{Hand: perhaps, All: perhaps},
			"Own tool may be cheaper than hand weeding from about 0.4 ha: it depends on your hours."},
		{engine.BreakEvenAreas{Hire: always, All: always}, "Own tool is cheaper than hire on any area."},
		{engine.BreakEvenAreas{Hand: from, Service: never, All: never},
			"Own tool is not cheaper than hand or hire here."},
	} {
		if got := c.breakEven(tt.own); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.own, got, tt.want)
		}
	}
}
