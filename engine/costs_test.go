package engine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// valley has all prices of an invented place.
var valley = Prices{
	Currency: "cr", Tool: 40, ToolSalvage: 4, ToolYears: 5, InterestYear: 0.15,
	HireDay: 2, ServiceHa: 60, LabourDay: 6, FamilyDay: 4, SeasonsYear: 1,
}

// hectareHours is the work on one hectare: a pass with the tool at 0.018 ha/h (C = S W E / 10 with S = 2 km/h, W = 0.15
// m and E = 0.6; ASAE EP496), and 200 h for a weeding by hand.
var hectareHours = WorkHours{ToolPassHours: 55.6, PullHours: 14.4, HandRoundHours: 200, Passes: 2, RoundsLow: 2,
	RoundsHigh: 2}

func (w WorkHours) onHa(ha float64) WorkHours {
	w.ToolPassHours *= ha
	w.PullHours *= ha
	w.HandRoundHours *= ha
	return w
}

func seasonAt(p Prices, home Household, ha float64) Season {
	local := NewLocal()
	local.Prices = p
	return Season{
		Plot: Plot{Method: Transplanted, Planted: Date(2026, 11, 3), RowSpacingCM: 25, HillSpacingCM: 25,
			AreaM2: 1e4 * ha},
		Local: &local, Home: home,
	}
}

//revive:disable-next-line:function-length one worked example, step by step
func TestCostsOfATenthOfAHectare(t *testing.T) {
	s := seasonAt(valley, Household{HoursADay: 8, Herbicide: 1.5}, 0.1)
	c := s.Costs(hectareHours.onHa(0.1))

	// A year of the tool costs 11.34 of capital recovery (price 40, salvage value 4, 5 years, 15 % interest) and 4.80
	// of repairs. A day of 8 h is worth 4, so the 14 h of the family with the tool are worth 7.00, its 40 h by hand
	// 20.00.
	const year = 11.34 + 4.80
	for _, x := range []struct {
		way                 Buying
		season, hours, cash float64
	}{
		{OwnTool, year + 7, 14, year},
		{SharedTool, year/5 + 7, 14, year / 5},
		{HiredTool, 4 + 7, 14, 4},           // a pass takes 5.56 h, so the tool is hired for one day in each pass
		{HiredService, 12 + 1.44, 2.88, 12}, // 60 a hectare x 0.1 ha x 2 passes = 12, and 1.44 for the family's pulling
		{HandFamily, 20, 40, 0},
		{HandPaid, 30, 40, 30},
		{HerbicideOption, 1.5, 0, 1.5},
	} {
		got := c.Of(x.way)
		if got.Way != x.way || !got.Known || !got.CashKnown {
			t.Errorf("%s: %+v", x.way, got)
		}
		wantNear(t, x.way.String()+" a season", got.Season, x.season, 0.005)
		wantNear(t, x.way.String()+" a hectare", got.PerHa, 10*x.season, 0.05)
		wantNear(t, x.way.String()+", hours", got.Hours, x.hours, 1e-9)
		wantNear(t, x.way.String()+", cash", got.Cash, x.cash, 0.005)
	}
	if c.Cheapest != HerbicideOption {
		t.Errorf("cheapest is %s", c.Cheapest)
	}
	if c.ToolPrice != 40 || c.SharePrice != 8 || c.Sharers != 5 || c.HireDays != 2 || c.FamilyDay != 4 || c.AtWage {
		t.Errorf("told beside: %+v", c)
	}

	// A year of the tool costs 16.14. A hectare costs 200 by hand, 70 with the own tool and 134.40 by a service. So
	// owning is cheaper above 16.14/(200 - 70) ha and above 16.14/(134.40 - 70) ha. Eight days of hire at 2 a day, four
	// for each of two passes, cost 16.00. So owning is cheaper than hiring if a pass takes more than four days of 8 h:
	// above (4 x 8 + 0.25) h / 55.6 h/ha, where 0.25 h is HireGraceHours.
	for _, x := range []struct {
		what string
		got  BreakEvenArea
		ha   float64
	}{
		{"own tool against hand", c.Own.Hand, year / 130},
		{"own tool against service", c.Own.Service, year / 64.4},
		{"own tool against hire", c.Own.Hire, 32.25 / 55.6},
		{"own tool against all", c.Own.All, 32.25 / 55.6},
		{"share against hand", c.Share.Hand, year / 5 / 130},
		{"share against service", c.Share.Service, year / 5 / 64.4},
		{"share against all", c.Share.All, year / 5 / 64.4},
	} {
		if x.got.When != FromArea {
			t.Errorf("%s: %s", x.what, x.got.When)
		}
		wantNear(t, x.what+", ha", x.got.LowHa, x.ha, 1e-4)
	}
	if c.Share.Hire.When != AnyArea {
		t.Errorf("a share of 3.23 a season against hire of 4: %s", c.Share.Hire.When)
	}

	// The tool saves work worth 20.00 - 7.00 = 13.00 a season; its repairs cost 4.80. One of five households pays 8 and
	// saves 13.00 - 4.80/5. The whole tool costs 40 and saves 8.20, so it pays back after -ln(1 - 0.15 x 40/8.20)/ln
	// 1.15 seasons, longer than the tool lasts.
	wantNear(t, "share pays back, seasons", c.SharePaysBack, 0.7512, 5e-4)
	if c.OwnPaysBack != 0 {
		t.Errorf("the whole tool pays back in %g seasons of the five that it lasts", c.OwnPaysBack)
	}
	big := seasonAt(valley, Household{HoursADay: 8}, 0.2)
	c = big.Costs(hectareHours.onHa(0.2))
	// On twice the area the tool saves 2 x 13.00 - 4.80 = 21.20 and pays back after -ln(1 - 0.15 x 40/21.2)/ln 1.15
	// seasons.
	wantNear(t, "tool pays back on twice the area, seasons", c.OwnPaysBack, 2.381, 5e-4)
	if c.Cheapest != SharedTool {
		t.Errorf("cheapest on 0.2 ha is %s", c.Cheapest)
	}
}

