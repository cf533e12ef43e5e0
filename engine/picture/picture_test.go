package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// sampleSeason is a season in its middle: one pass made, one sighting.
func sampleSeason() (engine.Season, engine.Day) {
	planted := engine.Date(2026, 11, 3)
	return engine.Season{
		Plot: engine.Plot{Label: "North plot", Method: engine.Transplanted, Planted: planted, RowSpacingCM: 25, HillSpacingCM: 25, SeedlingAgeDays: 20},
		Tool: engine.Tool{WidthCM: 15, MaxWidthCM: 20},
		Passes: []engine.Pass{
			{On: planted + 18, With: engine.ByTool, Way: engine.Both, Left: engine.Few},
		},
		Sightings: []engine.Sighting{{On: planted + 17, Leaves: engine.TwoThree, Amount: engine.Many}},
		Weather:   engine.Steady(22, 31),
	}, planted + 27
}

func drawString(t *testing.T, s engine.Season, today engine.Day, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := Season(&b, s, today, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// textsOf reads an SVG back and returns what it says; it fails where the
// document is not well formed or holds what a picture must not.
func textsOf(t *testing.T, svg string) []string {
	t.Helper()
	var texts []string
	depth := ""
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return texts
		}
		if err != nil {
			t.Fatalf("not well formed: %v\n%s", err, svg)
		}
		switch x := token.(type) {
		case xml.StartElement:
			depth = x.Name.Local
			switch depth {
			case "svg", "title", "desc", "defs", "pattern", "rect", "circle", "path", "text":
			default:
				t.Errorf("the picture holds a <%s>", depth)
			}
			for _, a := range x.Attr {
				if a.Name.Local == "style" || a.Name.Local == "href" || strings.HasPrefix(a.Name.Local, "on") {
					t.Errorf("<%s> has the attribute %s", depth, a.Name.Local)
				}
				if a.Name.Local == "id" && !strings.HasPrefix(a.Value, "season-") {
					t.Errorf("id %q may meet another in a page", a.Value)
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") || strings.Contains(a.Value, "ZgotmplZ") {
					t.Errorf("<%s %s=%q>", depth, a.Name.Local, a.Value)
				}
			}
		case xml.EndElement:
			depth = ""
		case xml.CharData:
			if depth == "text" || depth == "title" || depth == "desc" {
				texts = append(texts, string(x))
			}
		}
	}
}

