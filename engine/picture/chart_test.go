package picture

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
)

var monday = engine.Date(2026, time.June, 1)

// Worked by hand: the scale goes to 40 in a plot of 150 px, so 10 passes are 37.5 px high and 20 are 75 px.
func TestColumnsAreToScale(t *testing.T) {
	c := Columns{Chart: Chart{Title: "passes", Unit: "passes"}, Series: []string{"in", "out"}, Weeks: []Column{
		{monday, []float64{10, 20}}, {monday + 14, []float64{0, 40}},
	}}.draw()
	heights := map[string][]px{}
	var lefts []px
	for _, p := range c.Paths {
		for part := range strings.SplitSeq(strings.TrimSuffix(p.D, "z"), "z") {
			var x, y, w, h float64
			if _, err := fmt.Sscanf(part, "M%g %gh%gv%gh", &x, &y, &w, &h); err != nil {
				t.Fatalf("%q: %v", part, err)
			}
			heights[p.Fill], lefts = append(heights[p.Fill], px(h)), append(lefts, px(x))
		}
	}
	if !nearPX(heights[chartFills[0]], 37.5) || !nearPX(heights[chartFills[1]], 75, 150) {
		t.Errorf("heights %v", heights)
	}
	if len(lefts) != 3 || lefts[0] != lefts[1] || !nearPX([]px{lefts[2] - lefts[0]}, 2*maxColumn) {
		t.Errorf("columns at %v: the third week is two columns of %s after the first", lefts, maxColumn)
	}
}

// Worked by hand: of 20, 15 are three quarters of the bar.
func TestBarsAreToScale(t *testing.T) {
	for _, shares := range []bool{true, false} {
		c := Bars{Chart: Chart{Unit: "plots"}, Series: []string{"a", "b"}, Shares: shares,
			Rows: []Bar{{"Valley", []float64{15, 5}}}}.draw()
		var widths []px
		for _, r := range c.Rects {
			if r.H == barHeight {
				widths = append(widths, r.W)
			}
		}
		if len(widths) != 2 || !nearPX([]px{widths[0] / widths[1]}, 3) {
			t.Errorf("widths %v, want three to one", widths)
		}
		want := map[bool]string{true: "75%", false: "20"}[shares]
		if !slices.ContainsFunc(c.Texts, func(l textLine) bool { return l.Text == want }) {
			t.Errorf("the bar does not say %s: %+v", want, c.Texts)
		}
	}
}

// A line is broken where a week is missing.
func TestLineIsBroken(t *testing.T) {
	k := Line{Chart: Chart{Unit: "h"}, Band: Band{"published", 42, 106}}
	for _, week := range []engine.Day{0, 1, 3, 4} {
		k.Points = append(k.Points, Point{monday + 7*week, 50})
	}
	c := k.draw()
	if len(c.Paths) != 2 || len(c.Marks) != 4 {
		t.Errorf("%d parts with %d dots, want 2 with 4", len(c.Paths), len(c.Marks))
	}
}

func nearPX(got []px, want ...px) bool {
	return slices.EqualFunc(got, want, func(a, b px) bool { return math.Abs(float64(a-b)) < 1e-6 })
}

func TestScaleTo(t *testing.T) {
	for _, c := range []struct {
		most      float64
		whole     bool
		top, step float64
	}{
		{0, true, 1, 1}, {1, true, 1, 1}, {3, true, 3, 1}, {5, true, 6, 2}, {17, true, 20, 5}, {120, true, 150, 50},
		{9.5, true, 10, 5}, {100, false, 100, 50}, {0.7, false, 0.8, 0.2}, {106, false, 150, 50}, {1e6, true, 1e6, 5e5},
		{math.NaN(), false, 1, 0.5}, {math.Inf(1), true, 1, 1}, {-3, false, 1, 0.5},
	} {
		if s := scaleTo(c.most, c.whole); math.Abs(s.top-c.top) > 1e-9 || math.Abs(s.step-c.step) > 1e-9 {
			t.Errorf("to %g: %+v, want %g in steps of %g", c.most, s, c.top, c.step)
		}
	}
}

// A scale holds its value and has two to six parts; of whole numbers at least one.
func TestScalesHoldTheirValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		most := math.Pow(10, rapid.Float64Range(-3, 9).Draw(t, "log of most"))
		s := scaleTo(most, false)
		if n := len(s.values()) - 1; s.top < most*(1-1e-6) || n < 2 || n > 6 {
			t.Fatalf("to %g: %+v with %d parts", most, s, n)
		}
		if s := scaleTo(most, true); s.top < most*(1-1e-6) || s.step != math.Round(s.step) || len(s.values()) > 7 {
			t.Fatalf("whole to %g: %+v", most, s)
		}
	})
}

func TestDecimal(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 7: "7", 999: "999", 1000: "1,000", 1234567.5: "1,234,567.5",
		-1000: "-1,000", 0.30000000000000004: "0.3"} {
		if got := Decimal(x); got != want {
			t.Errorf("%g is written %q, want %q", x, got, want)
		}
	}
}

