package engine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestCapitalRecoveryAgainstTables(t *testing.T) {
	for _, x := range []struct {
		source    string
		i, within float64
		factors   map[float64]float64 // by years
	}{
		{"the usual 10 % column of factor tables, recalled and computed", 0.10, 5e-5,
			map[float64]float64{1: 1.1000, 2: 0.5762, 3: 0.4021, 4: 0.3155, 5: 0.2638, 8: 0.1874, 10: 0.1627}},
		{"discrete cash flow tables, https://vdocuments.us/discrete-cash-flow.html", 0.01, 5e-6,
			map[float64]float64{1: 1.01000, 2: 0.50751, 3: 0.34002}},
		{"interest tables, https://www.scribd.com/document/850893116/table", 0.35, 5e-5,
			map[float64]float64{5: 0.4505, 10: 0.3683}},
		{"the factor in Iowa State University A3-29's tractor, computed", 0.05, 5e-6,
			map[float64]float64{15: 0.09634}},
	} {
		for n, want := range x.factors {
			wantNear(t, "CRF(%g, %g) by %s", CapitalRecovery(x.i, n), want, x.within, x.i, n, x.source)
		}
	}
}

func TestCapitalRecoveryAtItsEdges(t *testing.T) {
	for _, x := range []struct {
		why        string
		i, n, want float64
	}{
		{"no interest", 0, 10, 0.1},
		{"the smallest rate there is", math.SmallestNonzeroFloat64, 2.5, 0.4},
		{"a rate below a double's digits", 1e-17, 3, 1.0 / 3},
		{"for ever: interest alone", 0.1, math.Inf(1), 0.1},
		{"no years", 0.1, 0, 0},
		{"fewer than no years", 0.1, -1, 0},
		{"no years told", 0.1, math.NaN(), 0},
		{"all is lost in a period", -1, 5, 0},
		{"no rate", math.NaN(), 5, 0},
		{"prices that rise faster than interest", -0.5, 1, 0.5},
	} {
		if got := CapitalRecovery(x.i, x.n); !(math.Abs(got-x.want) <= 1e-15) {
			t.Errorf("%s: CRF(%g, %g) is %g, want %g", x.why, x.i, x.n, got, x.want)
		}
	}
}

// For small interest rates, CRF is close to the first terms of its series: 1/n (1 + i (n+1)/2 + ...).
func TestCapitalRecoveryTendsToEqualShares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(0.2, 60).Draw(t, "n")
		i := math.Pow(10, rapid.Float64Range(-300, -3).Draw(t, "log10 of i"))
		got := CapitalRecovery(i, n) * n
		if series := 1 + i*(n+1)/2; !(math.Abs(got-series) <= 1e-14+i*i*(1+n*n)) {
			t.Fatalf("n CRF(%g, %g) is %.17g, the series says %.17g", i, n, got, series)
		}
	})
}

func TestCapitalRecoveryRisesWithInterestAndFallsWithYears(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.Float64Range(0, MaxInterest).Draw(t, "i")
		n := rapid.Float64Range(0.2, MaxToolYears).Draw(t, "n")
		more := rapid.Float64Range(1e-3, 1).Draw(t, "more")
		c := CapitalRecovery(i, n)
		// The factor rises with the interest rate and falls with the years. If i n is 10 or more, more years may not
		// change it in a float64.
		if up := CapitalRecovery(i+more, n); !(up > c) {
			t.Fatalf("CRF(%g, %g) = %g is not above CRF(%g) = %g", i+more, n, up, i, c)
		}
		if down := CapitalRecovery(i, n+more); !(down <= c) || i*n < 10 && !(down < c) {
			t.Fatalf("CRF(%g, %g) = %g is not below that of %g years, %g", i, n+more, down, n, c)
		}
		if c*(1+1e-14) < max(i, 1/n) {
			t.Fatalf("CRF(%g, %g) = %g pays neither the interest nor an equal share", i, n, c)
		}
	})
}

func TestCapitalRecoveryPaysTheDebtOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.Float64Range(0, 1).Draw(t, "i")
		n := rapid.IntRange(1, 30).Draw(t, "n")
		owed, grown := 1.0, 1.0
		for range n {
			owed = owed*(1+i) - CapitalRecovery(i, float64(n))
			grown *= 1 + i
		}
		if math.Abs(owed) > 1e-13*grown {
			t.Fatalf("after %d payments at %g, %g is still owed", n, i, owed)
		}
	})
}

