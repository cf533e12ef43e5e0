package report

import (
	"errors"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
)

var june = engine.Date(2026, time.June, 3) // a Wednesday

func weeding(on engine.Day, with engine.Means, fell engine.Fell, perHa float64) engine.Weeding {
	return engine.Weeding{On: on, With: with, Fell: fell, HoursPerHa: perHa}
}

// Three plots, added up by hand.
func TestAdd(t *testing.T) {
	f := Field{}
	f.Add(1, june, []engine.Weeding{
		weeding(june+12, engine.ByTool, engine.FellInside, 60),
		weeding(june+14, engine.ByHand, engine.FellBehind, 20),
		weeding(june+26, engine.ByTool, engine.FellLate, 0),
	})
	f.Add(1, june, nil)
	f.Add(2, june+40, []engine.Weeding{weeding(june+52, engine.ByHand, engine.FellEarly, 200)})
	all := By(f, func(k Key) int64 { return k.Place }).All()
	if all.Planted() != 3 || all.Plots != [...]int64{1, 1, 1, 0, 0} {
		t.Errorf("plots: %v", all.Plots)
	}
	if all.Tool != (Passes{Inside: 1, Late: 1}) || all.Hand != (Passes{Early: 1, Behind: 1}) {
		t.Errorf("tool %+v, hand %+v", all.Tool, all.Hand)
	}
	if all.Hours.N() != 1 || all.ByHand.N() != 1 {
		t.Errorf("hours of %d passes with the tool and %d by hand", all.Hours.N(), all.ByHand.N())
	}
	weeks := By(f, func(k Key) Week { return k.Week })
	if got := weeks[WeekOf(june+12)].Passes(); got != (Passes{Inside: 1, Behind: 1}) {
		t.Errorf("week of 15 June, with a weeding on the 17th: %+v", got)
	}
	months := By(f, func(k Key) Month { return k.Month })
	if len(months) != 2 || months[MonthOf(june)].Planted() != 2 || months[MonthOf(june)+1].Passes().Early != 1 {
		t.Errorf("months: %v", months)
	}
}

// Sums over places, weeks and months are the whole, and the weedings of the plots are the passes.
func TestSumsAreTheWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t)
		all := By(f, func(Key) bool { return true }).Of(true)
		check := func(name string, sum *Grown) {
			if *sum != *all {
				t.Fatalf("%s: %+v, the whole is %+v", name, *sum, *all)
			}
		}
		check("places", By(f, func(k Key) int64 { return k.Place }).All())
		check("weeks", By(f, func(k Key) Week { return k.Week }).All())
		check("months", By(f, func(k Key) Month { return k.Month }).All())
		weedings := int64(0)
		for times, n := range all.Plots {
			weedings += int64(times) * n
		}
		if passes := all.Passes(); passes.All() < weedings || all.Plots[MostWeedings] == 0 && passes.All() != weedings {
			t.Fatalf("%d passes, and plots with %d weedings", passes.All(), weedings)
		}
		if all.Hours.N() > all.Tool.All() || all.ByHand.N() > all.Hand.All() {
			t.Fatalf("more hours than passes: %+v", all)
		}
	})
}

func drawField(t *rapid.T) Field {
	f := Field{}
	for range rapid.IntRange(0, 30).Draw(t, "plots") {
		planted := june + engine.Day(rapid.IntRange(0, 400).Draw(t, "planted"))
		var list []engine.Weeding
		for i := range rapid.IntRange(0, 6).Draw(t, "weedings") {
			list = append(list, weeding(planted+engine.Day(12*i),
				engine.Means(rapid.IntRange(int(engine.ByTool), int(engine.ByHand)).Draw(t, "with")),
				engine.Fell(rapid.IntRange(int(engine.FellInside), int(engine.FellBehind)).Draw(t, "fell")),
				rapid.SampledFrom([]float64{0, 0.5, 45, 106, 3e4}).Draw(t, "hours")))
		}
		f.Add(rapid.Int64Range(1, 4).Draw(t, "place"), planted, list)
	}
	return f
}

func TestHours(t *testing.T) {
	var h Hours
	if h.Below(0.5) != 0 {
		t.Error("hours without a pass")
	}
	for _, x := range []float64{42, 50, 58, 71, 106} { // the middle one is 58
		h.add(HoursBin(x), 1)
	}
	for share, want := range map[float64]float64{0.1: 42, 0.5: 58, 0.9: 106} {
		if got := h.Below(share); math.Abs(math.Log(got/want)) > math.Log(10)/binsOfTen {
			t.Errorf("%g of the passes took less than %g h/ha, want about %g", share, got, want)
		}
	}
	for x, want := range map[float64]int{0: 0, 1: 0, 10: binsOfTen, 1e4: highestBin, 1e9: highestBin} {
		if got := HoursBin(x); got != want {
			t.Errorf("%g h/ha is in bin %d, want %d", x, got, want)
		}
	}
	if HoursBin(math.NaN()) != 0 || HoursBin(math.Inf(1)) != highestBin {
		t.Error("hours that are no number")
	}
}

// The share of the passes below a number of hours grows with it, and each bin holds its own hours.
func TestHoursGrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var h Hours
		for _, x := range rapid.SliceOfN(rapid.Float64Range(1, 9999), 1, 20).Draw(t, "hours") {
			bin := HoursBin(x)
			low, high := math.Pow(10, float64(bin)/binsOfTen), math.Pow(10, float64(bin+1)/binsOfTen)
			if x < low*(1-1e-9) || x > high*(1+1e-9) {
				t.Fatalf("%g is in the bin from %g to %g", x, low, high)
			}
			h.add(bin, 1)
		}
		a, b := rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(0, 1).Draw(t, "b")
		if h.Below(min(a, b)) > h.Below(max(a, b)) {
			t.Fatalf("below %g: %g, below %g: %g", a, h.Below(a), b, h.Below(b))
		}
	})
}