// The costs of labour are the wages for the published days: 6 to 8 person-days a hectare for a weeding with the tool
// (IRRI Rice Knowledge Bank, Mechanical weed control), and 25 days of 8 h for a weeding by hand, which takes 200 h a
// hectare (a comparison of cultivators in Sri Lanka: 0.005 ha/h).
func TestCostsCountDaysOfLabour(t *testing.T) {
	s := seasonAt(Prices{Tool: 1, ToolYears: 10, FamilyDay: 3, LabourDay: 5}, Household{HoursADay: 8}, 1)
	for _, x := range []struct{ hours, days float64 }{{48, 6}, {64, 8}} {
		c := s.Costs(WorkHours{ToolPassHours: x.hours, HandRoundHours: 200, Passes: 1, RoundsLow: 1,
			RoundsHigh: 1})
		own := c.Of(OwnTool)
		wantNear(t, "family days with the tool", (own.Season-own.Cash)/3, x.days, 1e-9)
		wantNear(t, "paid days by hand", c.Of(HandPaid).Cash/5, 25, 1e-9)
		if c.HireDays != int(x.days) {
			t.Errorf("%g h are %d days of hire", x.hours, c.HireDays)
		}
	}
}

//revive:disable-next-line:function-length a table of cases
func TestCostsSayOnlyWhatIsKnown(t *testing.T) {
	hours := hectareHours.onHa(0.1)
	all := []Buying{OwnTool, SharedTool, HiredTool, HiredService, HandFamily, HandPaid, HerbicideOption}
	for _, x := range []struct {
		why    string
		prices Prices
		home   Household
		ha     float64
		work   WorkHours
		method Method
		known  []Buying
		cash   []Buying // further ways, of which only the cash is known
		best   Buying
	}{
		{why: "no price at all: hours", ha: 0.1, work: hours, cash: []Buying{HandFamily}},
		{why: "a tool's price alone", prices: Prices{Tool: 40}, ha: 0.1, work: hours,
			cash: []Buying{OwnTool, SharedTool, HandFamily}},
		{why: "the household's own prices", home: Household{ToolPrice: 40, HireDay: 2, LabourDay: 6}, ha: 0.1,
			work: hours, known: []Buying{OwnTool, SharedTool, HiredTool, HandFamily, HandPaid}, best: SharedTool},
		{why: "what the family's day is worth alone: one way, nothing to compare", prices: Prices{FamilyDay: 4},
			ha: 0.1, work: hours, known: []Buying{HandFamily}},
		{why: "nobody to share with", prices: valley, home: Household{Neighbours: 1}, ha: 0.1, work: hours,
			known: []Buying{OwnTool, HiredTool, HiredService, HandFamily, HandPaid}, best: HiredTool},
		{why: "area not told", prices: valley, home: Household{Herbicide: 2}, work: hours,
			known: []Buying{HerbicideOption}},
		{why: "no rows for a tool", prices: valley, ha: 0.1, work: hours, method: Broadcast,
			known: []Buying{HandFamily, HandPaid}, best: HandFamily},
		{why: "work with the tool not known", prices: valley, ha: 0.1, work: WorkHours{HandRoundHours: 20,
			RoundsLow: 2, RoundsHigh: 2, PullHours: 3, Passes: 2}, known: []Buying{HandFamily, HandPaid},
			best: HandFamily},
		{why: "work by hand not known", prices: valley, ha: 0.1, work: WorkHours{ToolPassHours: 5, Passes: 2},
			known: []Buying{OwnTool, SharedTool, HiredTool, HiredService}, best: SharedTool},
		{why: "hours that are none", prices: valley, ha: 0.1, work: WorkHours{ToolPassHours: math.Inf(1),
			PullHours: math.NaN(), HandRoundHours: -3, Passes: 2, RoundsLow: 2, RoundsHigh: 2}},
		{why: "a service brings its people, and nothing is left to pull", prices: Prices{ServiceHa: 60}, ha: 0.1,
			work: WorkHours{ToolPassHours: 5, Passes: 2}, known: []Buying{HiredService}},
		{why: "everything", prices: valley, home: Household{Herbicide: 30}, ha: 0.1, work: hours, known: all,
			best: SharedTool},
	} {
		s := seasonAt(x.prices, x.home, x.ha)
		s.Plot.Method = or(x.method, Transplanted)
		c := s.Costs(x.work)
		known, paid := map[Buying]bool{}, map[Buying]bool{}
		for _, b := range x.known {
			known[b], paid[b] = true, true
		}
		for _, b := range x.cash {
			paid[b] = true
		}
		for _, b := range all {
			got := c.Of(b)
			if got.Way != b || got.Known != known[b] || got.CashKnown != paid[b] {
				t.Errorf("%s: %s: %+v", x.why, b, got)
			}
			if !got.Known && (got.Season != 0 || got.PerHa != 0) || !got.CashKnown && got.Cash != 0 {
				t.Errorf("%s: %s is not known and costs %+v", x.why, b, got)
			}
		}
		if c.Cheapest != x.best {
			t.Errorf("%s: cheapest is %s, want %s", x.why, c.Cheapest, x.best)
		}
	}
}