func TestTells(t *testing.T) {
	sample, today := sampleSeason()
	planted := sample.Plot.Planted
	with := func(change func(*engine.Season)) engine.Season {
		s := sample
		change(&s)
		return s
	}
	for _, c := range []struct {
		name   string
		season engine.Season
		today  engine.Day
		says   []string
		not    []string
	}{
		{"in the middle", sample, today, []string{
			"North plot, planted 3 November 2026", "planted 3 Nov", "today 30 Nov", "day 0", "28",
			"21 Nov, tool, both ways, few left", "2-3, many", "next window", "weeds expected", "pass with the tool", "panicles form: push gently",
		}, []string{"weeded by hand", "missed window"}},
		{"records after today are not drawn", sample, planted + 10, []string{"today 13 Nov"}, []string{"21 Nov, tool, both ways, few left", "2-3, many", "Seen"}},
		{"before planting", sample, planted - 6, []string{"today 28 Oct", "weeds expected"}, []string{"weeds so far"}},
		{"long before planting", sample, planted - 200, []string{"planted 3 Nov"}, []string{"today 17 Apr"}},
		{"missed", with(func(s *engine.Season) { s.Passes, s.Sightings = nil, nil }), planted + 33, []string{"missed window"}, []string{"next window"}},
		{"by hand", with(func(s *engine.Season) {
			s.Plot.Method, s.Passes = engine.Broadcast, []engine.Pass{{On: planted + 12, With: engine.ByHand}}
		}), today, []string{"15 Nov, by hand", "last weeding 25 Dec", "two to four leaves", "after the usual hand weedings"}, []string{"right size for the tool", "panicles form: push gently"}},
		{"closed by the grower", with(func(s *engine.Season) { s.ClosedOn = planted + 25 }), planted + 30, []string{"closed by the grower 28 Nov", "closed by the grower"}, []string{"next window", "weeds expected"}},
		{"rows seen closed", with(func(s *engine.Season) {
			s.Sightings = append(s.Sightings, engine.Sighting{On: planted + 25, Rows: engine.RowsClosed})
		}), planted + 27, []string{"rows closed", "rows seen closed", "last tool day 27 Nov"}, []string{"next window"}},
		{"water and work", with(func(s *engine.Season) {
			s.Plot.AreaM2 = 1200
			s.Sightings = append(s.Sightings, engine.Sighting{On: planted + 25, Water: engine.StandsHand})
		}), today, []string{"Water", "depth, cm", "water a hand deep", "water so far", "if none is let in", "5 cm wanted", "2 cm at least", "water seen",
			"Work", "3 days' work, start by 11 Dec", "a day's work, as late as can be"}, []string{"water, if kept so far", "too few days for the work"}},
		{"nobody looked at the water", sample, today, []string{"Water", "water, if kept so far"}, []string{"water so far", "water seen", "Work"}},
		{"water alone was seen", with(func(s *engine.Season) { s.Sightings = []engine.Sighting{{On: today, Water: engine.StandsDry}} }), today,
			[]string{"dry", "seen by the grower", "if none is let in"}, []string{"water so far", "seen: leaves on most weeds, how many"}},
		{"more work than days", with(func(s *engine.Season) { s.Plot.AreaM2 = 20_000 }), today,
			[]string{"too few days for the work", "35 days' work, too long: about 20% by 13 Dec"}, []string{"a day's work, as late as can be"}},
		{"no area, no work", sample, today, nil, []string{"Work"}},
		{"a season too cold to end", with(func(s *engine.Season) { s.Weather = engine.Steady(2, 9) }), today, []string{"planted 3 Nov", "day 0"}, nil},
	} {
		got := textsOf(t, drawString(t, c.season, c.today, Options{}))
		all := "\n" + strings.Join(got, "\n") + "\n"
		for _, s := range c.says {
			if !strings.Contains(all, "\n"+s+"\n") {
				t.Errorf("%s: %q is not told in%s", c.name, s, all)
			}
		}
		for _, s := range c.not {
			if strings.Contains(all, "\n"+s+"\n") {
				t.Errorf("%s: %q is told", c.name, s)
			}
		}
	}
}

func TestEscapes(t *testing.T) {
	s, today := sampleSeason()
	const nasty = `</text><script>alert("1")</script>&amp;'`
	s.Plot.Label = nasty
	for name, o := range map[string]Options{"label": {}, "title": {Title: nasty}, "note": {Note: nasty}} {
		svg := drawString(t, s, today, o)
		if strings.Contains(svg, "<script") {
			t.Errorf("%s: markup got through", name)
		}
		if texts := strings.Join(textsOf(t, svg), "\n"); !strings.Contains(texts, nasty) {
			t.Errorf("%s is not told as it was typed:\n%s", name, texts)
		}
	}
}

func TestRefuses(t *testing.T) {
	s, today := sampleSeason()
	if err := Season(brokenWriter{}, s, today, Options{}); !errors.Is(err, errBroken) {
		t.Errorf("a writer that fails: %v", err)
	}
	s.Plot.RowSpacingCM = 0
	if err := Season(io.Discard, s, today, Options{}); err == nil || !strings.Contains(err.Error(), "row spacing") {
		t.Errorf("a plot that cannot be: %v", err)
	}
}

var errBroken = errors.New("no room left")

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errBroken }

