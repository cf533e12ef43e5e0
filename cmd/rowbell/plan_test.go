package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"

	"rowbell/engine"
)

// planNow is the clock of these tests: 25 November 2026, 09:00.
var planNow = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// planRun parses the arguments as main does and runs the command.
func planRun(args ...string) (string, error) {
	var c planCmd
	parser, err := kong.New(&c, kong.Name("rowbell plan"), planVars())
	if err != nil {
		return "", err
	}
	if _, err := parser.Parse(args); err != nil {
		return "", err
	}
	var b bytes.Buffer
	err = c.run(planNow, &b)
	return b.String(), err
}

// A golden file begins with the command that it is the answer to. Read it as
// a field worker would before it is kept: go test ./cmd/rowbell -run Plan -update
func TestPlanGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/plan/*.txt")
	if err != nil || len(files) < 8 {
		t.Fatalf("only %d plans found: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			command, _, _ := strings.Cut(string(b), "\n")
			args, ok := strings.CutPrefix(command, "rowbell plan ")
			if !ok {
				t.Fatalf("the first line is %q and not a plan", command)
			}
			answer, err := planRun(strings.Fields(args)...)
			if err != nil {
				answer += "error: " + err.Error() + "\n"
			}
			planCompare(t, file, command+"\n\n"+answer, string(b))
		})
	}
}

func planCompare(t *testing.T, file, got, want string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != want {
		t.Errorf("%s says otherwise:\n%s", file, firstDifference(want, got))
	}
}

func TestPlanPicture(t *testing.T) {
	const golden = "testdata/plan/season.svg"
	picture := filepath.Join(t.TempDir(), "season.svg")
	if _, err := planRun("--planted", "2026-11-03", "--row", "25", "--hill", "25", "--tool", "15-20", "--area", "20x30", "--temps", "22-31",
		"--pass", "2026-11-21:tool:both:few", "--saw", "2026-11-20:2-3:many", "--saw", "2026-11-23:fingers", "--inflow", "2", "--picture", picture); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	if err := xml.Unmarshal(got, new(struct {
		XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
	})); err != nil {
		t.Errorf("not an SVG document: %v", err)
	}
	want, err := os.ReadFile(golden)
	if err != nil && !*update {
		t.Fatal(err)
	}
	planCompare(t, golden, string(got), string(want))
}

func TestPlanOutput(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plan.json")
	printed, err := planRun("--planted", "2026-11-03", "--row", "25", "--json", "-o", file)
	if err != nil || printed != "" {
		t.Fatalf("printed %q, %v", printed, err)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil || got["on"] != "2026-11-25" {
		t.Errorf("%v in %s", err, b)
	}
	for _, flag := range []string{"-o", "--picture"} {
		if _, err := planRun("--planted", "2026-11-03", "--row", "25", flag, filepath.Join(t.TempDir(), "no", "such", "folder")); err == nil {
			t.Errorf("%s into a folder that is not there", flag)
		}
	}
}

func TestPlanRefuses(t *testing.T) {
	months := filepath.Join(t.TempDir(), "months.csv")
	if err := os.WriteFile(months, []byte("month,min,max,rain\n1,22,31,20\n2,33,31,20\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ args, says string }{
		{"--row 20", "--planted"},
		{"--planted 3.11.2026 --row 20", `--planted "3.11.2026": write the day as in 2026-11-25`},
		{"--planted 2026-11-03", "--row is needed"},
		{"--planted 2026-11-03 --row 2", "row spacing 2 cm is not between 5 and 100"},
		{"--planted 2026-11-03 --row 20 --method thrown", "--method"},
		{"--planted 2026-11-03 --row 20 --flood deep", "--flood"},
		{"--planted 2026-11-03 --row 20 --tool wide", `--tool "wide": write it as in 15 or 10-15`},
		{"--planted 2026-11-03 --row 20 --tool 15-10", `--tool "15-10"`},
		{"--planted 2026-11-03 --row 20 --tool 0", "leave --tool out"},
		{"--planted 2026-11-03 --row 20 --tool 150", "tool width 150 cm is not between 5 and 60"},
		{"--planted 2026-11-03 --row 20 --area 20x30x2", `--area "20x30x2": write square metres`},
		{"--planted 2026-11-03 --row 20 --area -5", "--area"},
		{"--planted 2026-11-03 --row 20 --pass 2026-11-20:spade", `"spade" is none of tool, hand`},
		{"--planted 2026-11-03 --row 20 --pass yesterday", `--pass "yesterday": write the day`},
		{"--planted 2026-11-03 --row 20 --pass 2026-11-01:tool", "--pass 2026-11-01 is before the planting day 2026-11-03"},
		{"--planted 2026-11-03 --row 20 --pass 2026-11-26:tool", "--pass 2026-11-26 is after the day of the plan, 2026-11-25"},
		{"--planted 2026-11-03 --row 20 --saw 2026-11-20:5", `"5" is none of 1, 2-3, 4+`},
		{"--planted 2026-11-03 --row 20 --saw 2026-11-20", "say after a colon what was seen"},
		{"--planted 2026-11-03 --row 20 --saw 2026-12-20:1", "is after the day of the plan"},
		{"--planted 2026-11-03 --row 20 --puddled 2026-11-04", "puddled 2026-11-04 is not in the 30 days before planting"},
		{"--planted 2026-11-03 --row 20 --puddled soon", `--puddled "soon"`},
		{"--planted 2026-11-03 --row 20 --today now", `--today "now"`},
		{"--planted 2026-11-03 --row 20 --temps hot", `--temps "hot": write it as in 22-32`},
		{"--planted 2026-11-03 --row 20 --temps 70-90", "no usable temperatures"},
		{"--planted 2026-11-03 --row 20 --temps 22-32 --months x.csv", "--temps"},
		{"--planted 2026-11-03 --row 20 --months no-such-file.csv", "no-such-file.csv"},
		{"--planted 2026-11-03 --row 20 --months " + months, "months.csv: line 3: min 33 is above max 31"},
	} {
		out, err := planRun(strings.Fields(c.args)...)
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "engine:") {
			t.Errorf("%s\n%v; want words like %q", c.args, err, c.says)
		}
		var parse *kong.ParseError
		var usage *usageError
		if !errors.As(err, &parse) && !errors.As(err, &usage) {
			t.Errorf("%s\n%v is not told as a mistake in the command line", c.args, err)
		}
		if out != "" {
			t.Errorf("%s: refused, and printed %q", c.args, out)
		}
	}
}

func TestPlanFlags(t *testing.T) {
	for text, want := range map[string]float64{"": 0, "600": 600, "20x30": 600, "20.5X30": 615, "20×30": 600, "12*10": 120, " 8 x 5 ": 40} {
		if got, err := planArea(text); err != nil || got != want {
			t.Errorf("area %q: %g, %v; want %g", text, got, err, want)
		}
	}
	for text, want := range map[string]engine.Tool{"": {}, "15": {WidthCM: 15}, "10-15": {WidthCM: 10, MaxWidthCM: 15}, "15-15": {WidthCM: 15}, "12.5": {WidthCM: 12.5}} {
		if got, err := planTool(text); err != nil || got != want {
			t.Errorf("tool %q: %v, %v; want %v", text, got, err, want)
		}
	}
	for text, want := range map[string][2]float64{"22-32": {22, 32}, "-3-12": {-3, 12}, "-12--3": {-12, -3}, "27.5": {27.5, 27.5}} {
		if low, high, err := planRange("--temps", text, ""); err != nil || low != want[0] || high != want[1] {
			t.Errorf("range %q: %g, %g, %v; want %v", text, low, high, err, want)
		}
	}
	day := engine.Date(2026, 11, 20)
	for text, want := range map[string]engine.Pass{
		"2026-11-20":                  {On: day, With: engine.ByTool},
		"2026-11-20:hand":             {On: day, With: engine.ByHand},
		"2026-11-20:tool:both:few":    {On: day, With: engine.ByTool, Way: engine.Both, Left: engine.Few},
		"2026-11-20:many:across:tool": {On: day, With: engine.ByTool, Way: engine.Across, Left: engine.Many},
		"2026-11-20:2.5h:few:3p":      {On: day, With: engine.ByTool, Hours: 2.5, People: 3, Left: engine.Few},
		"2026-11-20:both:3h":          {On: day, With: engine.ByTool, Way: engine.Both, Hours: 3},
	} {
		if got, err := planPass(text); err != nil || got != want {
			t.Errorf("pass %q: %+v, %v", text, got, err)
		}
	}
	for text, want := range map[string]engine.Sighting{
		"2026-11-20:2-3:many":    {On: day, Leaves: engine.TwoThree, Amount: engine.Many},
		"2026-11-20:few:4+:open": {On: day, Leaves: engine.FourPlus, Amount: engine.Few, Rows: engine.RowsOpen},
		"2026-11-20:closed":      {On: day, Rows: engine.RowsClosed},
		"2026-11-20:hand":        {On: day, Water: engine.StandsHand},
		"2026-11-20:fingers:1":   {On: day, Water: engine.StandsFingers, Leaves: engine.OneLeaf},
		"2026-11-20:many:dry":    {On: day, Water: engine.StandsDry, Amount: engine.Many},
		"2026-11-20:mud":         {On: day, Water: engine.StandsMud},
	} {
		if got, err := planSighting(text); err != nil || got != want {
			t.Errorf("sighting %q: %+v, %v", text, got, err)
		}
	}
}

func TestPlanHelpNamesTheTemperaturesTaken(t *testing.T) {
	var b bytes.Buffer
	parser, err := kong.New(&planCmd{}, kong.Name("rowbell plan"), planVars(), kong.Writers(&b, &b), kong.Exit(func(int) {}))
	if err != nil {
		t.Fatal(err)
	}
	_, _ = parser.Parse([]string{"--help"}) // help is printed, and then the required flag is missed
	if !strings.Contains(b.String(), "without either, "+planTemps) {
		t.Errorf("the help does not name %s:\n%s", planTemps, b.String())
	}
}

// planYear is a year in CSV with one line changed.
func planYear(change func(lines []string) []string) string {
	lines := []string{"month,min,max,rain", "1,21,30,30", "2,21,31,20", "3,22,33,40", "4,24,35,90", "5,25,35,180", "6,25,33,240",
		"7,25,32,260", "8,25,32,280", "9,24,32,300", "10,24,31,220", "11,23,30,110", "12,21,29,40"}
	return strings.Join(change(lines), "\n") + "\n"
}

func TestPlanMonths(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func([]string) []string
		says   string // "" = read
	}{
		{"as it is", func(l []string) []string { return l }, ""},
		{"months by name, in another order, with remarks", func(l []string) []string {
			return append([]string{l[0], "# a remark", "Dec, 21, 29, 40", "february,21,31,20"}, append(l[1:2], l[3:12]...)...)
		}, ""},
		{"a byte order mark, as spreadsheets write it", func(l []string) []string { l[0] = "\ufeffMonth, Min, Max, Rain"; return l }, ""},
		{"no heading", func(l []string) []string { return l[1:] }, "line 1: the heading"},
		{"a month twice", func(l []string) []string { l[4] = "3,22,33,40"; return l }, "line 5: March stands in line 4 already"},
		{"a month missing", func(l []string) []string { return l[:12] }, "December is missing"},
		{"month 13", func(l []string) []string { l[12] = "13,21,29,40"; return l }, `line 13: month "13"`},
		{"a word for a number", func(l []string) []string { l[7] = "7,warm,32,260"; return l }, `line 8: min "warm" is not a number from -60 to 60`},
		{"not a number", func(l []string) []string { l[7] = "7,NaN,32,260"; return l }, `line 8: min "NaN"`},
		{"Fahrenheit", func(l []string) []string { l[7] = "7,77,90,260"; return l }, `line 8: min "77"`},
		{"rain below nothing", func(l []string) []string { l[7] = "7,25,32,-1"; return l }, `line 8: rain "-1"`},
		{"min above max", func(l []string) []string { l[2] = "2,31,21,20"; return l }, "line 3: min 31 is above max 21"},
		{"a field too few", func(l []string) []string { l[2] = "2,21,31"; return l }, "line 3: 3 fields instead of the 4"},
		{"a quote left open", func(l []string) []string { l[2] = `2,"21,31,20`; return l }, "line "},
		{"nothing", func([]string) []string { return nil }, ""},
	} {
		normals, err := planMonths(strings.NewReader(planYear(c.change)))
		switch {
		case c.name == "nothing":
			if err == nil {
				t.Error("an empty file was read")
			}
		case c.says == "":
			if err != nil || normals[1] != (engine.Normal{MinC: 21, MaxC: 31, RainMM: 20}) || normals[11] != (engine.Normal{MinC: 21, MaxC: 29, RainMM: 40}) {
				t.Errorf("%s: %v, %v", c.name, normals, err)
			}
		case err == nil || !strings.Contains(err.Error(), c.says):
			t.Errorf("%s: %v, want words like %q", c.name, err, c.says)
		}
	}
	broken := errors.New("the disk is gone")
	if _, err := planMonths(io.MultiReader(strings.NewReader("month,min,max,rain\n"), brokenReader{broken})); !errors.Is(err, broken) {
		t.Errorf("a reader that fails: %v", err)
	}
}

type brokenReader struct{ err error }

func (r brokenReader) Read([]byte) (int, error) { return 0, r.err }

func FuzzPlanMonths(f *testing.F) {
	f.Add(planYear(func(l []string) []string { return l }))
	f.Add("month,min,max,rain\n\"1\n")
	f.Fuzz(func(t *testing.T, text string) {
		normals, err := planMonths(strings.NewReader(text))
		if err != nil {
			return
		}
		// What is read is a year that the engine takes.
		s := engine.Season{Plot: engine.Plot{Method: engine.Broadcast, Planted: engine.Date(2026, 7, 1)}, Weather: engine.Weather{Normals: normals}}
		if err := s.Validate(); err != nil {
			t.Errorf("%q was read as %v: %v", text, normals, err)
		}
	})
}

func FuzzPlanRecords(f *testing.F) {
	for _, s := range []string{"2026-11-20:tool:few", "2026-11-20:2-3:many:open", "2026-11-20:both:2.5h:2p", "2026-11-20:fingers", "10-15", "-3--1", "20x30", ":", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := planPass(text); err == nil && (!strings.HasPrefix(text, p.On.String()) || p.With == 0 ||
			!(p.Hours >= 0 && p.Hours <= planMostHours) || p.People < 0 || p.People > engine.MaxPeople) {
			t.Errorf("%q is the pass %+v", text, p)
		}
		if s, err := planSighting(text); err == nil && s == (engine.Sighting{On: s.On}) {
			t.Errorf("%q is a sighting of nothing", text)
		}
		if from, to, err := planRange("--tool", text, ""); err == nil && from > to {
			t.Errorf("%q is from %g to %g", text, from, to)
		}
		if area, err := planArea(text); err == nil && !(area >= 0) {
			t.Errorf("%q is %g m2", text, area)
		}
	})
}

func TestSources(t *testing.T) {
	run := func(c sourcesCmd) string {
		var b bytes.Buffer
		if err := c.run(&b); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	facts, settings := engine.Facts(), engine.Settings()
	table := run(sourcesCmd{})
	for _, f := range facts {
		if !strings.Contains(table, "\n"+f.Name+" ") || !strings.Contains(table, f.Source) || !strings.Contains(table, f.Meaning) {
			t.Errorf("the table does not tell %s", f.Name)
		}
	}
	var fromJSON []struct {
		Name, Unit, Meaning, Source, Trust string
		Value                              float64
		Min                                *float64 `json:"place_min"`
		Max                                *float64 `json:"place_max"`
	}
	if err := json.Unmarshal([]byte(run(sourcesCmd{JSON: true})), &fromJSON); err != nil || len(fromJSON) != len(facts) {
		t.Fatalf("JSON: %d facts, %v", len(fromJSON), err)
	}
	fromCSV, err := csv.NewReader(strings.NewReader(run(sourcesCmd{CSV: true}))).ReadAll()
	if err != nil || len(fromCSV) != len(facts)+1 {
		t.Fatalf("CSV: %d lines, %v", len(fromCSV), err)
	}
	for i, f := range facts {
		if j := fromJSON[i]; j.Name != f.Name || j.Value != f.Value || j.Unit != f.Unit || j.Meaning != f.Meaning || j.Source != f.Source || j.Trust != f.Trust.String() {
			t.Errorf("JSON: %+v, want %+v", j, f)
		}
		least, most := "", ""
		if at := slices.IndexFunc(settings, func(s engine.Setting) bool { return s.Name == f.Name }); at >= 0 {
			least, most = sourcesValue(settings[at].Min), sourcesValue(settings[at].Max)
			if j := fromJSON[i]; j.Min == nil || j.Max == nil || *j.Min != settings[at].Min || *j.Max != settings[at].Max {
				t.Errorf("JSON: %s may be set from %v to %v", f.Name, j.Min, j.Max)
			}
			if !strings.Contains(table, " "+least+" to "+most+" ") {
				t.Errorf("the table does not tell from where to where %s may be set", f.Name)
			}
		} else if fromJSON[i].Min != nil {
			t.Errorf("JSON: %s may be set", f.Name)
		}
		want := []string{f.Name, sourcesValue(f.Value), f.Unit, f.Meaning, f.Source, f.Trust.String(), least, most}
		if strings.Join(fromCSV[i+1], "|") != strings.Join(want, "|") {
			t.Errorf("CSV: %q, want %q", fromCSV[i+1], want)
		}
	}
}