func TestAnnualCostAgainstPublications(t *testing.T) {
	// A published examination problem in engineering economics has a price of 15,000, a salvage value of 5,000 after 5
	// years and interest of 10 %; the yearly cost is computed by hand.
	wantNear(t, "exam problem, a year", AnnualCost(15000, 5000, 0.10, 5), 3137.97, 0.01)

	// Iowa State University A3-29: a tractor costs 93,500 and is worth 23 % of its list price of 110,000 after 15
	// years; interest 8 % minus 3 % inflation. The results are computed by hand.
	salvage := 0.23 * 110000
	wantNear(t, "tractor's salvage", salvage, 25300, 1e-9)
	wantNear(t, "tractor's wear over its life", 15*FixedCostsOf(93500, salvage, 0.05, 15).Depreciation, 68200, 1e-6)
	wantNear(t, "tractor a year", AnnualCost(93500, salvage, 0.08-0.03, 15), 7835.5, 0.3)
	// Iowa State University A3-29 rounds the capital recovery factor to 0.096 (from memory).
	short := math.Round(1000*CapitalRecovery(0.05, 15)) / 1000
	wantNear(t, "the same with a short factor", short*68200+0.05*salvage, 7812.2, 0.05)

	// A shared tool: price 40, salvage value 4 after 5 years, interest 15 % (computed by hand).
	wantNear(t, "shared tool a year", AnnualCost(40, 4, 0.15, 5), 11.34, 0.005)
	f := FixedCostsOf(40, 4, 0.15, 5)
	wantNear(t, "shared tool, straight line", f.Depreciation, 7.20, 1e-9)
	wantNear(t, "shared tool, mean interest", f.Interest, 3.30, 1e-9)
	wantNear(t, "shared tool, both", f.Depreciation+f.Interest, 10.50, 1e-9)

	wantNear(t, "without interest: the straight line", AnnualCost(40, 4, 0, 5), 7.20, 1e-12)
	wantNear(t, "no years", AnnualCost(40, 4, 0.1, 0), 0, 0)
}

func TestFixedCostsAgainstPublications(t *testing.T) {
	// FAO and INADES 1977, Better Farming 14: a plough of 8,000 F serves 5 years; oxen of 32,000 F are sold for 20,000
	// F after 6 years.
	plough, oxen := FixedCostsOf(8000, 0, 0, 5), FixedCostsOf(32000, 20000, 0, 6)
	wantNear(t, "plough a year", plough.Depreciation, 1600, 1e-9)
	wantNear(t, "oxen a year", oxen.Depreciation, 2000, 1e-9)
	wantNear(t, "plough and oxen a year", plough.Depreciation+oxen.Depreciation, 3600, 1e-9)

	// IASRI farm machinery course, lesson 14: a thresher costs Rs 25,000, is worth 10 % after 10 years, and works 200 h
	// a year; interest 15 %. The lesson prints 11.25, 10.31 and 2.50 an hour.
	const thresherHours = 200
	f := FixedCostsOf(25000, 2500, 0.15, 10)
	wantNear(t, "thresher's depreciation an hour", f.Depreciation/thresherHours, 11.25, 1e-9)
	wantNear(t, "thresher's interest an hour", f.Interest/thresherHours, 10.3125, 1e-9)
	wantNear(t, "thresher's shelter an hour", f.Shelter/thresherHours, 2.50, 1e-9)

	// IASRI lesson 14 also has a tractor: it costs Rs 250,000, is worth 10 % after 15 years, and works 1,000 h a year;
	// interest 15 %. The lesson prints 15.00 + 20.63 + 5.00 = 40.62 an hour; the exact sum is 40.625.
	const tractorHours = 1000
	f = FixedCostsOf(250000, 25000, 0.15, 15)
	wantNear(t, "tractor's depreciation an hour", f.Depreciation/tractorHours, 15.00, 1e-9)
	wantNear(t, "tractor's interest an hour", f.Interest/tractorHours, 20.63, 0.0051)
	wantNear(t, "tractor's shelter an hour", f.Shelter/tractorHours, 5.00, 1e-9)
	wantNear(t, "tractor an hour", (f.Depreciation+f.Interest+f.Shelter)/tractorHours, 40.625, 1e-9)

	wantEqual(t, "a machine of no years costs", FixedCostsOf(100, 0, 0.1, 0), FixedCosts{})
}

