package plan

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/alecthomas/kong"

	"rowbell/engine"
)

//revive:disable-next-line:function-length the rows of two tables
func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	months, days := filepath.Join(dir, "months.csv"), filepath.Join(dir, "days.csv")
	must(t, os.WriteFile(months, []byte("month,min,max,rain\n1,22,31,20\n2,33,31,20\n"), 0o644))
	must(t, os.WriteFile(days, []byte("date,min_c,max_c,rain_mm\n2026-11-24,20,30,5\n2026-11-26,20,30,5\n"), 0o644))
	refuse := func(says string, args []string) {
		t.Helper()
		out, err := run(args...)
		var parse *kong.ParseError
		var input *InputError
		switch {
		case err == nil || !strings.Contains(err.Error(), says) || strings.Contains(err.Error(), "engine:"):
			t.Errorf("%q\nerror %v, want one with %q", args, err, says)
		case !errors.As(err, &parse) && !errors.As(err, &input):
			t.Errorf("%q\n%v is not reported as a mistake in the flags", args, err)
		case out != "":
			t.Errorf("%q is refused and printed %q", args, out)
		}
	}
	for args, says := range map[string]string{
		"--row 20":                     "--planted",
		"--planted 3.11.2026 --row 20": `--planted "3.11.2026": write the day as in 2026-11-25`,
		"--planted 2026-11-03":         "--row is needed",
		"--planted 2026-11-03 --row 2": "row spacing 2 cm is not between 5 and 100",
	} {
		refuse(says, strings.Fields(args))
	}
	for args, says := range map[string]string{
		"--method thrown":                     "--method",
		"--flood deep":                        "--flood",
		"--tool wide":                         `--tool "wide": write it as in 15 or 10-15`,
		"--tool 15-10":                        `--tool "15-10"`,
		"--tool 0":                            "leave --tool out",
		"--tool 150":                          "tool width 150 cm is not between 5 and 60",
		"--area 20x30x2":                      `--area "20x30x2": write square metres`,
		"--area -5":                           "--area",
		"--pass 2026-11-20:spade":             `"spade" is none of tool, hand`,
		"--pass yesterday":                    `--pass "yesterday": write the day`,
		"--pass 2026-11-01:tool":              "--pass 2026-11-01 is before the planting day 2026-11-03",
		"--pass 2026-11-26:tool":              "--pass 2026-11-26 is after the day of the plan, 2026-11-25",
		"--saw 2026-11-20:5":                  `"5" is none of none, 1, 2-3, 4+`,
		"--saw 2026-11-20":                    "say after a colon what was seen",
		"--saw 2026-12-20:1":                  "is after the day of the plan",
		"--puddled 2026-11-04":                "puddled 2026-11-04 is not in the 30 days before planting",
		"--puddled soon":                      `--puddled "soon"`,
		"--today now":                         `--today "now"`,
		"--temps hot":                         `--temps "hot": write it as in 22-32`,
		"--temps 70-90":                       "no usable temperatures",
		"--temps 22-32 --months x.csv":        "--temps",
		"--months no-such-file.csv":           "no-such-file.csv",
		"--months " + months:                  "months.csv: line 3: min 33 is above max 31",
		"--daily no-such-file.csv":            "no-such-file.csv",
		"--daily " + days:                     "days.csv: 1 row cannot be used\n  line 3: 2026-11-26 is in the future",
		"--soil clay":                         "--soil",
		"--inflow -1":                         "inflow of -1 l/s is not between 0 and 500",
		"--inflow NaN":                        "inflow of NaN l/s",
		"--latitude 95":                       "--latitude 95 is not between -90 and 90 degrees",
		"--latitude NaN":                      "--latitude NaN",
		"--latitude north":                    "--latitude",
		"--people 100":                        "100 people is not between 0 and 99",
		"--hours-a-day 17":                    "17 hours a day is not between 0 and 16",
		"--hours-a-day NaN":                   "NaN hours a day",
		"--neighbours -2":                     "-2 households is not between 0 and 99",
		"--price tool":                        `--price "tool": write name and amount as in tool=900`,
		"--price spade=4":                     `"spade" is none of tool, salvage, years, interest`,
		"--price tool=cheap":                  `"cheap" is not an amount; write it as in tool=900`,
		"--price tool=-5":                     `"-5" is not an amount`,
		"--price tool=1e3":                    `"1e3" is not an amount`,
		"--price tool=":                       `"" is not an amount`,
		"--price tool=0":                      "leave it out where it is not known",
		"--price tool=2000000000":             "is not between 0 and 1e+09",
		"--price tool=5%":                     "only interest is told in percent",
		"--price interest=12":                 "only interest is told in percent a year, as in interest=12%",
		"--price interest=600%":               "interest 6 a year is not between 0 and 5",
		"--price tool=5 --price tool=6":       "--price tool is told twice",
		"--price salvage=90":                  "cannot bring 90 when it is old",
		"--price years=80":                    "tool years 80 is not between",
		"--price seasons-year=9":              "9 crops a year is not between",
		"--currency pound":                    "has more than 4 characters",
		"--currency 12":                       `--currency "12"`,
		"--herbicide -3":                      "price -3 is not between",
		"--figure HandHoursPerHa":             `--figure "HandHoursPerHa": write name and value`,
		"--figure HandHoursPerHa=lots":        "write name and value as in HandHoursPerHa=260",
		"--figure WeedBaseC=9":                `no figure called "WeedBaseC" can be set; rowbell sources lists`,
		"--figure HandHoursPerHa=2":           "HandHoursPerHa 2 is not between 20 and 1500",
		"--figure KcEnd=1 --figure KcEnd=0.9": "--figure KcEnd is told twice",
		"--wbgt 60":                           "--wbgt 60 is not between 10 and 45 °C",
		"--wbgt NaN":                          "--wbgt NaN",
		"--pass 2026-11-20:0h":                `"0h" is none of`,
		"--pass 2026-11-20:501h":              `"501h" is none of`,
		"--pass 2026-11-20:2h:3h":             `"3h" says again what was said`,
		"--pass 2026-11-20:100p":              `"100p" is none of`,
		"--pass 2026-11-20:0%":                `"0%" is none of`,
		"--pass 2026-11-20:101%":              `"101%" is none of`,
		"--pass 2026-11-20:50%:25%":           `"25%" says again what was said`,
		"--pass 2026-11-20:tool:hand":         `"hand" says again what was said`,
		"--pass 2026-11-20:hand:both":         "ways of the tool",
		"--saw 2026-11-20:deep":               `"deep" is none of`,
		"--saw 2026-11-20:dry:mud":            `"mud" says again what was said`,
		"--saw 2026-11-20:few:many":           `"many" says again what was said`,
	} {
		refuse(says, append([]string{"--planted", "2026-11-03", "--row", "20"}, withEquals(args)...))
	}
}