// anyChart draws one of the charts with random names and values.
func anyChart(t *rapid.T) *chartCanvas {
	n := func(name string, most int) int { return rapid.IntRange(0, most).Draw(t, name) }
	name := rapid.OneOf(rapid.StringN(0, 40, 160),
		rapid.SampledFrom([]string{"Valley", "in the window", "धान की घाटी"}))
	value := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 1e7), rapid.Float64Range(0, 100))
	chart := Chart{Title: name.Draw(t, "title"), Unit: "passes a week", WidthPX: 280 + n("wider", 400)}
	series := rapid.SliceOfN(name, 1, MostSeries).Draw(t, "series")
	values := func() []float64 { return rapid.SliceOfN(value, len(series), len(series)).Draw(t, "values") }
	switch n("chart", 3) {
	case 0:
		k := Columns{Chart: chart, Series: series}
		for i := range n("weeks", 40) {
			k.Weeks = append(k.Weeks, Column{monday + engine.Day(7*i), values()})
		}
		return k.draw()
	case 1:
		k := Bars{Chart: chart, Series: series, Shares: rapid.Bool().Draw(t, "shares")}
		for range n("rows", 8) {
			k.Rows = append(k.Rows, Bar{name.Draw(t, "name"), values()})
		}
		return k.draw()
	case 2:
		k := Line{Chart: chart, Band: Band{name.Draw(t, "band"), 42, 106}}
		for i := range n("weeks", 40) {
			k.Points = append(k.Points, Point{monday + engine.Day(7*i), value.Draw(t, "value")})
		}
		return k.draw()
	}
	k := Ranges{Chart: chart}
	for range n("rows", 8) {
		v := rapid.SliceOfN(rapid.Float64Range(0, 9999), 3, 3).Draw(t, "range")
		slices.Sort(v)
		k.Rows = append(k.Rows, Range{name.Draw(t, "name"), v[0], v[1], v[2], rapid.Bool().Draw(t, "published")})
	}
	return k.draw()
}

func TestTextsOfChartsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChart(t)
		var b bytes.Buffer
		if err := c.write(&b); err != nil {
			t.Fatal(err)
		}
		checkTexts(t, c.drawing)
		for _, r := range c.Rects {
			if !(r.W >= 0 && r.H >= 0 && r.X >= 0 && r.Y >= 0 && r.X+r.W <= c.Width+0.01 && r.Y+r.H <= c.Height) {
				t.Fatalf("%+v leaves the chart of %s x %s", r, c.Width, c.Height)
			}
		}
	})
}

// Charts are documents without anything that could run, and names stay what was typed.
func TestChartsAreSafe(t *testing.T) {
	const nasty = `</text><script>x("1")</script>&amp;'`
	chart := Chart{Title: nasty, Desc: nasty, Unit: "h"}
	for name, write := range map[string]func(io.Writer) error{
		"columns": func(w io.Writer) error {
			return WriteColumns(w, Columns{Chart: chart, Series: []string{nasty, "b"},
				Weeks: []Column{{monday, []float64{1, 2}}}})
		},
		"bars": func(w io.Writer) error {
			return WriteBars(w, Bars{Chart: chart, Series: []string{"a"}, Rows: []Bar{{nasty, []float64{1}}}})
		},
		"line": func(w io.Writer) error {
			return WriteLine(w, Line{Chart: chart, Band: Band{nasty, 1, 2}, Points: []Point{{monday, 1}}})
		},
		"ranges": func(w io.Writer) error {
			return WriteRanges(w, Ranges{Chart: chart, Rows: []Range{{nasty, 1, 2, 3, false}}})
		},
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		texts := textsOf(t, b.String())
		if strings.Contains(b.String(), "<script") || !slices.Contains(texts, nasty) {
			t.Errorf("%s: markup got through, or the title is not as it was typed: %q", name, texts)
		}
		if strings.Contains(b.String(), " id=") {
			t.Errorf("%s: a chart needs no id, which could be that of something else in its page", name)
		}
		closed, w := io.Pipe()
		closed.CloseWithError(errBroken)
		if err := write(w); err == nil {
			t.Errorf("%s: a writer that fails is not noticed", name)
		}
	}
}

// Without data a chart has its axis, and nothing that is no number.
func TestEmptyCharts(t *testing.T) {
	for i, c := range []*chartCanvas{Columns{}.draw(), Bars{Shares: true}.draw(), Bars{}.draw(), Line{}.draw(),
		Ranges{}.draw()} {
		var b bytes.Buffer
		if err := c.write(&b); err != nil {
			t.Fatal(err)
		}
		if s := b.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Errorf("chart %d: %s", i, s)
		}
		if c.Height < 20 {
			t.Errorf("chart %d is %s high", i, fmt.Sprint(c.Height))
		}
	}
}
