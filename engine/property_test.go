package engine

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func drawTool(t *rapid.T) Tool {
	if rapid.IntRange(0, 4).Draw(t, "tool") == 0 {
		return Tool{}
	}
	tool := Tool{WidthCM: float64(rapid.IntRange(MinToolCM, 30).Draw(t, "width"))}
	if rapid.Bool().Draw(t, "adjustable") {
		tool.MaxWidthCM = tool.WidthCM + float64(rapid.IntRange(1, 20).Draw(t, "wider"))
	}
	return tool
}

func drawPlot(t *rapid.T) Plot {
	p := Plot{
		Method: rapid.SampledFrom([]Method{Transplanted, Transplanted, Transplanted, RowSown,
			Broadcast}).Draw(t, "method"),
		Planted:          Date(2026, 1, 1) + Day(rapid.IntRange(0, 1500).Draw(t, "planted")),
		SeedlingsPerHill: rapid.IntRange(0, MaxSeedlingsPerHill).Draw(t, "seedlings"),
		RowSpacingCM:     float64(rapid.IntRange(2*MinSpacingCM, 2*60).Draw(t, "half cm of row")) / 2,
		AreaM2:           float64(rapid.IntRange(0, 20_000).Draw(t, "area")),
		Flood:            Flood(rapid.IntRange(0, int(FloodOnOff)).Draw(t, "flood")),
	}
	if rapid.Bool().Draw(t, "hills told") {
		p.HillSpacingCM = float64(rapid.IntRange(MinSpacingCM, 60).Draw(t, "hill"))
	}
	if rapid.Bool().Draw(t, "age told") {
		p.SeedlingAgeDays = rapid.IntRange(MinSeedlingAgeDays, MaxSeedlingAgeDays).Draw(t, "age")
	}
	if rapid.Bool().Draw(t, "variety told") {
		p.DurationDays = rapid.IntRange(MinDurationDays, MaxDurationDays).Draw(t, "duration")
	}
	if rapid.Bool().Draw(t, "puddling told") {
		p.Puddled = p.Planted - Day(rapid.IntRange(0, MaxPuddledBeforeDays).Draw(t, "puddled before"))
	}
	return p
}

func drawWeather(t *rapid.T) Weather {
	var w Weather
	mean, swing := rapid.Float64Range(-5, 34).Draw(t, "mean"), rapid.Float64Range(0, 8).Draw(t, "swing")
	warmest := rapid.IntRange(0, 11).Draw(t, "warmest month")
	for i := range w.Normals {
		away := min((i-warmest+12)%12, (warmest-i+12)%12)
		m := mean + swing*float64(3-away)/3
		half := rapid.Float64Range(0, 8).Draw(t, "half range")
		w.Normals[i] = Normal{MinC: m - half, MaxC: m + half}
	}
	return w
}

// drawSeason draws a valid season with passes and sightings in its first 70 days.
func drawSeason(t *rapid.T) Season {
	s := Season{Plot: drawPlot(t), Tool: drawTool(t), Weather: drawWeather(t)}
	days := rapid.SliceOfN(rapid.IntRange(-3, 70), 0, 5)
	sorted := func(label string) []int {
		d := days.Draw(t, label)
		slices.Sort(d)
		return d
	}
	for _, d := range sorted("passes") {
		s.Passes = append(s.Passes, Pass{
			On: s.Plot.Planted + Day(d), With: Means(rapid.IntRange(0, int(ByHand)).Draw(t, "with")),
			Way:  Way(rapid.IntRange(0, int(Both)).Draw(t, "way")),
			Left: Amount(rapid.IntRange(0, int(Many)).Draw(t, "left")),
		})
	}
	for _, d := range sorted("sightings") {
		s.Sightings = append(s.Sightings, Sighting{
			On: s.Plot.Planted + Day(d), Leaves: Leaves(rapid.IntRange(0, int(NoneUp)).Draw(t, "leaves")),
			Amount: Amount(rapid.IntRange(0, int(Many)).Draw(t, "amount")),
			Rows:   Rows(rapid.IntRange(0, int(RowsClosed)).Draw(t, "rows")),
			Water:  Stands(rapid.IntRange(0, int(StandsHand)).Draw(t, "water")),
		})
	}
	if rapid.IntRange(0, 3).Draw(t, "registered") > 0 {
		s.Since = s.Plot.Planted + Day(rapid.IntRange(-10, 60).Draw(t, "since"))
	}
	if rapid.IntRange(0, 5).Draw(t, "closed") == 0 {
		s.ClosedOn = s.Plot.Planted + Day(rapid.IntRange(0, 70).Draw(t, "closed on"))
	}
	return s
}