// withEquals writes each flag and its value as "flag=value", because a value that begins with a minus looks like a
// flag.
func withEquals(text string) (args []string) {
	for word := range strings.FieldsSeq(text) {
		if strings.HasPrefix(word, "--") || len(args) == 0 {
			args = append(args, word)
		} else {
			args[len(args)-1] += "=" + word
		}
	}
	return args
}

func parses[T comparable](t *testing.T, parse func(string) (T, error), texts map[string]T) {
	t.Helper()
	for text, want := range texts {
		if got, err := parse(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v; want %+v", text, got, err, want)
		}
	}
}

func TestFlags(t *testing.T) {
	parses(t, parseArea, map[string]float64{"": 0, "600": 600, "20x30": 600, "20.5X30": 615, "20×30": 600,
		"12*10": 120, " 8 x 5 ": 40})
	parses(t, parseTool, map[string]engine.Tool{"": {}, "15": {WidthCM: 15}, "10-15": {WidthCM: 10, MaxWidthCM: 15},
		"15-15": {WidthCM: 15}, "12.5": {WidthCM: 12.5}})
	ends := func(text string) ([2]float64, error) {
		low, high, err := parseRange("--temps", text, "")
		return [2]float64{low, high}, err
	}
	parses(t, ends, map[string][2]float64{"22-32": {22, 32}, "-3-12": {-3, 12}, "-12--3": {-12, -3},
		"27.5": {27.5, 27.5}})
	day := engine.Date(2026, 11, 20)
	parses(t, ParsePass, map[string]engine.Pass{
		"2026-11-20":                  {On: day, With: engine.ByTool},
		"2026-11-20:hand":             {On: day, With: engine.ByHand},
		"2026-11-20:tool:both:few":    {On: day, With: engine.ByTool, Way: engine.Both, Left: engine.Few},
		"2026-11-20:many:across:tool": {On: day, With: engine.ByTool, Way: engine.Across, Left: engine.Many},
		"2026-11-20:2.5h:few:3p":      {On: day, With: engine.ByTool, Hours: 2.5, People: 3, Left: engine.Few},
		"2026-11-20:both:3h":          {On: day, With: engine.ByTool, Way: engine.Both, Hours: 3},
	})
	parses(t, ParseSighting, map[string]engine.Sighting{
		"2026-11-20:2-3:many":    {On: day, Leaves: engine.TwoThree, Amount: engine.Many},
		"2026-11-20:few:4+:open": {On: day, Leaves: engine.FourPlus, Amount: engine.Few, Rows: engine.RowsOpen},
		"2026-11-20:closed":      {On: day, Rows: engine.RowsClosed},
		"2026-11-20:hand":        {On: day, Water: engine.StandsHand},
		"2026-11-20:fingers:1":   {On: day, Water: engine.StandsFingers, Leaves: engine.OneLeaf},
		"2026-11-20:many:dry":    {On: day, Water: engine.StandsDry, Amount: engine.Many},
		"2026-11-20:mud":         {On: day, Water: engine.StandsMud},
		"2026-11-20:none":        {On: day, Leaves: engine.NoneUp},
	})
}