func TestCostsWithoutPricesTellHours(t *testing.T) {
	s := seasonAt(Prices{}, Household{}, 0.1)
	s.Local = nil
	c := s.Costs(hectareHours.onHa(0.1))
	wantNear(t, "hours with a tool", c.Of(OwnTool).Hours, 14, 1e-9)
	wantNear(t, "hours by hand", c.Of(HandFamily).Hours, 40, 1e-9)
	wantNear(t, "hours to pay for", c.Of(HandPaid).Hours, 40, 1e-9)
	if c.HireDays != 2 {
		t.Errorf("%d days of hire", c.HireDays)
	}
	if c.Own != (BreakEvenAreas{}) || c.Share != (BreakEvenAreas{}) || c.OwnPaysBack != 0 || c.SharePaysBack != 0 {
		t.Errorf("without prices it turns at %+v, %+v", c.Own, c.Share)
	}
}

// Without a wage, owning and hiring a tool can be compared, because the family does the same work.
func TestHireIsComparedWithoutAWage(t *testing.T) {
	s := seasonAt(Prices{Tool: 40, HireDay: 10}, Household{}, 0.1)
	c := s.Costs(hectareHours.onHa(0.1))
	if c.Of(OwnTool).Known || c.Own.Hire.When != AnyArea || c.Own.All != c.Own.Hire {
		t.Errorf("owning at 8.80 a season against 2 days of 10: %+v", c.Own)
	}
	if c.Own.Hand.When != AreaUnknown || c.Own.Service.When != AreaUnknown {
		t.Errorf("what is not known turns at %+v", c.Own)
	}

	// Without a value of the family's work, the cost of a service is known only if no weeds are left to pull. The cost
	// of the own tool is unknown, so the two cannot be compared.
	s = seasonAt(Prices{Tool: 40, ServiceHa: 60}, Household{}, 0.1)
	c = s.Costs(WorkHours{ToolPassHours: 5, Passes: 2})
	if !c.Of(HiredService).Known || c.Own != (BreakEvenAreas{}) {
		t.Errorf("service %+v, own %+v", c.Of(HiredService), c.Own)
	}
}

