package engine

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// took returns a logged pass on one hectare of 20 by 20 cm. It took the hours that the model computes, multiplied by
// the parameter times.
func took(with Means, way Way, times float64) Worked {
	w := Worked{With: with, Way: way, AreaM2: 1e4, RowCM: 20, HillCM: 20}
	if with == ByHand {
		w.PersonHours = times * HandHoursPerHa
	} else {
		w.PersonHours = times * tableFigures.toolHours(way, w.AreaM2, w.RowCM, w.HillCM)
	}
	return w
}

func paceOf(with Means, worked ...Worked) Pace {
	s := Season{Home: Household{Worked: worked}}
	return s.pace(with)
}

func TestPace(t *testing.T) {
	// Computed by hand: exp(sum(ln ratio) / (n + k)) with k = PaceNoise² / PaceSpread² = 16/9.
	for _, c := range []struct {
		name   string
		worked []Worked
		factor float64
		logged int
	}{
		{"nothing logged", nil, 1, 0},
		{"as the model", []Worked{took(ByTool, Along, 1)}, 1, 1},
		{"once twice the hours", []Worked{took(ByTool, Along, 2)}, 1.2834, 1},
		{"two times twice the hours", []Worked{took(ByTool, Along, 2), took(ByTool, Across, 2)}, 1.4433, 2},
		{"both directions, twice the hours", []Worked{took(ByTool, Both, 2)}, 1.2834, 1},
		{"way not told", []Worked{took(ByTool, WayUnknown, 2)}, 1.2834, 1},
		{"once half the hours", []Worked{took(ByTool, Along, 0.5)}, 1 / 1.2834, 1},
		{"twice and half", []Worked{took(ByTool, Along, 2), took(ByTool, Along, 0.5)}, 1, 2},
		{"fifty times 1.5 times the hours", slices.Repeat([]Worked{took(ByTool, Along, 1.5)}, 50), 1.4793, 50},
		{"a slip counts as four times", []Worked{took(ByTool, Along, 1000)}, math.Exp(math.Log(4) / (1 + 16.0/9)), 1},
		{"by hand tells nothing of the tool", []Worked{took(ByHand, WayUnknown, 2)}, 1, 0},
		{"no hours, no area, no rows", []Worked{{With: ByTool, AreaM2: 1e4, RowCM: 20},
			{With: ByTool, RowCM: 20, PersonHours: 5}, {With: ByTool, AreaM2: 1e4, PersonHours: 5}}, 1, 0},
	} {
		got := paceOf(ByTool, c.worked...)
		if !near(got.Factor, c.factor, 1e-4) || got.Logged != c.logged {
			t.Errorf("%s: %+v, want %g of %d", c.name, got, c.factor, c.logged)
		}
	}
	if got := paceOf(ByHand, took(ByHand, WayUnknown, 2)); !near(got.Factor, 1.2834, 1e-4) || got.Logged != 1 {
		t.Errorf("by hand: %+v", got)
	}
	// Without logs the interval is exp(-1.2816 x 0.5) to exp(1.2816 x 0.5), because 0.4² + 0.3² = 0.5².
	if got := paceOf(ByTool); !near(got.Low, 0.5269, 5e-4) || !near(got.High, 1.898, 5e-4) {
		t.Errorf("nothing known: %+v", got)
	}
}