// yearCSV returns a valid file for --months after the function change has changed its lines.
func yearCSV(change func(lines []string) []string) string {
	lines := strings.Fields("month,min,max,rain 1,21,30,30 2,21,31,20 3,22,33,40 4,24,35,90 5,25,35,180 6,25,33,240 " +
		"7,25,32,260 8,25,32,280 9,24,32,300 10,24,31,220 11,23,30,110 12,21,29,40")
	return strings.Join(change(lines), "\n") + "\n"
}

func TestMonths(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func([]string) []string
		says   string // words of the error; "" = the file must be accepted
	}{
		{"as it is", func(l []string) []string { return l }, ""},
		{"months by name, in another order, with remarks", func(l []string) []string {
			return append([]string{l[0], "# a remark", "Dec, 21, 29, 40", "february,21,31,20"},
				append(l[1:2], l[3:12]...)...)
		}, ""},
		{"a byte order mark, as spreadsheets write it",
			func(l []string) []string { l[0] = "\ufeffMonth, Min, Max, Rain"; return l }, ""},
		{"no heading", func(l []string) []string { return l[1:] }, "line 1: the heading"},
		{"a month twice", func(l []string) []string { l[4] = "3,22,33,40"; return l },
			"line 5: March is already on line 4"},
		{"a month missing", func(l []string) []string { return l[:12] }, "December is missing"},
		{"month 13", func(l []string) []string { l[12] = "13,21,29,40"; return l }, `line 13: month "13"`},
		{"a word for a number", func(l []string) []string { l[7] = "7,warm,32,260"; return l },
			`line 8: min "warm" is not a number from -60 to 60`},
		{"not a number", func(l []string) []string { l[7] = "7,NaN,32,260"; return l }, `line 8: min "NaN"`},
		{"Fahrenheit", func(l []string) []string { l[7] = "7,77,90,260"; return l }, `line 8: min "77"`},
		{"rain below nothing", func(l []string) []string { l[7] = "7,25,32,-1"; return l }, `line 8: rain "-1"`},
		{"min above max", func(l []string) []string { l[2] = "2,31,21,20"; return l },
			"line 3: min 31 is above max 21"},
		{"a field too few", func(l []string) []string { l[2] = "2,21,31"; return l },
			"line 3: 3 fields instead of the 4"},
		{"a quote left open", func(l []string) []string { l[2] = `2,"21,31,20`; return l }, "line "},
		{"nothing", func([]string) []string { return nil }, "January is missing"},
	} {
		normals, err := parseMonths(strings.NewReader(yearCSV(c.change)))
		switch {
		case c.says == "":
			if err != nil || normals[1] != (engine.Normal{MinC: 21, MaxC: 31, RainMM: 20}) ||
				normals[11] != (engine.Normal{MinC: 21, MaxC: 29, RainMM: 40}) {
				t.Errorf("%s: %v, %v", c.name, normals, err)
			}
		case err == nil || !strings.Contains(err.Error(), c.says):
			t.Errorf("%s: %v, want words like %q", c.name, err, c.says)
		}
	}
	broken := errors.New("the disk is gone")
	if _, err := parseMonths(io.MultiReader(strings.NewReader("month,min,max,rain\n"),
		iotest.ErrReader(broken))); !errors.Is(err, broken) {
		t.Errorf("a reader that fails: %v", err)
	}
}