// With two crops a year, interest of 21 % a year is 10 % a season, and five years are ten seasons.
func TestPaybackCountsSeasons(t *testing.T) {
	p := Prices{Tool: 40, ToolYears: 5, InterestYear: 0.21, FamilyDay: 4, LabourDay: 4, SeasonsYear: 2}
	s := seasonAt(p, Household{HoursADay: 8, Neighbours: 2}, 0.1)
	// Computed by hand: an hour is worth 0.50. Repairs cost 2.40 a season, or 1.20 for each of two households. Each
	// case has the hours that the tool saves in a season, and after how many seasons an own tool (price 40) and a half
	// share (price 20) pay back; 0 = the tool wears out before.
	for _, x := range []struct{ saved, own, share float64 }{
		{22, 6.5649, 2.3949}, // saves 11.00: own -ln(1 - 4/8.60)/ln 1.1, share -ln(1 - 2/9.80)/ln 1.1
		{18, 9.7740, 3.1084}, // saves 9.00, less repairs 6.60 and 7.80: both within ten seasons
		{17, 0, 3.3592},      // saves 8.50: own (6.10) needs 11.2 seasons, too long; share 7.30
	} {
		c := s.Costs(WorkHours{ToolPassHours: 10, HandRoundHours: 10 + x.saved, Passes: 1, RoundsLow: 1,
			RoundsHigh: 1})
		wantNear(t, "seasons, own", c.OwnPaysBack, x.own, 5e-4)
		wantNear(t, "seasons, share", c.SharePaysBack, x.share, 5e-4)
	}
}

func TestAToolThatSavesNoWorkNeverPays(t *testing.T) {
	s := seasonAt(valley, Household{}, 0.1)
	c := s.Costs(WorkHours{ToolPassHours: 20, PullHours: 2, HandRoundHours: 20, Passes: 2, RoundsLow: 2,
		RoundsHigh: 2})
	if c.Own.Hand.When != NoArea || c.Share.Hand.When != NoArea || c.Own.All.When != NoArea {
		t.Errorf("own %+v, share %+v", c.Own, c.Share)
	}
	if c.OwnPaysBack != 0 || c.SharePaysBack != 0 {
		t.Errorf("it pays back in %g, %g seasons", c.OwnPaysBack, c.SharePaysBack)
	}
}

