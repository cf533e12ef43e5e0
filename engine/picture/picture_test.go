package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
)

// sampleSeason returns an invented season with one pass and one sighting, and the day on which its picture is made.
func sampleSeason() (engine.Season, engine.Day) {
	planted := engine.Date(2026, 11, 3)
	return engine.Season{
		Plot: engine.Plot{
			Label: "North plot", Method: engine.Transplanted, Planted: planted,
			RowSpacingCM: 25, HillSpacingCM: 25, SeedlingAgeDays: 20,
		},
		Tool:      engine.Tool{WidthCM: 15, MaxWidthCM: 20},
		Passes:    []engine.Pass{{On: planted + 18, With: engine.ByTool, Way: engine.Both, Left: engine.Few}},
		Sightings: []engine.Sighting{{On: planted + 17, Leaves: engine.TwoThree, Amount: engine.Many}},
		Weather:   engine.Steady(22, 31),
	}, planted + 27
}

func svgOf(t *testing.T, s engine.Season, today engine.Day, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := Season(&b, s, today, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// textsOf returns the texts of an SVG document. The test fails if the document is not well-formed XML, or has elements
// or attributes that could run code or load a file.
func textsOf(t *testing.T, svg string) []string {
	t.Helper()
	var texts []string
	element := ""
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
			element = x.Name.Local
			switch element {
			case "svg", "title", "desc", "defs", "pattern", "rect", "circle", "path", "text":
			default:
				t.Errorf("the picture holds a <%s>", element)
			}
			for _, a := range x.Attr {
				checkAttr(t, element, a)
			}
		case xml.EndElement:
			element = ""
		case xml.CharData:
			if element == "text" || element == "title" || element == "desc" {
				texts = append(texts, string(x))
			}
		}
	}
}

func checkAttr(t *testing.T, element string, a xml.Attr) {
	t.Helper()
	name := a.Name.Local
	if name == "style" || name == "href" || strings.HasPrefix(name, "on") {
		t.Errorf("<%s> has the attribute %s", element, name)
	}
	if name == "id" && !strings.HasPrefix(a.Value, "season-") {
		t.Errorf("id %q may be the id of something else in a page", a.Value)
	}
	for _, bad := range []string{"NaN", "Inf", "ZgotmplZ"} { // html/template writes ZgotmplZ for an unsafe value
		if strings.Contains(a.Value, bad) {
			t.Errorf("<%s %s=%q>", element, name, a.Value)
		}
	}
}