func FuzzMonths(f *testing.F) {
	f.Add(yearCSV(func(l []string) []string { return l }))
	f.Add("month,min,max,rain\n\"1\n")
	f.Fuzz(func(t *testing.T, text string) {
		normals, err := parseMonths(strings.NewReader(text))
		if err != nil {
			return
		}
		// The engine accepts every year that parseMonths accepts.
		s := engine.Season{Plot: engine.Plot{Method: engine.Broadcast, Planted: engine.Date(2026, 7, 1)},
			Weather: engine.Weather{Normals: normals}}
		if err := s.Validate(); err != nil {
			t.Errorf("%q was read as %v: %v", text, normals, err)
		}
	})
}

func FuzzRecords(f *testing.F) {
	for _, s := range []string{"2026-11-20:tool:few", "2026-11-20:2-3:many:open", "2026-11-20:both:2.5h:2p",
		"2026-11-20:50%", "2026-11-20:fingers", "10-15", "-3--1", "20x30", ":", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := ParsePass(text); err == nil && (!strings.HasPrefix(text, p.On.String()) || p.With == 0 ||
			!(p.Hours >= 0 && p.Hours <= maxPassHours) || p.People < 0 || p.People > engine.MaxPeople ||
			!(p.Share >= 0 && p.Share <= 1)) {
			t.Errorf("%q is the pass %+v", text, p)
		}
		if s, err := ParseSighting(text); err == nil && s == (engine.Sighting{On: s.On}) {
			t.Errorf("%q is a sighting of nothing", text)
		}
		if from, to, err := parseRange("--tool", text, ""); err == nil && from > to {
			t.Errorf("%q is from %g to %g", text, from, to)
		}
		if area, err := parseArea(text); err == nil && !(area >= 0) {
			t.Errorf("%q is %g m2", text, area)
		}
	})
}

func TestPrice(t *testing.T) {
	var p engine.Prices
	for _, text := range []string{"tool=900", "salvage=90.5", "years=8", "interest=12.5%", "hire-day=40",
		"service-ha=1500", "labour-day=60", "family-day=45", "seasons-year=2"} {
		if _, err := parsePrice(text, &p); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
	want := engine.Prices{Tool: 900, ToolSalvage: 90.5, ToolYears: 8, InterestYear: 0.125, HireDay: 40, ServiceHa: 1500,
		LabourDay: 60, FamilyDay: 45, SeasonsYear: 2}
	if p != want {
		t.Errorf("%+v, want %+v", p, want)
	}
	if _, err := parsePrice("interest=0%", &p); err != nil || p.InterestYear != 0 {
		t.Errorf("borrowing for nothing: %v, %g", err, p.InterestYear)
	}
}

func FuzzPlace(f *testing.F) {
	for _, s := range []string{"tool=900", "interest=12%", "HandHoursPerHa=260", "KcEnd=0.9", "=", "tool=", "tool=.",
		"tool=1.2.3", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var p engine.Prices
		if name, err := parsePrice(text, &p); err == nil {
			for _, slot := range PriceSlots {
				if v := *slot.Of(&p); !(v >= 0) || v != 0 && slot.Name != name {
					t.Errorf("%q is %s %g", text, slot.Name, v)
				}
			}
		} else if p != (engine.Prices{}) {
			t.Errorf("%q is refused and left %+v", text, p)
		}
		local := engine.NewLocal()
		was := local.Figures
		if _, err := parseFigure(text, &local.Figures); err != nil && local.Figures != was {
			t.Errorf("%q is refused and changed a figure", text)
		}
		if err := local.Validate(); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	})
}