func TestHireIsByWholeDays(t *testing.T) {
	for _, x := range []struct {
		why   string
		home  Household
		hours float64
		days  int
	}{
		{"ten minutes are a day", Household{HoursADay: 8}, 1.0 / 6, 1},
		{"an hour is a day", Household{HoursADay: 8}, 1, 1},
		{"just a day", Household{HoursADay: 8}, 8, 1},
		{"a quarter of an hour over", Household{HoursADay: 8}, 8.25, 1},
		{"half an hour over", Household{HoursADay: 8}, 8.5, 2},
		{"nothing told", Household{}, 2 * DefaultHoursADay, 2},
		{"two take turns until dark", Household{HoursADay: 6, People: 2}, 20, 2},
		{"two short days make one", Household{HoursADay: 4, People: 2}, 8, 1},
		{"one from dawn to dusk", Household{HoursADay: 12}, 12, 1},
	} {
		s := seasonAt(valley, x.home, 0.1)
		if c := s.Costs(WorkHours{ToolPassHours: x.hours, Passes: 1}); c.HireDays != x.days {
			t.Errorf("%s: %d days for %g h, want %d", x.why, c.HireDays, x.hours, x.days)
		}
	}
}

func TestNoWayCostsNothing(t *testing.T) {
	var c Costs
	if c.Of(BuyingUnknown) != (Cost{}) || c.Of(HerbicideOption+1) != (Cost{}) {
		t.Error("a way that is none costs something")
	}
}

// Somebody who hires a tool at the price HireToAsk pays what the tool costs its owner.
func TestHireToAskAndCostsAgree(t *testing.T) {
	p := valley
	p.ToolSalvage = 0
	ask, ok := HireToAsk(p, p.ToolYears, 2)
	if !ok {
		t.Fatal("not told")
	}
	p.HireDay = ask
	s := seasonAt(p, Household{HoursADay: 8}, 0.1)
	c := s.Costs(hectareHours.onHa(0.1))
	wantNear(t, "hire of two days to the owner's season", c.Of(HiredTool).Cash, c.Of(OwnTool).Cash, 1e-9)
}

func TestCostsAllocateNothing(t *testing.T) {
	s := seasonAt(valley, Household{Herbicide: 2}, 0.1)
	w := hectareHours.onHa(0.1)
	var c Costs
	wantEqual(t, "allocations", testing.AllocsPerRun(100, func() { c = s.Costs(w) }), 0)
	if c.Cheapest == BuyingUnknown {
		t.Error("nothing was worked out")
	}
}

func TestWhatCostsRestOn(t *testing.T) {
	work := WorkHours{ToolPassHours: 5, HandRoundHours: 20, Passes: 2, RoundsLow: 2, RoundsHigh: 2}
	costs := func(p Prices, h Household, w WorkHours) Costs {
		at := NewLocal()
		at.Prices = p
		return Season{Plot: Plot{Method: Transplanted, RowSpacingCM: 25, AreaM2: 1000}, Local: &at, Home: h}.Costs(w)
	}
	for _, c := range []struct {
		prices Prices
		atWage bool
		best   Buying
	}{
		{Prices{}, false, BuyingUnknown},
		{Prices{LabourDay: 4}, true, HandFamily}, // both ways by hand cost the same, so the first is the cheapest
		{Prices{LabourDay: 4, FamilyDay: 2}, false, HandFamily},
	} {
		if got := costs(c.prices, Household{}, work); got.AtWage != c.atWage || got.Cheapest != c.best {
			t.Errorf("%+v: at the wage %t, cheapest %s", c.prices, got.AtWage, got.Cheapest)
		}
	}
	if got := costs(Prices{Tool: 40, LabourDay: 4}, Household{Neighbours: 1}, work); got.SharePrice != 0 ||
		got.Of(SharedTool).Known || got.Of(SharedTool).CashKnown || got.Share != (BreakEvenAreas{}) ||
		got.SharePaysBack != 0 || got.OwnPaysBack == 0 {
		t.Errorf("one household shares: %+v", got.Of(SharedTool))
	}
	noArea := Season{Plot: Plot{Method: Transplanted, RowSpacingCM: 25}, Home: Household{Herbicide: 2}}.Costs(work)
	if got := noArea.Of(HerbicideOption); got.Season != 2 || got.PerHa != 0 {
		t.Errorf("herbicide on a plot of unknown area: %+v", got)
	}
	if got := costs(Prices{HireDay: 1}, Household{}, WorkHours{PullHours: 3, Passes: 2}); got.HireDays != 0 {
		t.Errorf("%d days of hire for work that is not known", got.HireDays)
	}
}

