package engine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Computed from the two lines of the training manual; it is said to match its
// Table 6 (from memory).
func TestEffectiveRain(t *testing.T) {
	for _, c := range []struct{ month, want float64 }{
		{20, 2}, {50, 20}, {70, 32}, {80, 39}, {100, 55}, {150, 95}, {200, 135},
		{75, 35}, {0, 0}, {16, 0}, {-5, 0}, {math.NaN(), 0},
	} {
		wantNear(t, "effective rain", EffectiveRainMM(c.month), c.want, 1e-9)
	}
}

func TestEffectiveRainProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0, 2000).Draw(t, "rain")
		more := p + rapid.Float64Range(0, 100).Draw(t, "more")
		pe := EffectiveRainMM(p)
		if pe < 0 || pe > p {
			t.Errorf("of %g mm %g count", p, pe)
		}
		if EffectiveRainMM(more) < pe-1e-9 {
			t.Errorf("of %g mm %g count, of %g mm %g", p, pe, more, EffectiveRainMM(more))
		}
	})
}

// Measured rain counts in full and the normals' in part; over a month of
// normals the effective rain of that month comes together.
func TestRainOfTheBalance(t *testing.T) {
	w := Weather{Normals: monsoonYear}
	june := Date(2026, 6, 1)
	w.Daily = Daily{From: june + 3, Days: []Measured{{22, 30, 40}, {22, 30, math.NaN()}, Unmeasured(), {math.NaN(), math.NaN(), 0}, {22, 30, -7}}}
	even := EffectiveRainMM(240) / 30
	rain := waterRain{w: &w, next: june}
	for i, want := range []float64{even, even, even, 40, even, even, 0, 0, even} {
		wantNear(t, "rain of "+(june+Day(i)).String(), rain.on(june+Day(i)), want, 1e-12)
	}

	w.Daily = Daily{}
	from, to := Date(2027, 11, 20), Date(2028, 3, 1) // over a year's end and a leap day
	rain = waterRain{w: &w, next: from}
	sum := 0.0
	for d := from; d < to; d++ {
		sum += rain.on(d)
	}
	wantNear(t, "rain from 20 November to 29 February", sum, EffectiveRainMM(110)*11/30+EffectiveRainMM(40)+EffectiveRainMM(30)+EffectiveRainMM(20), 1e-9)

	// Days before 1970 are days like others.
	old := Date(1950, 6, 10)
	rain = waterRain{w: &w, next: old}
	wantNear(t, "rain of 1950", rain.on(old), even, 1e-12)
}
