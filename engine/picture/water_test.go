package picture

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// waterRow is the row of the water: it stands after weeds and crop.
func waterRow(t *testing.T, s engine.Season, today engine.Day) (*canvas, row) {
	t.Helper()
	season, err := readSeason(s, today)
	if err != nil {
		t.Fatal(err)
	}
	c := &canvas{seasonView: &season, day: 10}
	c.water()
	if len(c.rows) != 1 {
		t.Fatalf("%d rows drawn, want 1", len(c.rows))
	}
	return c, c.rows[0]
}

func pathOf(c *canvas, stroke, dash string) string {
	for _, p := range c.Paths {
		if p.Stroke == stroke && p.Dash == dash {
			return p.D
		}
	}
	return ""
}

func TestWater(t *testing.T) {
	s, today := sampleSeason()
	planted := s.Plot.Planted
	s.Sightings = []engine.Sighting{{On: planted + 5, Water: engine.StandsHand}, {On: planted + 24, Water: engine.StandsFingers}}
	c, row := waterRow(t, s, today)

	// Before what was seen last nothing is said.
	seen := fmt.Sprintf("M%s %s", c.mid(planted+24), row.Y+row.H-waterHeight*engine.FingersMM/engine.BundMM)
	if was := pathOf(c, colors.Water, ""); !strings.HasPrefix(was, seen) || strings.Count(was, "L") != int(today-planted-24) {
		t.Errorf("the water so far is %s, and should begin at %s and end today", was, seen)
	}
	if will := pathOf(c, colors.Water, "5 4"); !strings.HasPrefix(will, "M"+c.mid(today).String()) {
		t.Errorf("the water expected is %s, and should begin today", will)
	}
	if len(c.Marks) != 2 || !strings.HasPrefix(c.Marks[0].D, "M"+c.mid(planted+5).String()) {
		t.Errorf("the marks are %+v, want one for each sighting of water", c.Marks)
	}
	for _, mm := range []float64{engine.WeedingDepthMM, engine.WeedingLeastMM} {
		y := row.Y + row.H - waterHeight*px(mm)/engine.BundMM
		want := straight(leftEdge, y, c.x(c.over()), y, "", 0, "").D
		found := false
		for _, p := range c.Paths {
			found = found || p.D == want
		}
		if !found {
			t.Errorf("no line at %g mm: %s", mm, want)
		}
	}

	s.Plot.Method, s.Passes = engine.Broadcast, nil
	c, _ = waterRow(t, s, today)
	for _, p := range c.Paths {
		if p.Stroke == colors.Ink {
			t.Errorf("a depth for the tool is drawn where none passes: %+v", p)
		}
	}
}

func TestWaterStaysInItsRow(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s, today := anySeason(rt)
		season, err := readSeason(s, today)
		if err != nil {
			rt.Fatal(err)
		}
		c := &canvas{seasonView: &season, day: 4}
		c.water()
		if len(c.rows) == 0 {
			if season.depthKnown(season.first, season.last) || len(c.Paths)+len(c.Texts)+len(c.Marks) > 0 {
				rt.Errorf("no row, and something drawn: %+v", c.drawing)
			}
			return
		}
		row := c.rows[0]
		for _, p := range append(c.Paths, c.Marks...) {
			for _, point := range strings.FieldsFunc(p.D, func(r rune) bool { return r == 'M' || r == 'L' || r == 'Z' }) {
				var x, y float64
				if _, err := fmt.Sscan(point, &x, &y); err != nil {
					rt.Fatal(err)
				}
				const slack = 0.1 // of rounding
				if p.Fill == colors.Paper {
					x = float64(c.mid(c.first)) // marks are as wide as they are
				}
				if x < float64(leftEdge)-slack || x > float64(c.right())+slack || y < float64(row.Y)-slack || y > float64(row.Y+row.H)+slack {
					rt.Errorf("%s lies outside the row %+v: %+v", point, row, p)
				}
			}
		}
	})
}

func TestWorkBar(t *testing.T) {
	s, today := sampleSeason()
	planted := s.Plot.Planted
	for _, c := range []struct {
		name   string
		change func(*engine.Season)
		boxes  int
		words  string // "" = no bar
	}{
		{"no area", func(*engine.Season) {}, 0, ""},
		{"a day", func(s *engine.Season) { s.Plot.AreaM2 = 100 }, 1, "1 day's work, start by 13 Dec"},
		{"three days", func(s *engine.Season) { s.Plot.AreaM2 = 1200 }, 3, "3 days' work, start by 11 Dec"},
		{"more hands", func(s *engine.Season) { s.Plot.AreaM2, s.Home.People = 1200, 2 }, 2, "2 days' work, start by 12 Dec"},
		{"too long", func(s *engine.Season) { s.Plot.AreaM2 = 12_000 }, 7, "21 days' work, too long: about 33% by 13 Dec"},
		{"by hand", func(s *engine.Season) {
			s.Plot.Method, s.Plot.AreaM2, s.Passes = engine.Broadcast, 600, []engine.Pass{{On: planted + 12, With: engine.ByHand}}
		}, 2, "2 days' work, start by 14 Dec"},
		{"closed by the grower", func(s *engine.Season) { s.Plot.AreaM2, s.ClosedOn = 1200, today-1 }, 0, ""},
	} {
		s := s
		c.change(&s)
		season, err := readSeason(s, today)
		if err != nil {
			t.Fatal(err)
		}
		canvas := &canvas{seasonView: &season, day: 10}
		canvas.work()
		bar, ok := season.shownWork()
		boxes := 0
		for _, r := range canvas.Rects {
			if r.Stroke == colors.Ink {
				boxes++
			}
		}
		if ok != (c.words != "") || bar.words != c.words || boxes != c.boxes {
			t.Errorf("%s: %q in %d boxes, want %q in %d", c.name, bar.words, boxes, c.words, c.boxes)
		}
		if ok && bar.to != season.plan.Next.Closes {
			t.Errorf("%s: the bar ends on %s, the window on %s", c.name, bar.to, season.plan.Next.Closes)
		}
	}
}