// Computed by hand on one hectare, at 5.00 an hour of everybody: two rounds by hand take 400 h, three 600 h; two passes
// take 110 h and 30 h of pulling.
func TestBothNumbersOfHandRoundsAreTold(t *testing.T) {
	s := seasonAt(Prices{Tool: 100, ToolYears: 1, FamilyDay: 40, LabourDay: 40}, Household{HoursADay: 8}, 1)
	w := WorkHours{ToolPassHours: 55, PullHours: 15, HandRoundHours: 200, Passes: 2, RoundsLow: 2, RoundsHigh: 3}
	c := s.Costs(w)
	for _, b := range []Buying{HandFamily, HandPaid} {
		hand := c.Of(b)
		wantNear(t, "two rounds", hand.LowSeason, 2000, 1e-9)
		wantNear(t, "three rounds", hand.HighSeason, 3000, 1e-9)
		wantNear(t, "the middle", hand.Season, 2500, 1e-9)
	}
	own := c.Of(OwnTool)
	wantEqual(t, "range of the own tool", own.HighSeason-own.LowSeason, 0)
	// A season of the tool costs 112: its price and repairs. It saves 1300 or 2300 a hectare.
	wantEqual(t, "the own tool turns", c.Own.Hand.When, FromArea)
	wantNear(t, "with three rounds, ha", c.Own.Hand.LowHa, 112.0/2300, 1e-9)
	wantNear(t, "with two rounds, ha", c.Own.Hand.HighHa, 112.0/1300, 1e-9)
	// With hours that scatter, the range is wider.
	w.Pace, w.HandPace = paceOf(ByTool), paceOf(ByHand)
	if wide := s.Costs(w).Own.Hand; wide.When != FromArea || wide.LowHa >= c.Own.Hand.LowHa ||
		wide.HighHa <= c.Own.Hand.HighHa {
		t.Errorf("%+v, with exact hours %+v", wide, c.Own.Hand)
	}
}

