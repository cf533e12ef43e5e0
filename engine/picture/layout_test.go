package picture

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// textBox is the largest area that a text can cover.
type textBox struct {
	x1, y1, x2, y2 px
	text           string
}

func boxOf(t textLine) textBox {
	w := textWidth(t.Text, t.Size, t.Bold)
	x := map[anchor]px{anchorStart: t.X, anchorMiddle: t.X - w/2, anchorEnd: t.X - w}[t.Anchor]
	return textBox{x, t.Y - 0.8*t.Size, x + w, t.Y + 0.22*t.Size, t.Text}
}

func (b textBox) overlaps(c textBox) bool {
	return b.x1 < c.x2 && c.x1 < b.x2 && b.y1 < c.y2 && c.y1 < b.y2
}

var vertical = regexp.MustCompile(`^M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)$`)

// checkTexts fails the test if a text covers another one, leaves the picture, or is crossed by a vertical line.
func checkTexts(t *rapid.T, d drawing) {
	boxes := make([]textBox, len(d.Texts))
	for i, x := range d.Texts {
		b := boxOf(x)
		if b.x1 < 0 || b.y1 < 0 || b.x2 > d.Width || b.y2 > d.Height {
			t.Errorf("%q leaves the picture of %s by %s: %+v", b.text, d.Width, d.Height, b)
		}
		for _, c := range boxes[:i] {
			if b.overlaps(c) {
				t.Errorf("%q and %q overlap: %+v, %+v", b.text, c.text, b, c)
			}
		}
		boxes[i] = b
	}
	for _, l := range slices.Concat(d.Paths, d.Lines) {
		m := vertical.FindStringSubmatch(l.D)
		if m == nil || m[1] != m[3] {
			continue
		}
		var x, y1, y2 float64
		if _, err := fmt.Sscan(m[1]+" "+m[2]+" "+m[4], &x, &y1, &y2); err != nil {
			t.Fatal(err)
		}
		for _, b := range boxes {
			if b.x1 < px(x) && px(x) < b.x2 && b.y1 < px(y2) && px(y1) < b.y2 {
				t.Errorf("a line at %g from %g to %g runs through %q: %+v", x, y1, y2, b.text, b)
			}
		}
	}
}

// anySeason draws a random valid season and a day on which a picture of it is made.
func anySeason(t *rapid.T) (engine.Season, engine.Day) {
	n := func(name string, from, to int) int { return rapid.IntRange(from, to).Draw(t, name) }
	planted := engine.Date(2026, 1, 1) + engine.Day(n("planted", 0, 400))
	low := rapid.Float64Range(0, 26).Draw(t, "min")
	s := engine.Season{
		Plot: engine.Plot{
			Label:        rapid.StringN(0, 12, 40).Draw(t, "label"),
			Method:       engine.Method(n("method", int(engine.Transplanted), int(engine.Broadcast))),
			Planted:      planted,
			RowSpacingCM: float64(n("row", 15, 30)),
		},
		Tool:    engine.Tool{WidthCM: 15},
		Weather: engine.Steady(low, low+8),
	}
	s.Plot.AreaM2 = float64(rapid.SampledFrom([]int{0, 1, 300, 3000, 100_000}).Draw(t, "area"))
	s.Plot.HillSpacingCM = rapid.SampledFrom([]float64{0, s.Plot.RowSpacingCM}).Draw(t, "hill")
	s.Plot.Flood = engine.Flood(n("flood", 0, 3))
	s.Home.People = n("people", 0, 9)
	s.Weather.LatitudeDeg = rapid.Float64Range(-40, 40).Draw(t, "latitude")
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = rapid.Float64Range(0, 400).Draw(t, "rain")
	}
	for d := n("first pass", 0, 30); d < 70 && len(s.Passes) < 9; d += n("until the next", 0, 25) {
		s.Passes = append(s.Passes, engine.Pass{
			On: planted + engine.Day(d), With: engine.Means(n("with", 0, 2)),
			Way: engine.Way(n("way", 0, 3)), Left: engine.Amount(n("left", 0, 3)),
			Share: rapid.SampledFrom([]float64{0, 0, 1.0 / 2, 1}).Draw(t, "share"),
		})
	}
	for d := n("first sighting", 0, 30); d < 70 && len(s.Sightings) < 9; d += n("until the next", 0, 25) {
		s.Sightings = append(s.Sightings, engine.Sighting{
			On: planted + engine.Day(d), Leaves: engine.Leaves(n("leaves", 0, 4)),
			Amount: engine.Amount(n("amount", 0, 3)), Rows: engine.Rows(n("rows", 0, 2)),
			Water: engine.Stands(n("water", 0, 4)),
		})
	}
	if n("closed", 0, 4) == 0 {
		s.ClosedOn = planted + engine.Day(n("closed on", 0, 70))
	}
	return s, planted + engine.Day(n("today", -40, 120))
}

func TestTextsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today := anySeason(t)
		width := rapid.IntRange(minWidthPX, 1600).Draw(t, "width")
		d, err := draw(s, today, Options{WidthPX: width, Note: rapid.StringN(0, 200, 800).Draw(t, "note")})
		if err != nil {
			t.Fatal(err)
		}
		checkTexts(t, d)
		for _, r := range d.Rects {
			if r.W <= 0 || r.H <= 0 || r.X < 0 || r.X+r.W > d.Width || r.Y+r.H > d.Height {
				t.Errorf("a rectangle out of the picture of %s by %s: %+v", d.Width, d.Height, r)
			}
		}
	})
}

func TestLanes(t *testing.T) {
	for _, c := range []struct {
		name  string
		flags []flag
		want  []int // expected lane of each flag, from left to right
		lanes int
	}{
		{"none", nil, nil, 0},
		{"far apart", []flag{{X: 0, W: 50}, {X: 100, W: 50}}, []int{0, 0}, 1},
		{"a text reaches the next pole", []flag{{X: 0, W: 50}, {X: 40, W: 50}}, []int{1, 0}, 2},
		{"in any order", []flag{{X: 40, W: 50}, {X: 0, W: 50}}, []int{1, 0}, 2},
		{"on the same day", []flag{{X: 5, W: 50}, {X: 5, W: 20}}, []int{1, 0}, 2},
		{"over a low one, under nobody", []flag{{X: 0, W: 100}, {X: 20, W: 10}, {X: 90, W: 50}}, []int{1, 0, 0}, 2},
	} {
		lanes := assignLanes(c.flags)
		var got []int
		for _, f := range c.flags {
			got = append(got, f.Lane)
		}
		if lanes != c.lanes || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v in %d lanes, want %v in %d", c.name, got, lanes, c.want, c.lanes)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		var flags []flag
		for range rapid.IntRange(0, 25).Draw(t, "flags") {
			x, w := rapid.IntRange(0, 900).Draw(t, "x"), rapid.IntRange(1, 200).Draw(t, "w")
			flags = append(flags, flag{X: px(x), W: px(w)})
		}
		lanes := assignLanes(flags)
		for i, f := range flags {
			if f.Lane < 0 || f.Lane >= lanes {
				t.Errorf("lane %d of %d", f.Lane, lanes)
			}
			for j, g := range flags {
				if i != j && f.Lane == g.Lane && f.X < g.X+g.W && g.X < f.X+f.W {
					t.Errorf("%+v and %+v overlap", f, g)
				}
				if f.Lane < g.Lane && f.X < g.X && g.X < f.X+f.W { // the pole of g crosses all lower lanes
					t.Errorf("the pole of %+v runs through %+v", g, f)
				}
			}
		}
	})
}

func rowOf(t testing.TB, s engine.Season, today engine.Day, dayWidth px, drawRow func(*canvas)) *canvas {
	t.Helper()
	season, err := readSeason(s, today)
	if err != nil {
		t.Fatal(err)
	}
	c := &canvas{seasonView: &season, day: dayWidth}
	drawRow(c)
	return c
}

func TestWater(t *testing.T) {
	s, today := sampleSeason()
	planted := s.Plot.Planted
	s.Sightings = []engine.Sighting{
		{On: planted + 5, Water: engine.StandsHand}, {On: planted + 24, Water: engine.StandsFingers},
	}
	c := rowOf(t, s, today, 10, (*canvas).water)
	row := c.rows[0]
	curve := func(dash string) string {
		i := slices.IndexFunc(c.Paths, func(p path) bool { return p.Stroke == colors.Water && p.Dash == dash })
		return c.Paths[i].D
	}
	// The model starts from the last sighting of water, so the curve begins there. The earlier sighting has only its
	// mark.
	seen := fmt.Sprintf("M%s %s", c.mid(planted+24), row.Y+row.H-waterHeight*engine.FingersMM/engine.BundMM)
	if past := curve(""); !strings.HasPrefix(past, seen) || strings.Count(past, "L") != int(today-planted-24) {
		t.Errorf("the water so far is %s, and should begin at %s and end today", past, seen)
	}
	if future := curve("5 4"); !strings.HasPrefix(future, "M"+c.mid(today).String()) {
		t.Errorf("the water expected is %s, and should begin today", future)
	}
	if len(c.Marks) != 2 || !strings.HasPrefix(c.Marks[0].D, "M"+c.mid(planted+5).String()) {
		t.Errorf("the marks are %+v, want one for each sighting of water", c.Marks)
	}
	for _, mm := range []float64{engine.WeedingMostMM, engine.WeedingFromMM, engine.WeedingLeastMM} {
		y := row.Y + row.H - waterHeight*px(mm)/engine.BundMM
		want := straight(leftEdge, y, c.x(c.over()), y, "", 0, "").D
		if !slices.ContainsFunc(c.Paths, func(p path) bool { return p.D == want }) {
			t.Errorf("no line at %g mm: %s", mm, want)
		}
	}

	s.Plot.Method, s.Passes = engine.Broadcast, nil
	for _, p := range rowOf(t, s, today, 10, (*canvas).water).Paths {
		if p.Stroke == colors.Ink {
			t.Errorf("a depth for the tool is drawn where no tool is used: %+v", p)
		}
	}
}