func TestWidth(t *testing.T) {
	s, today := sampleSeason()
	for asked, want := range map[int]px{0: 960, 100: 640, 1400: 1400} {
		p, err := draw(s, today, Options{WidthPX: asked})
		if err != nil || p.Width != want {
			t.Errorf("asked for %d: %s, %v; want %s", asked, p.Width, err, want)
		}
	}
	long := strings.Repeat("a very long name ", 20)
	p, err := draw(s, today, Options{Title: long, Note: long})
	if err != nil || p.Title != long || !strings.HasSuffix(p.Texts[0].Text, "…") || !strings.HasSuffix(p.Texts[1].Text, "…") {
		t.Errorf("a long title is not cut: %v, %q, %q", err, p.Texts[0].Text, p.Texts[1].Text)
	}
}

// box is what a text may cover.
type box struct {
	x1, y1, x2, y2 px
	text           string
}

func boxOf(t textLine) box {
	w := textWidth(t.Text, t.Size, t.Bold)
	x := map[anchor]px{anchorStart: t.X, anchorMiddle: t.X - w/2, anchorEnd: t.X - w}[t.Anchor]
	return box{x, t.Y - 0.8*t.Size, x + w, t.Y + 0.22*t.Size, t.Text}
}

func (b box) meets(c box) bool {
	return b.x1 < c.x2 && c.x1 < b.x2 && b.y1 < c.y2 && c.y1 < b.y2
}

var vertical = regexp.MustCompile(`^M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)$`)

// checkTexts fails where a text lies on another, runs out of the picture, or
// is crossed by a line.
func checkTexts(t *rapid.T, p drawing) {
	boxes := make([]box, len(p.Texts))
	for i, x := range p.Texts {
		boxes[i] = boxOf(x)
		if b := boxes[i]; b.x1 < 0 || b.y1 < 0 || b.x2 > p.Width || b.y2 > p.Height {
			t.Errorf("%q runs out of the picture of %s by %s: %+v", b.text, p.Width, p.Height, b)
		}
	}
	for i, b := range boxes {
		for _, c := range boxes[:i] {
			if b.meets(c) {
				t.Errorf("%q and %q overlap: %+v, %+v", b.text, c.text, b, c)
			}
		}
	}
	for _, l := range append(append([]path(nil), p.Paths...), p.Lines...) {
		m := vertical.FindStringSubmatch(l.D)
		if m == nil || m[1] != m[3] {
			continue // a curve, or a line that lies
		}
		var x, y1, y2 px
		if _, err := fmt.Sscan(m[1]+" "+m[2]+" "+m[4], (*float64)(&x), (*float64)(&y1), (*float64)(&y2)); err != nil {
			t.Fatal(err)
		}
		for _, b := range boxes {
			if b.x1 < x && x < b.x2 && b.y1 < y2 && y1 < b.y2 {
				t.Errorf("a line at %s from %s to %s runs through %q: %+v", x, y1, y2, b.text, b)
			}
		}
	}
}