// 1 January 1970 was a Thursday; 29 June 2026 is a Monday.
func TestWeeks(t *testing.T) {
	for day, want := range map[engine.Day]engine.Day{
		0:                                 -3,
		-4:                                -10,
		engine.Date(2026, time.June, 29):  engine.Date(2026, time.June, 29),
		engine.Date(2026, time.July, 5):   engine.Date(2026, time.June, 29),
		engine.Date(2026, time.July, 6):   engine.Date(2026, time.July, 6),
		engine.Date(1969, time.March, 10): engine.Date(1969, time.March, 10),
	} {
		if got := WeekOf(day).Monday(); got != want || got.Weekday() != time.Monday {
			t.Errorf("the week of %s begins on %s, want %s", day, got, want)
		}
	}
}

func TestSpans(t *testing.T) {
	for text, words := range map[string]string{
		"2026-05..2026-08": "May to August 2026",
		"2026-05..2026-05": "May 2026",
		"2025-11..2026-01": "November 2025 to January 2026",
	} {
		s, err := ParseSpan(text)
		if err != nil || s.String() != text || s.Words() != words {
			t.Errorf("%s is read as %s, %q, %v", text, s, s.Words(), err)
		}
	}
	for _, text := range []string{"", "2026", "2026-05", "2026-13..2026-14", "2026-08..2026-05", "2026-05..",
		"..2026-05", "2026-5..2026-8", "0001-01..0001-02"} {
		if s, err := ParseSpan(text); !errors.Is(err, ErrSpan) {
			t.Errorf("%q is read as %s, %v", text, s, err)
		}
	}
}

func FuzzParseSpan(f *testing.F) {
	f.Add("2026-05..2026-08")
	f.Add("..")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSpan(text)
		if err != nil {
			return
		}
		again, err := ParseSpan(s.String())
		if err != nil || again != s || s.From > s.To {
			t.Errorf("%q is read as %s, and that as %s, %v", text, s, again, err)
		}
	})
}

func TestSeasons(t *testing.T) {
	may := MonthOf(june) - 1
	year := map[Month]int64{} // two crops that overlap: the fewest plots are planted in the months 6 and 7
	for i, n := range []int64{20, 60, 90, 40, 10, 4, 2, 12, 50, 80, 30, 9} {
		year[may+Month(i)] = n
	}
	for _, c := range []struct {
		name    string
		planted map[Month]int64
		want    []Span
	}{
		{"nothing planted", map[Month]int64{may: 0}, nil},
		{"one month", map[Month]int64{may: 5}, []Span{{may, may}}},
		{"a gap", map[Month]int64{may: 5, may + 1: 9, may + 3: 1}, []Span{{may + 3, may + 3}, {may, may + 1}}},
		{"eight months are one season", months(may, 8), []Span{{may, may + 7}}},
		{"two crops that overlap", year, []Span{{may + 6, may + 11}, {may, may + 5}}},
		{"nine equal months", months(may, 9), []Span{{may + 4, may + 8}, {may, may + 3}}},
	} {
		got := Seasons(c.planted)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
			}
		}
	}
}

func months(from Month, n int) map[Month]int64 {
	planted := map[Month]int64{}
	for i := range n {
		planted[from+Month(i)] = 3
	}
	return planted
}

// Every month of planting is in exactly one season, and none is too long.
func TestSeasonsHoldAllMonths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		planted := map[Month]int64{}
		for m, n := range rapid.MapOf(rapid.Int32Range(600, 660), rapid.Int64Range(0, 9)).Draw(t, "planted") {
			planted[Month(m)] = n
		}
		list := Seasons(planted)
		for m, n := range planted {
			in := 0
			for _, s := range list {
				if s.Has(m) {
					in++
				}
			}
			if n > 0 && in != 1 || n == 0 && in > 0 {
				t.Fatalf("month %s with %d plots is in %d of %v", m, n, in, list)
			}
		}
		for i, s := range list {
			if s.To-s.From >= mostMonths || i > 0 && s.To >= list[i-1].From {
				t.Fatalf("%v", list)
			}
		}
	})
}

func TestOfAll(t *testing.T) {
	for _, c := range []struct {
		n, all int64
		want   string
	}{
		{0, 0, "No passes"},
		{0, 1, "0 of 1 passes"},
		{0, 7, "None of 7 passes"},
		{7, 7, "All 7 passes"},
		{5, 7, "5 of 7 passes"},
		{667, 1000, "About two of three passes"},
		{640, 1000, "About two of three passes"},
		{500, 1000, "About half of the passes"},
		{520, 1000, "About half of the passes"},
		{250, 1000, "About one of four passes"},
		{700, 1000, "About seven of ten passes"},
		{800, 1000, "About four of five passes"},
		{900, 1000, "About nine of ten passes"},
		{970, 1000, "Nearly all passes"},
		{30, 1000, "Hardly any passes"},
	} {
		if got := OfAll(c.n, c.all, "passes"); got != c.want {
			t.Errorf("%d of %d: %q, want %q", c.n, c.all, got, c.want)
		}
	}
}

// What is said is never further off than a twentieth.
func TestOfAllIsNear(t *testing.T) {
	for n := int64(41); n < 960; n++ {
		top, bottom := fraction(float64(n) / 1000)
		if off := math.Abs(float64(n)/1000 - float64(top)/float64(bottom)); off > 0.06 {
			t.Errorf("%d of 1000 is said as %d of %d", n, top, bottom)
		}
	}
}