func TestWaterStaysInItsRowAndWeedsGrow(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s, today := anySeason(rt)
		c := rowOf(t, s, today, 4, (*canvas).water)
		checkWeeds(rt, c.seasonView)
		if len(c.rows) == 0 {
			if c.depthKnown(c.first, c.last) || len(c.Paths)+len(c.Texts)+len(c.Marks) > 0 {
				rt.Errorf("no row, and something drawn: %+v", c.drawing)
			}
			return
		}
		row := c.rows[0]
		const slack = 0.1 // px; coordinates are rounded to a tenth of a pixel
		for i, p := range slices.Concat(c.Paths, c.Marks) {
			isMark := i >= len(c.Paths) // a mark on the first or the last day may extend beyond that day
			for _, point := range strings.FieldsFunc(p.D, func(r rune) bool { return strings.ContainsRune("MLZ", r) }) {
				var x, y float64
				if _, err := fmt.Sscan(point, &x, &y); err != nil {
					rt.Fatal(err)
				}
				inX := px(x) >= leftEdge-slack && px(x) <= c.right()+slack
				inY := px(y) >= row.Y-slack && px(y) <= row.Y+row.H+slack
				if !inX && !isMark || !inY {
					rt.Errorf("%s is outside the row %+v: %+v", point, row, p)
				}
			}
		}
	})
}

// The row of chances has the chance of the next window at its best day, no chance before the tool can be used, and the
// chances of the weeds that grow after the window.
func TestChance(t *testing.T) {
	s, today := sampleSeason()
	c := rowOf(t, s, today, 10, (*canvas).chance)
	next := c.plan.Next
	if got := c.chances[next.Best-c.first]; got != next.Chance {
		t.Errorf("%g on the best day, the plan has %g", got, next.Chance)
	}
	for i, chance := range c.chances {
		if d := c.first + engine.Day(i); chance < 0 || chance > 1 || d < s.Plot.Planted+engine.FirstPassDays &&
			chance != 0 {
			t.Errorf("%g on %s", chance, d)
		}
	}
	if got, want := len(c.chances), int(c.over()-c.first); got != want {
		t.Errorf("%d chances, want one for each of the %d days until the end of the work", got, want)
	}
	row := c.rows[0]
	foot := row.Y + row.H
	best := lineTo(c.x(next.Best), foot-chanceHeight*px(next.Chance))
	if !strings.Contains(c.Paths[0].D, best) {
		t.Errorf("%s is not in %s", best, c.Paths[0].D)
	}
	s.Plot.Method, s.Passes = engine.Broadcast, nil
	if hand := rowOf(t, s, today, 10, (*canvas).chance); len(hand.rows) != 0 {
		t.Error("a plot that is weeded by hand has a row of chances")
	}
}

// The windows are the point of the picture: no row stands above them.
func TestWindowsStandAtTheTop(t *testing.T) {
	s, today := sampleSeason()
	d, err := draw(s, today, Options{})
	if err != nil {
		t.Fatal(err)
	}
	at := func(caption string) px {
		i := slices.IndexFunc(d.Texts, func(x textLine) bool { return x.Bold && x.Text == caption })
		return d.Texts[i].Y
	}
	for _, below := range []string{"Weeded", "Seen", "Chance", "Weeds", "Crop"} {
		if at(below) < at("Windows") {
			t.Errorf("%s stands above the windows", below)
		}
	}
}

// On a grey print the shapes of windows differ by pattern, dashes, or what is drawn in the box.
func TestWindowShapesDifferWithoutColour(t *testing.T) {
	seen := map[string]windowShape{}
	for shape := weededWindow; shape <= laterWindow; shape++ {
		var c canvas
		c.box(rect{X: 1, Y: 1, W: 30, H: 14}, shape)
		for i := range c.Rects {
			if c.Rects[i].Stroke = ""; strings.HasPrefix(c.Rects[i].Fill, "#") {
				c.Rects[i].Fill = ""
			}
		}
		for i := range c.Paths {
			c.Paths[i].Stroke = ""
		}
		grey := fmt.Sprintf("%+v %+v", c.Rects, c.Paths)
		if other, ok := seen[grey]; ok {
			t.Errorf("without colour the shapes %d and %d are the same: %s", shape, other, grey)
		}
		seen[grey] = shape
	}
}