func TestPaceOfTheSeason(t *testing.T) {
	s := rowsOf20(1000, 0)
	model := tableFigures.toolHours(Along, 1000, 20, 10)
	day := s.Plot.Planted
	for _, c := range []struct {
		name       string
		passes     []Pass
		tool, hand int     // logged
		factor     float64 // with the tool
	}{
		{"none", nil, 0, 0, 1},
		{"two people, as many hours each as the model",
			[]Pass{{On: day + 15, With: ByTool, Way: Along, Hours: model, People: 2}}, 1, 0, 1.2834},
		{"people not told", []Pass{{On: day + 15, With: ByTool, Way: Along, Hours: model}}, 0, 0, 1},
		{"hours not told", []Pass{{On: day + 15, With: ByTool, Way: Along, People: 2}}, 0, 0, 1},
		{"not yet", []Pass{{On: day + 50, With: ByTool, Way: Along, Hours: model, People: 2}}, 0, 0, 1},
		{"by hand", []Pass{{On: day + 15, With: ByHand, Hours: 35, People: 1}}, 0, 1, 1},
		{"pulled behind the tool", []Pass{{On: day + 15, With: ByTool}, {On: day + 16, With: ByHand, Hours: 2,
			People: 1}, {On: day + 17, With: ByHand, Hours: 1, People: 1}}, 0, 0, 1},
		{"pulled on the last day behind the tool", []Pass{{On: day + 15, With: ByTool},
			{On: day + 15 + FollowUpDays, With: ByHand, Hours: 20, People: 1}}, 0, 0, 1},
		{"pulled long after the tool", []Pass{{On: day + 15, With: ByTool},
			{On: day + 15 + FollowUpDays + 1, With: ByHand, Hours: 20, People: 1}}, 0, 1, 1},
	} {
		s.Passes = c.passes
		w := s.Work(day+40, Window{})
		if w.Pace.Logged != c.tool || w.HandPace.Logged != c.hand || !near(w.Pace.Factor, c.factor, 1e-4) {
			t.Errorf("%s: with the tool %+v, by hand %+v", c.name, w.Pace, w.HandPace)
		}
		if !near(w.AlongHours, model*w.Pace.Factor, 1e-9) || !near(w.HandHours, 20*w.HandPace.Factor, 1e-9) ||
			!near(w.PullHours, w.HandHours*0.25*RestShareSome, 1e-9) {
			t.Errorf("%s: %g h along, %g h by hand, %g h of pulling", c.name, w.AlongHours, w.HandHours, w.PullHours)
		}
		if low, high := w.Pace.Around(w.AlongHours); !near(low, model*w.Pace.Low, 1e-9) ||
			!near(high, model*w.Pace.High, 1e-9) {
			t.Errorf("%s: %g to %g h", c.name, low, high)
		}
	}
}

// The next pass of four growers in five takes hours between Low and High, and the mean of their next three passes is
// within meanOf. The growers are drawn from the distributions that pace assumes.
func TestNextPassesFallIntoTheRange(t *testing.T) {
	const growers = 20_000
	random := rand.New(rand.NewPCG(7, 11))
	for _, logged := range []int{0, 1, 3, 6} {
		var in, meanIn int
		for range growers {
			own := PaceSpread * random.NormFloat64()
			pass := func() float64 { return math.Exp(own + PaceNoise*random.NormFloat64()) }
			worked := make([]Worked, logged)
			for i := range worked {
				worked[i] = took(ByTool, Along, pass())
			}
			got := paceOf(ByTool, worked...)
			a, b, c := pass(), pass(), pass()
			if got.Low <= a && a <= got.High {
				in++
			}
			low, high := got.meanOf(3)
			if mean := math.Cbrt(a*b*c) / got.Factor; low <= mean && mean <= high {
				meanIn++
			}
		}
		wantNear(t, "share of next passes within the range, after %d", float64(in)/growers, 0.8, 0.03, logged)
		wantNear(t, "share of means of three passes, after %d", float64(meanIn)/growers, 0.8, 0.03, logged)
	}
}

