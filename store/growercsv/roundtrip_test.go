package growercsv

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // makes every run of the property tests draw the same random values
)

// lenient accepts every label, as old records may have them.
var lenient = Rules{Phone: testRules.Phone, Languages: testRules.Languages,
	Label: func(s string) (string, error) { return s, nil }}

// someText draws a text that may begin like a formula, and has no blanks at its ends.
var someText = rapid.Custom(func(t *rapid.T) string {
	start := rapid.SampledFrom([]string{"", "'", "''", "=", "+", "-", "@", "none", "'none", "'=", "＝", "#", "\"",
		",;\t|"})
	return tidy(start.Draw(t, "start") + rapid.StringN(0, 12, -1).Draw(t, "rest"))
})

// oneWord draws a text in one line, of at most as many characters as a name may have.
func oneWord(t *rapid.T, name string) string {
	letters := rapid.StringOfN(rapid.RuneFrom([]rune("'=+-@ none,;\"é")), 0, maxName, -1)
	return strings.Join(strings.Fields(letters.Draw(t, name)), " ")
}

func someValues(t *rapid.T) Values {
	whole := func(name string, low, high int) int {
		return rapid.OneOf(rapid.Just(0), rapid.IntRange(low, high)).Draw(t, name)
	}
	number := func(name string, high float64) float64 {
		return rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(5, high)).Draw(t, name)
	}
	day := func(name string) engine.Day {
		return engine.Date(2026, time.January, 1) + engine.Day(rapid.IntRange(0, 400).Draw(t, name))
	}
	v := Values{Phone: ana, Name: oneWord(t, "name"), Note: oneWord(t, "note"), Language: "en",
		Place: someText.Draw(t, "place"), ConsentWords: someText.Draw(t, "words"),
		ConsentBy: someText.Draw(t, "by"), ConsentOn: day("agreed"),
		Home: engine.Household{People: whole("people", 1, 99), Tools: whole("tools", 1, 99),
			HoursADay: number("hours", 16), Neighbours: whole("neighbours", 1, 99)}}
	if v.No = rapid.IntRange(0, MaxPlot).Draw(t, "plot"); v.No == 0 {
		return v
	}
	v.Plot = engine.Plot{Label: someText.Draw(t, "label"),
		Method:  engine.Method(rapid.IntRange(1, 3).Draw(t, "method")),
		Planted: day("planted"), SeedlingAgeDays: whole("age", 5, 60), SeedlingsPerHill: whole("per hill", 1, 12),
		Deep: rapid.Bool().Draw(t, "deep"), RowSpacingCM: number("rows", 100), HillSpacingCM: number("hills", 100),
		AreaM2: number("area", 1e6), Flood: engine.Flood(rapid.IntRange(0, 3).Draw(t, "water")),
		Soil: engine.Soil(rapid.IntRange(0, 3).Draw(t, "soil")), DurationDays: whole("duration", 75, 220),
		InflowLS: number("inflow", 500)}
	if rapid.Bool().Draw(t, "puddled") {
		v.Plot.Puddled = v.Plot.Planted - 3
	}
	v.Tool = engine.Tool{WidthCM: number("tool", 60)}
	if v.Tool.WidthCM != 0 {
		v.Tool.MaxWidthCM = number("widest", 60)
	}
	return v
}

// What is written is read again as the same values, whatever the texts are, and no cell begins like a formula.
func TestWrittenIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := someValues(t)
		var file strings.Builder
		w := NewWriter(&file, true)
		err := w.Write(v)
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		f, err := Parse(strings.NewReader(file.String()), lenient)
		if err != nil {
			t.Fatalf("%v\n%s", err, file.String())
		}
		g := &f.Growers[0]
		got := g.Rows[0].Over(g.Over(Values{Phone: g.Phone, No: g.Rows[0].No}))
		if !reflect.DeepEqual(got, v) {
			t.Fatalf("%s\n got %+v\nwant %+v", file.String(), got, v)
		}
		if changes := Changes(v, got); len(changes) > 0 {
			t.Fatalf("%v", changes)
		}
	})
}

func TestDefuse(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "Bund": "Bund", "'tis": "'tis", "a=1": "a=1", "=1+1": "'=1+1", "+447700900001": "'+447700900001",
		"-2": "'-2", "@SUM(1)": "'@SUM(1)", "\t=1": "'\t=1", "\r=1": "'\r=1", "\n=1": "'\n=1", "  =1": "'  =1",
		"＝1": "'＝1", "none": "'none", "'=1": "''=1", "''": "'''", "Non": "Non",
	} {
		if got := Defuse(text); got != want {
			t.Errorf("Defuse(%q) = %q, want %q", text, got, want)
		}
		if back := Plain(want); back != text {
			t.Errorf("Plain(%q) = %q, want %q", want, back, text)
		}
	}
}

// Plain undoes Defuse for every text, and no text that Defuse returns begins like a formula.
func TestPlainUndoesDefuse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(someText, rapid.StringOf(rapid.RuneFrom([]rune("'=+-@ \t\r\nnone")))).Draw(t, "text")
		cell := Defuse(text)
		if Plain(cell) != text {
			t.Fatalf("Plain(Defuse(%q)) = %q", text, Plain(cell))
		}
		if Formula(cell) || clears(cell) {
			t.Fatalf("Defuse(%q) = %q", text, cell)
		}
	})
}

// Parse returns an error, or growers with valid numbers and plots that can be written and read again.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"phone,language\n+447700900001,en\n", "phone;area_m2\r\n+447700900001;1,5\r\n", "sep=;\nphone;plot\n1;2\n",
		"\ufeffphone,label\n'+447700900001,\"'=1\n2\"\n", "phone\tlabel\r447700900001\t\r", "phone,\"", "\xff\xfe",
		"phone,plot,method,planted,row_spacing_cm\n+447700900001,1,transplanted,2026-06-01,25\n+447700900001,2,,,\n",
		"phone,area_ha,deep,tool_width_cm\n+447700900001,0.35,yes,none\n", "phone,planted\n+447700900001,03/04/2026\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, file string) {
		got, err := Parse(strings.NewReader(file), lenient)
		if err != nil {
			if len(got.Growers) > 0 {
				t.Fatal("a refused file returned growers")
			}
			return
		}
		seen := map[string]bool{}
		var again strings.Builder
		w := NewWriter(&again, true)
		for i := range got.Growers {
			g := &got.Growers[i]
			if !strings.HasPrefix(g.Phone, "+") || seen[g.Phone] || len(g.Rows) == 0 || g.Line != g.Rows[0].Line {
				t.Fatalf("grower %+v", g)
			}
			seen[g.Phone] = true
			for j := range g.Rows {
				r := &g.Rows[j]
				if r.About && (r.No < 0 || r.No > MaxPlot || r.No == 0 && r.Label == "") {
					t.Fatalf("row %+v", r)
				}
				if err := w.Write(r.Over(g.Over(Values{Phone: g.Phone, No: r.No}))); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Parse(strings.NewReader(again.String()), lenient); err != nil {
			t.Fatalf("what was read cannot be written and read again: %v\n%s", err, again.String())
		}
	})
}
