package engine

import (
	"testing"

	"pgregory.net/rapid"
)

func TestDegreeDays(t *testing.T) {
	for _, c := range []struct {
		name                          string
		min, max, base, ceiling, want float64
	}{
		{"McMaster & Wilhelm's case, method 1 (computed)", 4, 14, 8, 34, 1.0},
		{"a warm day", 23, 32, 10.8, 34, 16.7},
		{"a cold day gives nothing", -5, 5, 8, 34, 0},
		{"a day on the base", 6, 10, 8, 34, 0},
		{"Tmax is held at the ceiling", 24, 40, 10, 34, 19},
		{"Tmin as well", 36, 40, 10, 34, 24},
		// Yoshida 1981, p. 21: a leaf takes 100 degree-days above 0 °C, 5 days at 20 °C or 4 days at 25 °C.
		{"Yoshida, base 0 at 20: 100/20 = 5 days", 20, 20, 0, 34, 100.0 / 5},
		{"Yoshida, base 0 at 25: 100/25 = 4 days", 25, 25, 0, 34, 100.0 / 4},
		// With a base of 11 °C, the same leaf takes 45 or 56 degree-days: a number of degree-days is valid only with
		// its base.
		{"the same 5 days on base 11: 45", 20, 20, 11, 34, 45.0 / 5},
		{"the same 4 days on base 11: 56", 25, 25, 11, 34, 56.0 / 4},
		// Infeld et al. 1998: 536, 638 and 772 degree-days above 11 °C (source read). Computed: 33.5, 39.9 and 48.3
		// days at 27 °C; 38.3, 45.6 and 55.1 days at 25 °C.
		{"Infeld, early at 27", 22, 32, 11, 34, 536 / 33.5},
		{"Infeld, early at 25", 20, 30, 11, 34, 536 / 38.3},
		{"Infeld, late at 27", 22, 32, 11, 34, 772 / 48.3},
	} {
		wantNear(t, c.name, DegreeDays(DayWeather{MinC: c.min, MaxC: c.max}, c.base, c.ceiling), c.want, 0.02)
	}
}

// McMaster & Wilhelm 1997: method 2 raises Tmax and Tmin to the base before it computes the mean. For 4 and 14 °C and a
// base of 8 °C it gives 3.0 degree-days, method 1 gives 1.0. If Tmin is above the base, both give the same.
func TestTheTwoReadingsAgreeAboveTheBase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(8, 40).Draw(t, "min")
		high := low + rapid.Float64Range(0, 15).Draw(t, "range")
		method2 := (min(high, HeatCeilingC)+min(low, HeatCeilingC))/2 - 8
		method1 := DegreeDays(DayWeather{MinC: low, MaxC: high}, 8, HeatCeilingC)
		wantNear(t, "degree-days of %g to %g °C", method1, method2, 1e-9, low, high)
	})
}

func TestDaysToHalfEmergence(t *testing.T) {
	// Half of the weeds emerge after 93 degree-days above 10.8 °C (Šoštarčić et al. 2021): 93/(T - 10.8) days at the
	// mean temperature T (computed).
	for _, c := range []struct{ mean, days float64 }{{20, 10.11}, {25, 6.55}, {28, 5.41}, {30, 4.84}} {
		aDay := DegreeDays(DayWeather{MinC: c.mean, MaxC: c.mean}, WeedBaseC, HeatCeilingC)
		wantNear(t, "at %g: days", HalfEmergence/aDay, c.days, 0.005, c.mean)
	}
}

func TestBBCH(t *testing.T) {
	// BBCH scale (Lancashire et al. 1991): code 12 is two unfolded leaves, 13 three, 14 four.
	for _, c := range []struct {
		leaves      Leaves
		first, last int
	}{{LeavesUnknown, 0, 0}, {NoneUp, 0, 0}, {OneLeaf, 10, 11}, {TwoThree, 12, 13}, {FourPlus, 14, 19}} {
		if first, last := c.leaves.BBCH(); first != c.first || last != c.last {
			t.Errorf("%s leaves: BBCH %d-%d, want %d-%d", c.leaves, first, last, c.first, c.last)
		}
	}
	// A window is two to four leaves: codes 12 to 14.
	if BBCHUnrolling+WindowOpensLeaves != BBCHTwoLeaves || BBCHUnrolling+WindowClosesLeaves != BBCHFourLeaves {
		t.Error("the window is not BBCH 12 to 14")
	}
}