// Pushing and pulling scatter on their own; four weedings in five take hours within the range of their sum, and nine in
// ten are done after MostDays.
func TestWeedingsFallIntoTheRangeOfTheirHours(t *testing.T) {
	const weedings = 20_000
	random := rand.New(rand.NewPCG(3, 5))
	s := rowsOf20(10_000, 0)
	w := s.Work(s.Plot.Planted, windowOf(20))
	push, pull := w.hours(w.Do, 1)
	low, high := w.TotalRange()
	deviation := math.Hypot(PaceSpread, PaceNoise)
	var in, done int
	for range weedings {
		hours := push*math.Exp(deviation*random.NormFloat64()) + pull*math.Exp(deviation*random.NormFloat64())
		if low <= hours && hours <= high {
			in++
		}
		if hours <= float64(w.MostDays)*w.HoursADay {
			done++
		}
	}
	wantNear(t, "share of weedings within the range", float64(in)/weedings, 0.8, 0.03)
	wantNear(t, "share of weedings done after MostDays", float64(done)/weedings, 0.9, 0.03)
}

func drawWorked(t *rapid.T) Worked {
	return took(rapid.SampledFrom([]Means{ByTool, ByTool, ByHand}).Draw(t, "with"),
		Way(rapid.IntRange(0, int(Both)).Draw(t, "way")), math.Exp(rapid.Float64Range(-3, 3).Draw(t, "log of times")))
}

func TestPaceLiesBetweenTheModelAndTheLogs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var worked []Worked
		var sum float64
		for range rapid.IntRange(1, 12).Draw(t, "logged") {
			y := rapid.Float64Range(-math.Log(PaceLimit), math.Log(PaceLimit)).Draw(t, "y")
			worked = append(worked, took(ByTool, Along, math.Exp(y)))
			sum += y
		}
		mean := math.Exp(sum / float64(len(worked)))
		got := paceOf(ByTool, worked...)
		if got.Factor < min(1, mean)-1e-9 || got.Factor > max(1, mean)+1e-9 {
			t.Errorf("pace %g, the logs' mean %g", got.Factor, mean)
		}
		if got.Low >= got.Factor || got.High <= got.Factor || got.Factor > PaceLimit || got.Factor < 1.0/PaceLimit {
			t.Errorf("%+v", got)
		}
		// Twice the logs bring the factor closer to their mean and make the range smaller.
		again := paceOf(ByTool, append(worked, worked...)...)
		if off := math.Abs(math.Log(mean)); off > 1e-6 &&
			math.Abs(math.Log(again.Factor/mean)) >= math.Abs(math.Log(got.Factor/mean)) {
			t.Errorf("pace %g, with the same logs twice %g, mean %g", got.Factor, again.Factor, mean)
		}
		if again.High/again.Low >= got.High/got.Low {
			t.Errorf("%+v, with twice the logs %+v", got, again)
		}
		// One more pass with unusual hours changes the factor by a limited amount; the factor is not that pass's ratio.
		last := rapid.SampledFrom([]float64{0.01, 0.25, 4, 500}).Draw(t, "last")
		swung := paceOf(ByTool, append(worked, took(ByTool, Along, last))...)
		alone := min(max(last, 1.0/PaceLimit), PaceLimit)
		if near(swung.Factor, alone, 1e-6) ||
			math.Abs(math.Log(swung.Factor/got.Factor)) > 2*math.Log(PaceLimit)/(float64(len(worked))+1) {
			t.Errorf("pace %g, and after a pass of %g times the hours %g", got.Factor, last, swung.Factor)
		}
	})
}

// Computed by hand at 1.2 km/h and an efficiency of 0.65: 1000 m2 take 6.41 h along rows of 20 cm and 5.13 h across
// hills of 25 cm.
func TestToolHoursOfEachWay(t *testing.T) {
	for _, c := range []struct {
		way         Way
		hill, hours float64
	}{
		{Along, 25, 6.4103}, {Across, 25, 5.1282}, {Both, 25, 11.5385}, {WayUnknown, 25, 6.4103},
		{Across, 0, 6.4103}, {Both, 0, 12.8205},
	} {
		wantNear(t, "%s, hills %g cm: h", tableFigures.toolHours(c.way, 1000, 20, c.hill), c.hours, 1e-4, c.way, c.hill)
	}
	wantEqual(t, "hours without rows", tableFigures.toolHours(Along, 1000, 0, 25), 0)
}