// Straight-line depreciation contains less interest than capital recovery, so it costs a little less.
func TestStraightLineIsBelowCapitalRecovery(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := rapid.Float64Range(1, 1e6).Draw(t, "price")
		salvage := price * rapid.Float64Range(0, 1).Draw(t, "share left")
		i := rapid.Float64Range(0, 1).Draw(t, "i")
		years := rapid.Float64Range(1, 30).Draw(t, "years")
		f := FixedCostsOf(price, salvage, i, years)
		if exact := AnnualCost(price, salvage, i, years); exact < (f.Depreciation+f.Interest)*(1-1e-12) {
			t.Fatalf("%g a year is below the simpler %g", exact, f.Depreciation+f.Interest)
		}
	})
}

func TestAccumulatedRepairs(t *testing.T) {
	// Computed with TAR = 0.301 X^1.3 from IS 9164:1979 (IASRI lesson 13).
	for _, x := range []struct{ used, want, within float64 }{{0.10, 0.0601, 5e-5}, {0.50, 0.487, 5e-4},
		{1, 1.198, 5e-4}, {0, 0, 0}, {-1, 0, 0}} {
		wantNear(t, "repairs", AccumulatedRepairs(x.used), x.want, x.within)
	}
	wantNear(t, "repairs a year over ten years", AccumulatedRepairs(1)/DefaultToolYears, RepairShareYear, 0.0005)
}

func TestBreakEven(t *testing.T) {
	// A farm engineering text (https://www.progressivegardening.com/agricultural-engineering-2/breakeven-use.html):
	// fixed costs of 1,000 a year and operating costs of 4 an acre, against a contractor at 21 an acre, break even at
	// "about 60" acres.
	acres, ok := BreakEven(1000, 21, 4)
	if !ok {
		t.Fatal("the published example never breaks even")
	}
	wantNear(t, "break-even acres", acres, 58.82, 0.005)
	for _, x := range []struct{ acres, want float64 }{{10, 1040}, {50, 1200}, {100, 1400}, {200, 1800}, {500, 3000}} {
		total := 1000 + 4*x.acres
		wantNear(t, "total a year", total, x.want, 0)
		// If the contractor asks the owner's mean cost per acre at a use of x.acres, the break-even use is x.acres.
		use, ok := BreakEven(1000, total/x.acres, 4)
		if !ok {
			t.Fatalf("%g acres never break even", x.acres)
		}
		wantNear(t, "acres at the mean cost", use, x.acres, 1e-9)
	}

	// A shared tool costs 11.34 a year; a hectare costs 100 by hand and 30 with the tool. Owning breaks even at 0.16 ha
	// a year (computed by hand): a field of 0.05 ha with 3 passes.
	ha, ok := BreakEven(AnnualCost(40, 4, 0.15, 5), 100, 30)
	if !ok {
		t.Fatal("the shared tool never breaks even")
	}
	wantNear(t, "weeding to break even, ha", ha, 0.16, 0.005)
	wantNear(t, "field to break even, ha", ha/3, 0.05, 0.005)

	for _, x := range []struct {
		why                     string
		fixed, custom, op, want float64
		ok                      bool
	}{
		{"nothing to pay off", 0, 21, 4, 0, true},
		{"a gift that pays", -10, 21, 4, 0, true},
		{"no cheaper with the machine", 1000, 4, 4, 0, false},
		{"dearer with the machine", 1000, 4, 21, 0, false},
		{"further than numbers go", 1e308, 1e-9, 0, 0, false},
		{"no number", math.NaN(), 21, 4, 0, false},
		{"no rate", 1000, math.NaN(), 4, 0, false},
	} {
		if got, ok := BreakEven(x.fixed, x.custom, x.op); got != x.want || ok != x.ok {
			t.Errorf("%s: %g, %v", x.why, got, ok)
		}
	}
}