func TestWhetherAToolPays(t *testing.T) {
	w := WorkHours{ToolPassHours: 55, PullHours: 15, HandRoundHours: 200, Passes: 2, RoundsLow: 2, RoundsHigh: 3}
	noService := valley
	noService.ServiceHa = 0
	for _, c := range []struct {
		why     string
		prices  Prices
		home    Household
		ha      float64
		worth   Worth
		without Buying
	}{
		{"a hectare", valley, Household{HoursADay: 8}, 1, Pays, SharedTool},
		{"a garden: hire it", noService, Household{HoursADay: 8, Neighbours: 1}, 0.03, PaysNot, HiredTool},
		{"a garden: share it", noService, Household{HoursADay: 8, Neighbours: 8}, 0.03, PaysNot, SharedTool},
		{"a garden and dear hire: by hand", Prices{Tool: 400, HireDay: 20, LabourDay: 6},
			Household{HoursADay: 8, Neighbours: 1}, 0.03, PaysNot, HandFamily},
		{"cheap labour on a hectare", Prices{Tool: 400, LabourDay: 0.5}, Household{HoursADay: 8, Neighbours: 1}, 1,
			PaysNot, HandFamily},
		{"no wage", Prices{Tool: 40, HireDay: 2}, Household{}, 1, WorthUnknown, BuyingUnknown},
		{"no tool", Prices{LabourDay: 2}, Household{}, 1, WorthUnknown, BuyingUnknown},
		// Two rounds by hand cost 19.20, the passes 6.72, and the season of a tool 14.40: with two rounds it pays from
		// 0.120 ha, with three from 0.065 ha.
		{"it depends on the rounds", Prices{Tool: 72, ToolYears: 10, LabourDay: 3.84},
			Household{HoursADay: 8, Neighbours: 1}, 0.1, PaysPerhaps, HandFamily},
	} {
		s := seasonAt(c.prices, c.home, c.ha)
		got := s.Costs(w.onHa(c.ha))
		if got.OwnWorth != c.worth || got.WithoutOwn != c.without {
			t.Errorf("%s: pays %s, without %s, want %s, %s; %+v", c.why, got.OwnWorth, got.WithoutOwn, c.worth,
				c.without, got.Own)
		}
	}
}

// Three tools cost three times the price, and are hired for fewer days.
func TestCostsOfSeveralTools(t *testing.T) {
	home := Household{HoursADay: 8, People: 9}
	s := seasonAt(valley, home, 3)
	one := s.Costs(hectareHours.onHa(3))
	s.Home.Tools = 3
	three := s.Costs(hectareHours.onHa(3))
	wantNear(t, "cash for three tools", three.Of(OwnTool).Cash, 3*one.Of(OwnTool).Cash, 1e-9)
	wantNear(t, "a share of three tools", three.SharePrice, 3*one.SharePrice, 1e-9)
	// A pass takes 166.8 h: one tool is pushed 10 h a day on 17 days, three tools on 6.
	if one.HireDays != 2*17 || three.HireDays != 2*6 {
		t.Errorf("one tool is hired for %d days, three for %d", one.HireDays, three.HireDays)
	}
	wantNear(t, "cash for three hired tools", three.Of(HiredTool).Cash, 2*6*3*2, 1e-9)
	wantNear(t, "area from which three tools pay", three.Own.Hand.LowHa, 3*one.Own.Hand.LowHa, 1e-9)
}

func TestMoreScatterNeverMakesABreakEvenSurer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, h, w := drawCosts(t)
		w.RoundsHigh += float64(rapid.IntRange(0, 2).Draw(t, "more rounds"))
		s := seasonAt(p, h, rapid.Float64Range(0.01, 5).Draw(t, "ha"))
		sure := s.Costs(w.onHa(s.Plot.AreaM2 / 1e4))
		w.Pace, w.HandPace = paceOf(ByTool), paceOf(ByHand)
		wide := s.Costs(w.onHa(s.Plot.AreaM2 / 1e4))
		for _, x := range [][2]BreakEvenArea{{sure.Own.Hand, wide.Own.Hand}, {sure.Own.Hire, wide.Own.Hire},
			{sure.Own.Service, wide.Own.Service}, {sure.Own.All, wide.Own.All}} {
			a, b := x[0], x[1]
			if a.When == FromArea && (b.When == NoArea || b.LowHa > a.LowHa*(1+1e-9) ||
				b.When == FromArea && b.HighHa < a.HighHa*(1-1e-9)) || b.When == FromArea && b.HighHa < b.LowHa {
				t.Fatalf("%+v, with scatter %+v", a, b)
			}
		}
		if wide.OwnWorth == Pays && sure.OwnWorth != Pays || wide.OwnWorth == PaysNot && sure.OwnWorth != PaysNot {
			t.Fatalf("it pays: %s, with scatter: %s", sure.OwnWorth, wide.OwnWorth)
		}
	})
}
