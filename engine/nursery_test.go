package engine

import (
	"testing"

	"pgregory.net/rapid"
)

var sownDay = Date(2026, 6, 1)

// Yoshida 1981 (source read), p. 21: before the panicle starts, a leaf takes about 100 degree-days above 0 °C, 5 days
// at 20 °C or 4 days at 25 °C. P. 20: in the tropics a leaf takes 4 to 5 days.
func TestALeafOfRice(t *testing.T) {
	for _, c := range []struct {
		meanC float64
		days  Day
	}{{20, 5}, {25, 4}} {
		w := Steady(c.meanC, c.meanC)
		at := func(d Day) float64 { return w.Seedlings(sownDay, sownDay+d, 0).LeavesToday }
		wantNear(t, "%g °C: leaves in %d days", at(20+c.days)-at(20), 1, 1e-9, c.meanC, c.days)
	}
}

func TestSeedlingsReady(t *testing.T) {
	for _, c := range []struct {
		name             string
		minC, maxC       float64
		duration         int
		from, to, tooOld Day
		fromRule, toRule ReadyRule
		apart            bool
	}{
		// Seedlings emerge after 100 degree-days; each leaf takes 100 more. At 27.5 °C they have (15 x 27.5 - 100) /
		// 100 = 3.1 leaves on day 15 and 4.5 on day 20.
		{"warm: the two rules agree", 23, 32, 0, 15, 20, 23, RuleAge, RuleAge, false},
		// Three leaves need 400 degree-days: 400/25 = 16 days at 25 °C.
		{"25 °C: the leaves come last", 20, 30, 0, 16, 20, 23, RuleLeaves, RuleAge, false},
		// Five leaves need 600 degree-days: 600/33.5 = 17.9 days at 33.5 °C.
		{"hot: too many leaves before day 20", 33, 34, 0, 15, 17, 23, RuleAge, RuleLeaves, false},
		// At 15 °C three leaves need 26.7 days, five leaves 40 days. For boro rice of the cool season,
		// http://rkmp.co.in/content/transplanting-1 gives an age of 30 to 35 days.
		{"cool: the age is over before the leaves are there", 10, 20, 0, 27, 40, 41, RuleLeaves, RuleLeaves, true},
		{"a medium variety", 23, 32, 135, 15, 20, 31, RuleAge, RuleAge, false},
		{"a long variety", 23, 32, 160, 15, 20, 41, RuleAge, RuleAge, false},
		{"a place too cold to grow any", -10, 5, 0, horizon, horizon, horizon + 1, RuleLeaves, RuleLeaves, true},
	} {
		w := Steady(c.minC, c.maxC)
		n := w.Seedlings(sownDay, sownDay+12, c.duration)
		want := Nursery{Sown: sownDay, AgeDays: 12, LeavesToday: n.LeavesToday, ReadyFrom: sownDay + c.from,
			ReadyTo:  sownDay + c.to,
			FromRule: c.fromRule, ToRule: c.toRule, Apart: c.apart, TooOldFrom: sownDay + c.tooOld}
		if n != want {
			t.Errorf("%s:\n got %+v\nwant %+v", c.name, n, want)
		}
	}
}

func TestSeedlingsToday(t *testing.T) {
	w := Steady(25, 25)
	for _, c := range []struct {
		day    Day
		age    int
		leaves float64
	}{{-5, 0, 0}, {0, 0, 0}, {4, 4, 0}, {6, 6, 0.5}, {16, 16, 3}, {24, 24, 5}, {40, 40, 9},
		{horizon + 50, horizon + 50, 59}} {
		n := w.Seedlings(sownDay, sownDay+c.day, 0)
		if n.AgeDays != c.age || !near(n.LeavesToday, c.leaves, 1e-9) {
			t.Errorf("day %d: %d days, %g leaves; want %d and %g", c.day, n.AgeDays, n.LeavesToday, c.age, c.leaves)
		}
	}
}

func TestSeedlingsInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeather(t)
		sown := sownDay + Day(rapid.IntRange(0, 800).Draw(t, "sown"))
		today := sown + Day(rapid.IntRange(-5, 60).Draw(t, "today"))
		duration := rapid.SampledFrom([]int{0, 90, 120, 130, 160}).Draw(t, "duration")
		n := w.Seedlings(sown, today, duration)
		if n.ReadyFrom < sown+ReadyAgeFrom || n.ReadyFrom > n.ReadyTo || n.ReadyTo >= n.TooOldFrom {
			t.Errorf("%+v", n)
		}
		if !n.Apart && n.ReadyTo > sown+ReadyAgeTo {
			t.Errorf("the rules meet, and seedlings of %d days are ready", n.ReadyTo-sown)
		}
		later := w.Seedlings(sown, today+1, duration)
		if later.LeavesToday < n.LeavesToday {
			t.Errorf("%g leaves, and the day after %g", n.LeavesToday, later.LeavesToday)
		}
		later.AgeDays, later.LeavesToday = n.AgeDays, n.LeavesToday
		if later != n {
			t.Errorf("a day on it is %+v, was %+v", later, n)
		}
		// On the first ready day the seedlings have enough leaves and not too many, unless the search ended after
		// horizon days in a cold place.
		first := w.Seedlings(sown, n.ReadyFrom, duration)
		if n.ReadyFrom < sown+horizon && (first.LeavesToday < ReadyLeavesFrom || first.LeavesToday > ReadyLeavesTo+1) {
			t.Errorf("%g leaves on the first day they are ready", first.LeavesToday)
		}
	})
}

func TestFirstFlood(t *testing.T) {
	// http://rkmp.co.in/content/water-management-6 (read): let in 5 cm of water three days after transplanting.
	if got := FirstFlood(sownDay) - sownDay; got != 3 || FirstFloodCM != 5 {
		t.Errorf("%g cm after %d days, want 5 after 3", FirstFloodCM, got)
	}
}

// Tamil Nadu Agricultural University (source read): seedlings of 18-22, 25-30 and 35-40 days for short, medium and long
// varieties. A short variety takes up to 120 days, a medium one up to 140 (from memory).
func TestOldestSeedlings(t *testing.T) {
	for duration, want := range map[int]Day{90: 22, 120: 22, 121: 30, 140: 30, 141: 40, 200: 40} {
		wantEqual(t, "oldest seedlings of a variety of %d days", oldestSeedling(duration), want, duration)
	}
}

// The degree-days of a day are added on that day, not on the next, in the leaves of seedlings and in the leaf area of
// the crop.
func TestHeatCountsOnItsDay(t *testing.T) {
	sown := Date(2026, 7, 1)
	w := Steady(0, 0)
	w.Daily = Daily{From: sown + 1, Days: []Measured{{34, 34, 0}, {34, 34, 0}, {34, 34, 0}, {34, 34, 0}}}
	for today, want := range map[Day]float64{sown + 2: 0, sown + 3: 0.02, sown + 4: 0.36, sown + 9: 0.36} {
		wantNear(t, "%s: leaves", w.Seedlings(sown, today, 0).LeavesToday, want, 1e-9, today)
	}
	s := Season{Plot: square(25), Weather: w}
	s.Plot.Planted = sown
	if before, on, after := s.Shade(sown), s.Shade(sown+4), s.Shade(sown+5); before >= on || on != after {
		t.Errorf("shade %g, then %g and %g", before, on, after)
	}
}

// If the rule of age and the rule of leaves give the same day, the rule of age is reported.
func TestRulesThatNameTheSameDay(t *testing.T) {
	for _, c := range []struct {
		enough, notTooMany Day
		want               Nursery
	}{
		{115, 120, Nursery{ReadyFrom: 115, ReadyTo: 120, FromRule: RuleAge, ToRule: RuleAge}},
		{120, 120, Nursery{ReadyFrom: 120, ReadyTo: 120, FromRule: RuleLeaves, ToRule: RuleAge}},
		{121, 120, Nursery{ReadyFrom: 121, ReadyTo: 121, FromRule: RuleLeaves, ToRule: RuleLeaves, Apart: true}},
	} {
		n := Nursery{Sown: 100}
		c.want.Sown = 100
		if n.ready(c.enough, c.notTooMany); n != c.want {
			t.Errorf("leaves from day %d to %d: %+v, want %+v", c.enough, c.notTooMany, n, c.want)
		}
	}
}