func TestPaybackIsTheInverseOfCapitalRecovery(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.Float64Range(0, 1).Draw(t, "i")
		n := rapid.Float64Range(0.2, 20).Draw(t, "n")
		price := rapid.Float64Range(1, 1e6).Draw(t, "price")
		got, ok := Payback(price, price*CapitalRecovery(i, n), i)
		if !ok || math.Abs(got-n) > 1e-9*n*math.Pow(1+i, n) {
			t.Fatalf("%g at %g over %g periods comes back in %g, %v", price, i, n, got, ok)
		}
	})
}

func TestPaybackAtItsEdges(t *testing.T) {
	for _, x := range []struct {
		why                    string
		price, saving, i, want float64
		ok                     bool
	}{
		{"no interest", 40, 10, 0, 4, true},
		{"one period", 100, 110, 0.10, 1, true},
		{"the interest alone", 100, 10, 0.10, 0, false},
		{"less than the interest", 100, 5, 0.10, 0, false},
		{"no saving", 100, 0, 0.10, 0, false},
		{"a loss", 100, -5, 0, 0, false},
		{"no price", 0, 10, 0.10, 0, false},
		{"no rate", 100, 10, math.NaN(), 0, false},
		{"all is lost", 100, 10, -1, 0, false},
	} {
		got, ok := Payback(x.price, x.saving, x.i)
		if ok != x.ok || math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%s: %g, %v", x.why, got, ok)
		}
	}
}

func TestHireToAsk(t *testing.T) {
	for _, x := range []struct {
		why                 string
		p                   Prices
		seasons, days, want float64
		ok                  bool
	}{
		// Computed by hand: (price 40 / 4 seasons + 4.80 of repairs a season) / 10 days of hire a season.
		{"no interest, a crop a year", Prices{Tool: 40}, 4, 10, 1.48, true},
		{"two crops a year: half the repairs a season", Prices{Tool: 40, SeasonsYear: 2}, 4, 10, 1.24, true},
		// Computed by hand: (price 40 with 10 % interest + 4.80 of repairs) / 10 days of hire.
		{"paid back in one season", Prices{Tool: 40, InterestYear: 0.10}, 1, 10, 4.88, true},
		// 21 % a year is 10 % a season. Computed by hand: (price 40 x 0.40211, the factor for 3 periods in tables for
		// 10 %, + 2.40 of repairs) / 10 days of hire.
		{"21 % a year, two crops", Prices{Tool: 40, InterestYear: 0.21, SeasonsYear: 2}, 3, 10, 1.8485, true},
		{"no price", Prices{InterestYear: 0.1}, 4, 10, 0, false},
		{"no seasons", Prices{Tool: 40}, 0, 10, 0, false},
		{"no days", Prices{Tool: 40}, 4, 0, 0, false},
		{"fewer than no days", Prices{Tool: 40}, 4, -3, 0, false},
		{"no number of days", Prices{Tool: 40}, 4, math.NaN(), 0, false},
	} {
		got, ok := HireToAsk(x.p, x.seasons, x.days)
		if ok != x.ok || math.Abs(got-x.want) > 5e-5 {
			t.Errorf("%s: %g, %v; want %g, %v", x.why, got, ok, x.want, x.ok)
		}
	}
}

// An owner who borrows the price of a tool and hires the tool out at the price HireToAsk has no debt left after the
// given number of seasons.
func TestHireToAskPaysTheToolBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Prices{
			Tool:         rapid.Float64Range(1, 1e6).Draw(t, "price"),
			InterestYear: rapid.Float64Range(0, 1).Draw(t, "interest"),
			SeasonsYear:  float64(rapid.IntRange(0, MaxSeasonsYear).Draw(t, "crops a year")),
		}
		seasons, days := rapid.IntRange(1, 20).Draw(t, "seasons"), rapid.Float64Range(1, 60).Draw(t, "days")
		ask, ok := HireToAsk(p, float64(seasons), days)
		if !ok {
			t.Fatal("not told")
		}
		crops := max(1, p.SeasonsYear)
		rate := math.Pow(1+p.InterestYear, 1/crops) - 1
		owed, grown := p.Tool, p.Tool
		for range seasons {
			owed = owed*(1+rate) - (ask*days - RepairShareYear*p.Tool/crops)
			grown *= 1 + rate
		}
		if math.Abs(owed) > 1e-10*grown {
			t.Fatalf("asking %g leaves %g of %g owed after %d seasons", ask, owed, p.Tool, seasons)
		}
	})
}
