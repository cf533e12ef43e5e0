package main

import (
	"math"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/cmd/rowbell/practice"
	"rowbell/engine"
	"rowbell/store"
)

func TestPlace(t *testing.T) {
	file, s := morningRecords(t)
	bare := practice.Place()
	bare.Soil, bare.Prices = engine.SoilUnknown, engine.Prices{}
	must(t, s.InTx(t.Context(), func(tx *store.Tx) error { _, err := tx.PutPlace(bare); return err }))
	says := func(list ...string) {
		t.Helper()
		out := prints(t, "place", "--db", file)
		for _, want := range list {
			if !strings.Contains(out, want) {
				t.Errorf("%q is not told in\n%s", want, out)
			}
		}
	}
	says("default\n", "Etc/GMT-5", "mornings begin at 7:00", "15°", "60 m", "not told, taken as medium",
		"no day: the year below is used for all", "none told: nothing is said of costs",
		"as in the table; rowbell sources lists those that can be set", "June")

	p := practice.Place()
	p.Soil, p.Learning = engine.SoilHeavy, true
	p.Prices = engine.Prices{Currency: "GBP", Tool: 900, InterestYear: 0.125, LabourDay: 60.5}
	must(t, p.Figures.Set("HandHoursPerHa", 260))
	must(t, p.Figures.Set("KcEnd", 0.9))
	write(t, s, func(tx *store.Tx) error {
		id, err := tx.PutPlace(p)
		if err != nil {
			return err
		}
		day := func(d engine.Day, rain float64) store.WeatherDay {
			return store.WeatherDay{On: d, Measured: engine.Measured{MinC: 21, MaxC: 30, RainMM: rain}}
		}
		if err := tx.PutWeather(id, []store.WeatherDay{day(practiceDay, 3), day(practiceDay+2, math.NaN())},
			practiceDay.At(9, time.UTC).Unix()); err != nil {
			return err
		}
		p.Name, p.Zone = "upper valley", "Etc/GMT-6"
		_, err = tx.PutPlace(p)
		return err
	})
	says("heavy, where a grower has not told it",
		"Mon 1 Jun 2026 to Wed 3 Jun 2026, 3 days; without temperatures 1, without rain 2",
		"tool 900, interest 12.5%, labour-day 60.50, GBP", "HandHoursPerHa 260 h/ha, in the table 200",
		"KcEnd 0.9, in the table", "nothing yet: the weed clocks are as published", "\nupper valley\n", "Etc/GMT-6")
}

func TestPlaceLearned(t *testing.T) {
	for _, c := range []struct {
		rate     float64
		n        int
		learning bool
		says     string
	}{
		{1, 0, true, "nothing yet: the weed clocks are as published"},
		{1, 0, false, "switched off: the weed clocks are as published"},
		{1.12, 14, true, "weeds go 1.12 times as fast as published, from 14 observations: about 1 day earlier for " +
			"rice transplanted today"},
		{0.9, 1, true, "weeds go 0.90 times as fast as published, from 1 observation: about 2 days later for rice " +
			"transplanted today"},
		{1.001, 3, true, "weeds go 1.00 times as fast as published, from 3 observations: no day's difference for " +
			"rice transplanted today"},
		{1.3, 9, false, "weeds go 1.30 times as fast as published, from 9 observations; switched off, so the weed " +
			"clocks are as published"},
	} {
		p := placeSeen{Place: practice.Place(), today: practiceDay}
		p.WeedRate, p.LearnedN, p.Learning = c.rate, c.n, c.learning
		if got := p.learned(); got != c.says {
			t.Errorf("rate %g of %d, learning %t:\n%q, want\n%q", c.rate, c.n, c.learning, got, c.says)
		}
	}
}

// The table of clocks has the shares and speeds that were learned. Learned clocks move the days as in the bell.
func TestPlaceClocks(t *testing.T) {
	p := placeSeen{Place: practice.Place(), today: practiceDay, stdErr: 0.05}
	p.WeedRate, p.LearnedN, p.Learning = 1.3, 40, true
	p.WeedClocks = engine.ClockWeights{{Share: 0.1, Rate: 1.1}, {Share: 0.1, Rate: 1}, {Share: 0, Rate: 1},
		{Share: 0.8, Rate: 1.35}}
	told := func() string {
		s, err := p.section()
		must(t, err)
		var b strings.Builder
		must(t, plan.Table(&b, s))
		return strings.Join(strings.Fields(b.String()), " ")
	}
	for _, want := range []string{"1.30 times as fast as published (1.20 to 1.40), from 40 observations",
		"Weed clock Chance Speed flooded field 10% 1.10 low base 10% 1.00 held back 0% 1.00 fast 80% 1.35",
		"earlier for rice transplanted today"} {
		if !strings.Contains(told(), want) {
			t.Errorf("%q is not in %s", want, told())
		}
	}
	if p.Learning = false; strings.Contains(told(), "Weed clock") {
		t.Errorf("clocks that are not used are shown: %s", told())
	}
}