func drawDay(t *rapid.T, s Season) Day {
	return s.Plot.Planted + Day(rapid.IntRange(-10, 90).Draw(t, "today"))
}

func cooler(s Season, by float64) Season {
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].MinC -= by
		s.Weather.Normals[i].MaxC -= by
	}
	return s
}

// withoutLeaves returns the season without the leaf counts.
func withoutLeaves(s Season) Season {
	s.Sightings = slices.Clone(s.Sightings)
	for i := range s.Sightings {
		s.Sightings[i].Leaves = LeavesUnknown
	}
	return s
}

// coldest returns the lowest mean temperature of a month.
func coldest(s Season) float64 {
	mean := math.Inf(1)
	for _, n := range s.Weather.Normals {
		mean = min(mean, (n.MinC+n.MaxC)/2)
	}
	return mean
}

// clocksAgreeC is a temperature in °C from which on the weed clocks differ by days. Below it they differ by weeks,
// because some base temperatures are near.
const clocksAgreeC = 16.0

// later reports whether window w has a later best day than the window of a cooler place, or opens later by more than a
// day. The first day is where the chance falls to a share of the greatest; where it is cooler the greatest chance is
// less, and the first day may be a day earlier with the same best day.
func later(w, cool Window) bool { return w.Best > cool.Best+1 || w.Opens > cool.Opens+1 }

// Leaf counts are left out: in a cooler place the same leaf count means faster weeds.
func TestACoolerPlaceIsNeverEarlier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := withoutLeaves(drawSeason(t))
		today := drawDay(t, s)
		cold := cooler(s, rapid.Float64Range(0.01, 15).Draw(t, "cooler by"))
		warm, cool := must(s.Plan(today)), must(cold.Plan(today))
		// The warm place may miss a window earlier and then already have the next window. So the windows are compared
		// only if the cool place's window has the same number or a higher one.
		if warm.Next.Exists() && warm.Next.Number <= cool.Next.Number && later(warm.Next, cool.Next) &&
			coldest(cold) > clocksAgreeC {
			t.Errorf("opens %+v, where it is cooler %+v", warm.Next, cool.Next)
		}
		// Each point of the distribution is never earlier in the cooler place.
		unseen, coldUnseen := s.asOf(today), cold.asOf(today)
		points, coolPoints := unseen.weeds(), coldUnseen.weeds()
		for b := range points.point {
			for i, p := range points.point[b] {
				const rounding = 1e-9
				q := coolPoints.point[b][i]
				if p.up > q.up+rounding || p.opens > q.opens+rounding || p.closes > q.closes+rounding {
					t.Errorf("book %d, speed %d: %+v, where it is cooler %+v", b, i, p, q)
				}
			}
		}
		if d := max(today, points.from); points.leaves(d) < coolPoints.leaves(d)-1e-9 {
			t.Errorf("%g leaves, where it is cooler %g", points.leaves(d), coolPoints.leaves(d))
		}
		// The day with the greatest chance follows the points only where the clocks agree. Else the greatest chance may
		// be that of other clocks in the cooler place.
		first, coolFirst := unseen.nextWindow(today), coldUnseen.nextWindow(today)
		if coldest(cold) > clocksAgreeC && (later(first, coolFirst) || first.AskOn > coolFirst.AskOn) {
			t.Errorf("first window %+v, where it is cooler %+v", first, coolFirst)
		}
		// A warm nursery makes the pause after transplanting longer. Near the base temperature or above the ceiling,
		// this may delay the crop by more than the warm field gains, so the last tool day is not compared.
		for i := range s.Weather.Normals {
			if n := cold.Weather.Normals[i]; s.Weather.Normals[i].MaxC > HeatCeilingC ||
				(n.MinC+n.MaxC)/2 < CanopyBaseC+4 {
				return
			}
		}
		// Panicle initiation is counted back from the told harvest, so where it is cooler it is earlier.
		if coldUnseen.closure().Why != EndPanicle && warm.Closure.LastToolDay > cool.Closure.LastToolDay {
			t.Errorf("last tool day %s, where it is cooler %s", warm.Closure.LastToolDay, cool.Closure.LastToolDay)
		}
	})
}

