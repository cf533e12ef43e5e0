package picture

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// sampleRoster returns an invented roster of two tools on 16 days, with a late turn, days out of use, a name that is
// too long for its box, and a plot without a turn.
func sampleRoster() Roster {
	from := engine.Date(2026, 11, 30)
	turn := func(d engine.Day, plot string, late bool) RosterTurn { return RosterTurn{from + d, plot, late} }
	return Roster{
		From: from, To: from + 15,
		Tools: []RosterTool{
			{Name: "Blue", Turns: []RosterTurn{turn(0, "Amina", false), turn(1, "Amina", false), turn(2, "Juma", false),
				turn(6, "सीता देवी", false), turn(14, "Amina", false)},
				Out: []RosterDays{{from + 3, from + 5}}},
			{Name: "The red one", Turns: []RosterTurn{turn(4, "Bahati the elder, at the lower end of the canal", true),
				turn(15, "Neema", true)}},
		},
		Below: []RosterLine{{"No whole turn", 0, true}, {"Salim: window 1 to 3 Dec", 1, false}},
	}
}

func TestTurns(t *testing.T) {
	var b bytes.Buffer
	if err := Turns(&b, sampleRoster(), Options{Title: "Turns of <us>", Note: "6 of 7 plots"}); err != nil {
		t.Fatal(err)
	}
	texts := textsOf(t, b.String())
	for _, want := range []string{"Turns of <us>", "6 of 7 plots", "Blue", "The red one", "Mon", "30 Nov", "Amina",
		"Juma", "सीता", "देवी", "Neema",
		"turn inside the window of the plot", "late turn: after the window",
		"the tool is out of use",
		"1 = Bahati the elder, at the lower end of the canal", "No whole turn", "Salim: window 1 to 3 Dec",
		"Turns from 2026-11-30 to 2026-12-15. Blue: 30 Nov to 1 Dec Amina; 2 Dec Juma; 6 Dec सीता देवी; " +
			"14 Dec Amina; out of use 3 to 5 Dec. The red one: 4 Dec Bahati the elder, at the lower end of the canal " +
			"(late); 15 Dec Neema (late). No whole turn. Salim: window 1 to 3 Dec."} {
		if !slices.Contains(texts, want) {
			t.Errorf("%q is not in the picture: %q", want, texts)
		}
	}
	boxes := 0
	for _, text := range texts {
		if text == "Amina" {
			boxes++
		}
	}
	if boxes != 2 { // 30 Nov and 1 Dec are one box
		t.Errorf("%d boxes with Amina, want 2", boxes)
	}
	if !strings.Contains(b.String(), `fill="`+fillOut+`"`) || !strings.Contains(b.String(), `id="season-out"`) {
		t.Error("the days out of use are not hatched")
	}
	var none bytes.Buffer
	if err := Turns(&none, Roster{From: 5, To: 5, Tools: []RosterTool{{Name: "Blue"}}}, Options{}); err != nil {
		t.Fatal(err)
	}
	texts = textsOf(t, none.String())
	if !slices.Contains(texts, "Turns from 1970-01-06 to 1970-01-06. Blue: no turn.") {
		t.Errorf("a roster without turns: %q", texts)
	}
}

// On a grey print late turns differ from others by their edge and by the corner.
func TestLateTurnsDifferWithoutColour(t *testing.T) {
	shape := func(late bool) string {
		var c rosterCanvas
		c.turnBox(rect{X: 1, Y: 1, W: 50, H: 30}, late)
		c.Rects[0].Fill, c.Rects[0].Stroke = "", ""
		return fmt.Sprintf("%+v %d", c.Rects, len(c.Marks))
	}
	if shape(true) == shape(false) {
		t.Errorf("both are %s", shape(true))
	}
}

func anyRoster(t *rapid.T) Roster {
	n := func(name string, from, to int) int { return rapid.IntRange(from, to).Draw(t, name) }
	name := rapid.OneOf(rapid.SampledFrom([]string{"Amina", "Bahati the elder", "कृष्णकुमारी श्रेष्ठ"}),
		rapid.StringN(1, 30, 60))
	r := Roster{From: engine.Date(2026, 1, 1) + engine.Day(n("from", 0, 400))}
	days := n("days", 1, 60)
	r.To = r.From + engine.Day(days) - 1
	for range n("tools", 1, 12) {
		tool := RosterTool{Name: name.Draw(t, "tool")}
		for d := n("first", 0, 20); d < days; d += n("next", 1, 9) {
			plot, late := name.Draw(t, "plot"), rapid.Bool().Draw(t, "late")
			for range n("turn", 1, 3) {
				if d < days {
					tool.Turns = append(tool.Turns, RosterTurn{r.From + engine.Day(d), plot, late})
				}
				d++
			}
		}
		if n("out", 0, 2) == 0 {
			from := r.From + engine.Day(n("out from", -5, days))
			tool.Out = append(tool.Out, RosterDays{from, from + engine.Day(n("out days", 0, 70))})
		}
		r.Tools = append(r.Tools, tool)
	}
	for range n("below", 0, 4) {
		text := rapid.StringN(0, 300, 900).Draw(t, "line")
		r.Below = append(r.Below, RosterLine{text, n("level", 0, 2), rapid.Bool().Draw(t, "strong")})
	}
	return r
}

func TestRosterTextsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyRoster(t)
		d := drawRoster(r, Options{WidthPX: rapid.IntRange(minWidthPX, 1600).Draw(t, "width"),
			Note: rapid.StringN(0, 200, 800).Draw(t, "note")})
		checkTexts(t, d)
		boxes := 0
		for _, x := range d.Rects {
			if x.W <= 0 || x.H <= 0 || x.X < 0 || x.X+x.W > d.Width || x.Y+x.H > d.Height {
				t.Errorf("a rectangle out of the picture of %s by %s: %+v", d.Width, d.Height, x)
			}
			if x.Stroke == colors.Window || x.Stroke == colors.Ink {
				boxes++
			}
		}
		least := 0 // a box for each run of days on one plot
		for _, tool := range r.Tools {
			for i, turn := range tool.Turns {
				if i == 0 || tool.Turns[i-1].Plot != turn.Plot || tool.Turns[i-1].On != turn.On-1 {
					least++
				}
			}
		}
		if boxes < least {
			t.Errorf("%d boxes for %d turns", boxes, least)
		}
	})
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		text  string
		width px
		most  int
		lines []string
		whole bool
	}{
		{"Amina", 100, 3, []string{"Amina"}, true},
		{"  Amina   Juma ", 100, 3, []string{"Amina Juma"}, true},
		{"Amina Juma", 50, 3, []string{"Amina", "Juma"}, true},
		{"Amina Juma Neema Bahati", 50, 3, []string{"Amina", "Juma", "Neem…"}, false},
		{"Wolfeschlegelsteinhausen", 60, 2, []string{"Wolfeschl", "egelstei…"}, false},
		{"", 50, 3, nil, true},
		{"mm", 1, 3, []string{"m", "m"}, true}, // a letter is the least
	} {
		lines, whole := wrap(c.text, 11, false, c.width, c.most)
		if !slices.Equal(lines, c.lines) || whole != c.whole {
			t.Errorf("%q in %s: %q, %v; want %q, %v", c.text, c.width, lines, whole, c.lines, c.whole)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		width, most := px(rapid.IntRange(1, 200).Draw(t, "width")), rapid.IntRange(1, 5).Draw(t, "most")
		lines, whole := wrap(text, 11, false, width, most)
		if len(lines) > most {
			t.Fatalf("%d lines", len(lines))
		}
		got, want := strings.Join(strings.Fields(strings.Join(lines, " ")), ""), strings.Join(strings.Fields(text), "")
		if whole && got != want || !whole && !strings.HasPrefix(want, strings.TrimSuffix(got, "…")) {
			t.Fatalf("%q became %q", text, lines)
		}
		for _, l := range lines {
			if textWidth(l, 11, false) > width && firstCluster(l) != strings.TrimSuffix(l, "…") && l != "…" {
				t.Fatalf("%q is wider than %s", l, width)
			}
		}
	})
}

// A cut within a letter of Devanagari would make another letter of it. The clusters are those of The Unicode Standard,
// chapter 12.
func TestClusters(t *testing.T) {
	for text, want := range map[string][]string{
		"Juma":      {"J", "u", "m", "a"},
		"सीता":      {"सी", "ता"},
		"कृष्ण":     {"कृ", "ष्ण"},
		"लक्ष्मी":   {"ल", "क्ष्मी"},
		"श्रेष्ठ":   {"श्रे", "ष्ठ"},
		"क्\u200dष": {"क्\u200dष"}, // with a joiner
		"é":         {"é"},
	} {
		var got []string
		for rest := text; rest != ""; rest = rest[len(firstCluster(rest)):] {
			got = append(got, firstCluster(rest))
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
		if last := lastCluster(text); last != want[len(want)-1] {
			t.Errorf("%s ends with %q, want %q", text, last, want[len(want)-1])
		}
	}
}