// checkWeeds fails the test if the weeds become smaller after today: in the picture nobody weeds then, as nobody lets
// water in.
func checkWeeds(t *rapid.T, v *seasonView) {
	before := engine.LeafRange{}
	for i, g := range v.growth {
		d, w := v.first+engine.Day(i), g.leaves
		if d > v.plan.On+1 && (w.Low < before.Low || w.Mean < before.Mean || w.High < before.High) {
			t.Fatalf("%s: %+v after %+v", d, w, before) // a pass of today takes weeds on the next day
		}
		before = w
	}
}

// After a missed window the weeds count as pulled: the chance drawn on the next best day is the one of the plan.
func TestChanceAfterAMissedWindow(t *testing.T) {
	s, today := sampleSeason()
	s.Passes, s.Sightings = nil, nil
	for d := today; d < today+8; d++ {
		c := rowOf(t, s, d, 10, (*canvas).chance)
		next := c.plan.Next
		if next.Number != 2 || len(c.past) != 1 || c.past[0].End != engine.WindowMissed {
			t.Fatalf("%s: next %+v, past %+v", d, next, c.past)
		}
		if got := c.chances[next.Best-c.first]; got != next.Chance {
			t.Errorf("%s: %g on the best day, the plan has %g", d, got, next.Chance)
		}
	}
}

func TestLeavesSeen(t *testing.T) {
	s, today := sampleSeason()
	s.Passes = nil
	for leaves, want := range map[engine.Leaves][2]px{engine.NoneUp: {0, 0.5}, engine.OneLeaf: {0.5, 1.5},
		engine.TwoThree: {1.5, 3.5}, engine.FourPlus: {3.5, topLeaves}} {
		s.Sightings = []engine.Sighting{{On: today - 1, Leaves: leaves}}
		c := rowOf(t, s, today, 10, (*canvas).weeds)
		row := c.rows[0]
		from, to := row.Y+row.H*(1-want[0]/topLeaves), row.Y+row.H*(1-want[1]/topLeaves)
		if box := leavesBox(c.mid(today-1), to, from-to); !slices.Contains(c.Rects, box) {
			t.Errorf("%s leaves: no box %+v in %+v", leaves, box, c.Rects)
		}
	}
	s.Sightings = []engine.Sighting{{On: today - 1, Water: engine.StandsMud}}
	if c := rowOf(t, s, today, 10, (*canvas).weeds); slices.ContainsFunc(c.Rects, func(r rect) bool {
		return r.Stroke == colors.Ink
	}) {
		t.Error("a look at the water alone has a box of leaves")
	}
}

func TestWork(t *testing.T) {
	s, today := sampleSeason()
	planted := s.Plot.Planted
	byHand := []engine.Pass{{On: planted + 12, With: engine.ByHand}}
	for _, c := range []struct {
		name   string
		change func(*engine.Season)
		boxes  int
		words  string // words that the row must contain; "" = the row must not be drawn
	}{
		{"no area", func(*engine.Season) {}, 0, ""},
		{"a day", func(s *engine.Season) { s.Plot.AreaM2 = 100 }, 1, "1 day's work, start by 9 Dec"},
		{"three days", func(s *engine.Season) { s.Plot.AreaM2 = 1200 }, 4, "3 to 4 days' work, start by 6 Dec"},
		{"more hands", func(s *engine.Season) { s.Plot.AreaM2, s.Home.People = 1200, 2 }, 3,
			"2 to 3 days' work, start by 7 Dec"},
		{"too long", func(s *engine.Season) { s.Plot.AreaM2 = 12_000 }, 4,
			"21 to 40 days' work, too long: about 19% by 9 Dec"},
		{"by hand", func(s *engine.Season) {
			s.Plot.Method, s.Plot.AreaM2, s.Passes = engine.Broadcast, 600, byHand
		}, 3, "2 to 4 days' work, start by 13 Dec"},
		{"closed by the grower", func(s *engine.Season) { s.Plot.AreaM2, s.ClosedOn = 1200, today-1 }, 0, ""},
	} {
		s := s
		c.change(&s)
		drawn := rowOf(t, s, today, 10, (*canvas).work)
		work, ok := drawn.shownWork()
		boxes := 0
		for _, r := range drawn.Rects {
			if r.Stroke == colors.Ink {
				boxes++
			}
		}
		if ok != (c.words != "") || work.words != c.words || boxes != c.boxes {
			t.Errorf("%s: %q in %d boxes, want %q in %d", c.name, work.words, boxes, c.words, c.boxes)
		}
		if ok && work.to != drawn.plan.Next.Closes {
			t.Errorf("%s: the work ends on %s, the window on %s", c.name, work.to, drawn.plan.Next.Closes)
		}
	}
}