func TestWindowsComeAfterThePass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		pass := Pass{On: today, With: ByTool, Left: Amount(rapid.IntRange(0, int(Many)).Draw(t, "left"))}
		s.Passes = append(s.asOf(today).Passes, pass)
		if today < s.Plot.Planted {
			return
		}
		p := must(s.Plan(today + Day(rapid.IntRange(0, 20).Draw(t, "days after"))))
		if p.Next.Exists() && p.Next.Opens <= today {
			t.Errorf("weeded on %s, and the next window opens on %s", today, p.Next.Opens)
		}
	})
}

func TestWindowsAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		p := must(s.Plan(today))
		if !p.Next.Exists() && len(p.Later) > 0 {
			t.Errorf("no next window, and %v later", p.Later)
		}
		before := Window{}
		for i, w := range append([]Window{p.Next}, p.Later...) {
			if !w.Exists() {
				if w != (Window{}) {
					t.Errorf("no window, but %+v", w)
				}
				continue
			}
			if w.Opens > w.Best || w.Best > w.Closes || w.Closes > p.Closure.LastToolDay {
				t.Errorf("window %d is %s, %s, %s; last tool day %s", i, w.Opens, w.Best, w.Closes,
					p.Closure.LastToolDay)
			}
			if w.NudgeOn() <= w.Best || w.LastDays() < w.Opens || w.Closes < w.LastDays() || !w.Contains(w.Best) ||
				w.Contains(w.Closes+1) {
				t.Errorf("window %d: nudge %s, last days %s of %+v", i, w.NudgeOn(), w.LastDays(), w)
			}
			if i > 0 && (w.Opens <= today || w.Opens <= before.Best || w.Number <= before.Number) {
				t.Errorf("on %s window %+v comes after %+v", today, w, before)
			}
			before = w
		}
	})
}

func TestPlanIsAFunctionOfItsInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		kept := s
		kept.Passes, kept.Sightings = slices.Clone(s.Passes), slices.Clone(s.Sightings)
		// Plan does not write into unused capacity of the slices, which s.Passes gets here.
		s.Passes = append(make([]Pass, 0, 20), s.Passes...)
		room := s.Passes[:cap(s.Passes)]
		today := drawDay(t, s)
		first, second := must(s.Plan(today)), must(s.Plan(today))
		if !reflect.DeepEqual(first, second) {
			t.Errorf("%+v, and again %+v", first, second)
		}
		if len(kept.Passes) == 0 {
			kept.Passes = s.Passes
		}
		if !reflect.DeepEqual(kept, s) {
			t.Errorf("the season was changed: %+v, was %+v", s, kept)
		}
		for _, p := range room[len(s.Passes):] {
			if p != (Pass{}) {
				t.Errorf("written behind the passes: %+v", p)
			}
		}
		short, err := s.Windows(today)
		first.WeedLeaves, first.Shade, first.Later = 0, 0, nil
		if err != nil || !reflect.DeepEqual(short, first) {
			t.Errorf("Windows %+v, %v; Plan %+v", short, err, first)
		}
		if known := must(s.asOf(today).Plan(today)); !reflect.DeepEqual(known, second) {
			t.Errorf("with what is to come %+v, without it %+v", second, known)
		}
	})
}

func TestClosedStaysClosed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		// A sighting of open rows may open a closed season again.
		s.Sightings = slices.DeleteFunc(s.Sightings, func(x Sighting) bool { return x.Rows == RowsOpen })
		today := drawDay(t, s)
		if must(s.Plan(today)).State != Closed {
			return
		}
		for d := today + 1; d < today+40; d++ {
			if p := must(s.Plan(d)); p.State != Closed || p.Next.Exists() || p.LookAgain != 0 {
				t.Fatalf("closed on %s, and on %s %s, next %+v, look again %s", today, d, p.State, p.Next, p.LookAgain)
			}
		}
	})
}

func TestNothingChangesUntilLookAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		s = s.asOf(today) // no passes or sightings after today
		told := drawTold(t, s.Plot.Planted, today)
		p := must(s.Plan(today))
		if p.State == Closed {
			if p.LookAgain != 0 {
				t.Fatalf("closed, and to be looked at again on %s", p.LookAgain)
			}
			return
		}
		if p.LookAgain <= today {
			t.Fatalf("look again on %s, today %s", p.LookAgain, today)
		}
		for d := today + 1; d < p.LookAgain; d++ {
			q := must(s.Plan(d))
			if q.State != p.State || q.due(told).Kind != p.due(told).Kind || q.Next != p.Next ||
				q.LookAgain != p.LookAgain {
				t.Fatalf("%s: %s, %s; on %s: %s, %s", today, p.State, p.due(told).Kind, d, q.State, q.due(told).Kind)
			}
		}
	})
}