//revive:disable-next-line:function-length a table of cases
func TestPictureSays(t *testing.T) {
	sample, today := sampleSeason()
	planted := sample.Plot.Planted
	byHand := []engine.Pass{{On: planted + 12, With: engine.ByHand}}
	for _, c := range []struct {
		name   string
		change func(*engine.Season)
		today  engine.Day
		says   string // texts that the picture must have, separated by "|"
		not    string
	}{
		{"in the middle", nil, today, "North plot, planted 3 November 2026|planted 3 Nov|today 30 Nov|day 0|28|" +
			"21 Nov, tool, both ways, few left|2-3 leaves, many|next window|if nobody weeds|pass with the tool|" +
			"window 20 to 21 Nov, weeded|window that was weeded|range of 8 plots in 10|" +
			"Chance|right size|50%|chance of two to four leaves, if the plan is kept|leaves that were seen",
			"weeded by hand|missed window"},
		{"a look is asked for", func(s *engine.Season) { s.Passes, s.Sightings = nil, nil }, planted + 5,
			"look 12 Nov|day to look at the weeds", "leaves that were seen"},
		{"no look after a look", func(s *engine.Season) { s.Passes = nil }, planted + 17, "leaves that were seen",
			"day to look at the weeds"},
		{"records after today are not drawn", nil, planted + 10,
			"today 13 Nov", "21 Nov, tool, both ways, few left|2-3 leaves, many|Seen"},
		{"before planting", nil, planted - 6, "today 28 Oct|if nobody weeds", "weeds so far"},
		{"long before planting", nil, planted - 200, "planted 3 Nov", "today 17 Apr"},
		{"missed", func(s *engine.Season) { s.Passes, s.Sightings = nil, nil }, planted + 20,
			"missed window|later, if the plan is kept", "next window|window that was weeded"},
		{"a missed window stays", func(s *engine.Season) { s.Passes, s.Sightings = nil, nil }, planted + 30,
			"window 16 to 19 Nov, missed|missed window|next window", "window that was weeded"},
		{"a pass before it", func(s *engine.Season) { s.Passes[0].On, s.Sightings = planted+11, nil }, planted + 20,
			"window 16 to 19 Nov, weeded before it|window that was weeded", "missed window"},
		{"a pass after it", func(s *engine.Season) { s.Passes[0].On, s.Sightings = planted+19, nil }, planted + 20,
			"window 16 to 19 Nov, missed|22 Nov, tool, both ways, few left|missed window", "window that was weeded"},
		{"half is weeded", func(s *engine.Season) {
			s.Passes[0].On, s.Passes[0].Share, s.Sightings = planted+15, 0.5, nil
		}, planted + 15, "window 1: 16 to 19 Nov|18 Nov, tool, both ways, half, few left|next window",
			"window that was weeded|missed window"},
		{"both halves are weeded", func(s *engine.Season) {
			s.Passes[0].On, s.Passes[0].Share, s.Sightings = planted+14, 0.5, nil
			s.Passes = append(s.Passes, s.Passes[0])
			s.Passes[1].On++
		}, planted + 16, "window 16 to 19 Nov, weeded|window that was weeded", "missed window"},
		{"the season is over", func(s *engine.Season) { s.Sightings = nil }, planted + 60,
			"window 16 to 19 Nov, missed|window 4 to 7 Dec, missed", "next window|best day"},
		{"by hand", func(s *engine.Season) { s.Plot.Method, s.Passes = engine.Broadcast, byHand }, today,
			"15 Nov, by hand|last weeding 25 Dec|two to four leaves|after the usual hand weedings",
			"right size for the tool|Chance|panicles form: no tool from then on"},
		{"panicles form before the rows close", func(s *engine.Season) { s.Plot.DurationDays = 90 }, today,
			"panicles form|panicles form: no tool from then on", "rows closed"},
		{"closed by the grower", func(s *engine.Season) { s.ClosedOn = planted + 25 }, planted + 30,
			"closed by the grower 28 Nov|closed by the grower", "next window|if nobody weeds"},
		{"rows seen closed", func(s *engine.Season) {
			s.Sightings = append(s.Sightings, engine.Sighting{On: planted + 25, Rows: engine.RowsClosed})
		}, planted + 27, "rows closed|rows seen closed|last tool day 27 Nov", "next window"},
		{"water and work", func(s *engine.Season) {
			s.Plot.AreaM2 = 1200
			s.Sightings = append(s.Sightings, engine.Sighting{On: planted + 25, Water: engine.StandsHand})
		}, today, "Water|depth, cm|water a hand deep|water so far|if none is let in|3 to 5 cm wanted|2 cm at least|" +
			"water seen|Work|3 to 4 days' work, start by 6 Dec|a day's work, as late as can be",
			"water, if kept so far|too few days for the work"},
		{"nobody looked at the water, and no area", func(s *engine.Season) { s.Plot.Flood = engine.FloodKept }, today,
			"Water|water, if kept so far", "water so far|water seen|Work"},
		{"nobody spoke of the water", nil, today, "Crop", "Water|water, if kept so far|3 to 5 cm wanted"},
		{"water alone was seen", func(s *engine.Season) {
			s.Sightings = []engine.Sighting{{On: today, Water: engine.StandsDry}}
		}, today, "dry|seen by the grower|if none is let in", "water so far|seen: leaves on most weeds, how many"},
		{"more work than days", func(s *engine.Season) { s.Plot.AreaM2 = 20_000 }, today,
			"too few days for the work|35 to 66 days' work, too long: about 11% by 9 Dec",
			"a day's work, as late as can be"},
		{"a season too cold to end", func(s *engine.Season) { s.Weather = engine.Steady(-9, -2) }, today,
			"planted 3 Nov|day 0", "next window"},
	} {
		s := sample
		s.Passes = slices.Clone(s.Passes)
		if c.change != nil {
			c.change(&s)
		}
		all := "|" + strings.Join(textsOf(t, svgOf(t, s, c.today, Options{})), "|") + "|"
		for text := range strings.SplitSeq(c.says, "|") {
			if !strings.Contains(all, "|"+text+"|") {
				t.Errorf("%s: %q is not in %s", c.name, text, all)
			}
		}
		for text := range strings.SplitSeq(c.not, "|") {
			if strings.Contains(all, "|"+text+"|") {
				t.Errorf("%s: %q is in the picture", c.name, text)
			}
		}
	}
}

func TestEscapes(t *testing.T) {
	s, today := sampleSeason()
	const nasty = `</text><script>alert("1")</script>&amp;'`
	s.Plot.Label = nasty
	for name, o := range map[string]Options{"label": {}, "title": {Title: nasty}, "note": {Note: nasty}} {
		svg := svgOf(t, s, today, o)
		if strings.Contains(svg, "<script") {
			t.Errorf("%s: markup got through", name)
		}
		if texts := strings.Join(textsOf(t, svg), "\n"); !strings.Contains(texts, nasty) {
			t.Errorf("%s is not in the picture as it was typed:\n%s", name, texts)
		}
	}
}

func TestRefuses(t *testing.T) {
	s, today := sampleSeason()
	closed, w := io.Pipe()
	closed.CloseWithError(errBroken)
	if err := Season(w, s, today, Options{}); !errors.Is(err, errBroken) {
		t.Errorf("a writer that fails: %v", err)
	}
	s.Plot.RowSpacingCM = 0
	if err := Season(io.Discard, s, today, Options{}); err == nil || !strings.Contains(err.Error(), "row spacing") {
		t.Errorf("a plot that cannot be: %v", err)
	}
}

var errBroken = errors.New("no room left")

func TestWidth(t *testing.T) {
	s, today := sampleSeason()
	for asked, want := range map[int]px{0: 960, 100: 640, 1400: 1400} {
		d, err := draw(s, today, Options{WidthPX: asked})
		if err != nil || d.Width != want {
			t.Errorf("asked for %d: %s, %v; want %s", asked, d.Width, err, want)
		}
	}
	long := strings.Repeat("a very long name ", 20)
	d, err := draw(s, today, Options{Title: long, Note: long})
	if err != nil || d.Title != long {
		t.Errorf("a long title: %q, %v", d.Title, err)
	}
	for _, x := range d.Texts[:2] {
		if !strings.HasSuffix(x.Text, "…") {
			t.Errorf("a long line is not cut: %q", x.Text)
		}
	}
}

func TestDateRange(t *testing.T) {
	d := engine.Date(2026, 11, 28)
	for days, want := range map[engine.Day]string{0: "28 Nov", 2: "28 to 30 Nov", 5: "28 Nov to 3 Dec"} {
		if got := dateRange(d, d+days); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