func anySeason(t *rapid.T) (engine.Season, engine.Day) {
	planted := engine.Date(2026, 1, 1) + engine.Day(rapid.IntRange(0, 400).Draw(t, "planted"))
	low := rapid.Float64Range(0, 26).Draw(t, "min")
	s := engine.Season{
		Plot: engine.Plot{
			Label:   rapid.StringN(0, 12, 40).Draw(t, "label"),
			Method:  engine.Method(rapid.IntRange(int(engine.Transplanted), int(engine.Broadcast)).Draw(t, "method")),
			Planted: planted, RowSpacingCM: float64(rapid.IntRange(15, 30).Draw(t, "row")),
		},
		Tool:    engine.Tool{WidthCM: 15},
		Weather: engine.Steady(low, low+8),
	}
	s.Plot.AreaM2 = float64(rapid.SampledFrom([]int{0, 1, 300, 3000, 100_000}).Draw(t, "area"))
	s.Plot.HillSpacingCM = rapid.SampledFrom([]float64{0, s.Plot.RowSpacingCM}).Draw(t, "hill")
	s.Plot.Flood = engine.Flood(rapid.IntRange(0, 2).Draw(t, "flood"))
	s.Home.People = rapid.IntRange(0, 9).Draw(t, "people")
	s.Weather.LatitudeDeg = rapid.Float64Range(-40, 40).Draw(t, "latitude")
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = rapid.Float64Range(0, 400).Draw(t, "rain")
	}
	for d := rapid.IntRange(0, 30).Draw(t, "first pass"); d < 70 && len(s.Passes) < 9; d += rapid.IntRange(0, 25).Draw(t, "until the next") {
		s.Passes = append(s.Passes, engine.Pass{On: planted + engine.Day(d), With: engine.Means(rapid.IntRange(0, 2).Draw(t, "with")),
			Way: engine.Way(rapid.IntRange(0, 3).Draw(t, "way")), Left: engine.Amount(rapid.IntRange(0, 3).Draw(t, "left"))})
	}
	for d := rapid.IntRange(0, 30).Draw(t, "first sighting"); d < 70 && len(s.Sightings) < 9; d += rapid.IntRange(0, 25).Draw(t, "until the next") {
		s.Sightings = append(s.Sightings, engine.Sighting{On: planted + engine.Day(d), Leaves: engine.Leaves(rapid.IntRange(0, 3).Draw(t, "leaves")),
			Amount: engine.Amount(rapid.IntRange(0, 3).Draw(t, "amount")), Rows: engine.Rows(rapid.IntRange(0, 2).Draw(t, "rows")),
			Water: engine.Stands(rapid.IntRange(0, 4).Draw(t, "water"))})
	}
	if rapid.IntRange(0, 4).Draw(t, "closed") == 0 {
		s.ClosedOn = planted + engine.Day(rapid.IntRange(0, 70).Draw(t, "closed on"))
	}
	return s, planted + engine.Day(rapid.IntRange(-40, 120).Draw(t, "today"))
}

func TestLabelsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today := anySeason(t)
		width := rapid.IntRange(minWidthPX, 1600).Draw(t, "width")
		p, err := draw(s, today, Options{WidthPX: width, Note: rapid.StringN(0, 200, 800).Draw(t, "note")})
		if err != nil {
			t.Fatal(err)
		}
		checkTexts(t, p)
		for _, r := range p.Rects {
			if r.W <= 0 || r.H <= 0 || r.X < 0 || r.X+r.W > p.Width || r.Y+r.H > p.Height {
				t.Errorf("a rectangle out of the picture of %s by %s: %+v", p.Width, p.Height, r)
			}
		}
	})
}

func TestLanes(t *testing.T) {
	for _, c := range []struct {
		name  string
		flags []flag
		want  []int // from left to right
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
		if lanes != c.lanes || fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: %v in %d lanes, want %v in %d", c.name, got, lanes, c.want, c.lanes)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		var flags []flag
		for range rapid.IntRange(0, 25).Draw(t, "flags") {
			flags = append(flags, flag{X: px(rapid.IntRange(0, 900).Draw(t, "x")), W: px(rapid.IntRange(1, 200).Draw(t, "w"))})
		}
		lanes := assignLanes(flags)
		for i, f := range flags {
			if f.Lane < 0 || f.Lane >= lanes {
				t.Errorf("lane %d of %d", f.Lane, lanes)
			}
			for j, g := range flags {
				if i == j {
					continue
				}
				if f.Lane == g.Lane && f.X < g.X+g.W && g.X < f.X+f.W {
					t.Errorf("%+v and %+v overlap", f, g)
				}
				// g's pole passes the lanes below g's own.
				if f.Lane < g.Lane && f.X < g.X && g.X < f.X+f.W {
					t.Errorf("the pole of %+v runs through %+v", g, f)
				}
			}
		}
	})
}

func TestSpan(t *testing.T) {
	d := engine.Date(2026, 11, 28)
	for _, c := range []struct {
		from, to engine.Day
		want     string
	}{{d, d, "28 Nov"}, {d, d + 2, "28 to 30 Nov"}, {d, d + 5, "28 Nov to 3 Dec"}} {
		if got := dateRange(c.from, c.to); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
