package engine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// exactDemand is what demand stands for, day by day: each day's own weather
// and radiation, and the crop as it grows day by day.
func exactDemand(s *Season, d Day) float64 {
	f := &s.local().Figures
	kc := f.KcInitial + (f.KcMiddle-f.KcInitial)*min(1, s.Shade(d)/ClosedShade)
	if ripening := d - (s.Plot.ripe() - 30); ripening > 0 {
		kc += (f.KcEnd - kc) * min(1, float64(ripening)/30)
	}
	return kc * HargreavesMM(s.Weather.On(d), ExtraterrestrialMJ(s.Weather.LatitudeDeg, d.utc().YearDay()))
}

// The five-day steps cost a few calls instead of hundreds, and must not cost
// more than 3 % of the sum, or a tenth of a millimetre a day where the sum is
// small: in a cold place two months may differ by half.
func TestDemandIsTheDailySum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		s.Weather.LatitudeDeg = rapid.Float64Range(-55, 55).Draw(t, "latitude")
		for i := range s.Weather.Normals { // nights cooler than days, as anywhere
			s.Weather.Normals[i].MaxC += 4
		}
		from := s.Plot.Planted + Day(rapid.IntRange(-10, 120).Draw(t, "from"))
		m := newDemand(&s, from)
		days := rapid.IntRange(10, 40).Draw(t, "days")
		sum, exact := 0.0, 0.0
		for d := from; d < from+Day(days); d++ {
			sum += m.on(d)
			exact += exactDemand(&s, d)
		}
		if math.Abs(sum-exact) > max(0.03*exact, 0.1*float64(days)) {
			t.Errorf("%d days from day %d: %.2f mm, day by day %.2f", days, from-s.Plot.Planted, sum, exact)
		}
	})
}

func TestDemandOfAWholeSeason(t *testing.T) {
	s := busySeason()
	s.Weather.LatitudeDeg = 12
	m := newDemand(&s, s.Plot.Planted)
	sum, exact := 0.0, 0.0
	for d := s.Plot.Planted; d < s.Plot.ripe(); d++ {
		sum += m.on(d)
		exact += exactDemand(&s, d)
	}
	wantNear(t, "the season's demand", sum, exact, 0.005*exact)
	// 4 to 6 mm a day is a usual demand of ponded rice in the tropics.
	wantNear(t, "mm a day", sum/float64(s.Plot.ripe()-s.Plot.Planted), 5, 1)
}

// FAO-56, Table 12 (as quoted): 1.05 from planting, 1.20 under a full crop,
// 0.90 when ripe and still ponded.
func TestCropCoefficientByStage(t *testing.T) {
	for _, method := range []Method{Transplanted, RowSown} {
		s := busySeason()
		s.Plot.Method = method
		kc := func(d Day) float64 {
			w := &s.Weather
			m := newDemand(&s, d)
			return m.on(d) / HargreavesMM(m.weather(demandFirst(d)), ExtraterrestrialMJ(w.LatitudeDeg, (demandFirst(d)+2).utc().YearDay()))
		}
		p, ripe := s.Plot.Planted, s.Plot.ripe()
		wantNear(t, method.String()+": at planting", kc(p), 1.05, 0.01)
		wantNear(t, method.String()+": before planting", kc(p-5), 1.05, 1e-9)
		wantNear(t, method.String()+": before ripening", kc(ripe-35), 1.20, 0.001)
		wantNear(t, method.String()+": half ripe", kc(ripe-15), 1.05, 0.021)
		wantNear(t, method.String()+": after harvest", kc(ripe+5), 0.90, 1e-9)
		wantNear(t, method.String()+": a year after", kc(ripe+365), 0.90, 1e-9)
	}
	s := busySeason()
	local := NewLocal()
	local.Figures.KcInitial = 0.8
	s.Local = &local
	m := newDemand(&s, s.Plot.Planted-5)
	with := m.on(s.Plot.Planted - 5)
	s.Local = nil
	m = newDemand(&s, s.Plot.Planted-5)
	wantNear(t, "a place's own coefficient", with/m.on(s.Plot.Planted-5), 0.8/1.05, 1e-9)
}

// A day's demand does not hang on the day from which it is asked.
func TestDemandHasOneAnswerADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		from := s.Plot.Planted + Day(rapid.IntRange(-20, 100).Draw(t, "from"))
		late := from + Day(rapid.IntRange(0, 60).Draw(t, "later"))
		a, b := newDemand(&s, from), newDemand(&s, late)
		var walked float64
		for d := from; d <= late; d++ {
			walked = a.on(d)
		}
		if asked := b.on(late); math.Abs(walked-asked) > 1e-9 {
			t.Errorf("walked to: %g mm, asked: %g mm", walked, asked)
		}
	})
}

// Measured temperatures count as the mean of the five days, and slips among
// them do not break anything.
func TestDemandOfMeasuredDays(t *testing.T) {
	s := busySeason()
	first := demandFirst(s.Plot.Planted - 15)
	s.Weather.Daily = Daily{From: first, Days: []Measured{{20, 30, 0}, {22, 32, 0}, {24, 34, 0}, {22, 30, 0}, {22, 34, 0}}}
	m := newDemand(&s, first)
	ra := ExtraterrestrialMJ(s.Weather.LatitudeDeg, (first + 2).utc().YearDay())
	wantNear(t, "measured", m.on(first), KcInitial*HargreavesMM(DayWeather{MinC: 22, MaxC: 32}, ra), 1e-9)
	normal := s.Weather.Normals.on(first - 3)
	m = newDemand(&s, first-5)
	ra = ExtraterrestrialMJ(s.Weather.LatitudeDeg, (first - 3).utc().YearDay())
	wantNear(t, "the days before", m.on(first-5), KcInitial*HargreavesMM(normal, ra), 1e-9)

	s.Weather.Daily.Days = []Measured{{math.Inf(-1), math.Inf(1), 0}, {500, -500, 0}}
	m = newDemand(&s, first)
	if got := m.on(first); math.IsNaN(got) || math.IsInf(got, 0) || got < 0 {
		t.Errorf("from slips %g mm", got)
	}
}

func TestDemandFirst(t *testing.T) {
	for d, want := range map[Day]Day{0: 0, 4: 0, 5: 5, -1: -5, -5: -5, -6: -10} {
		if got := demandFirst(d); got != want {
			t.Errorf("day %d is among those from %d, want %d", d, got, want)
		}
	}
}
