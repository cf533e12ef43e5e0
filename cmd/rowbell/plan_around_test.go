package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/engine"
)

func TestPlanSays(t *testing.T) {
	const plot = "--planted 2026-11-03 --row 25 --hill 25 --tool 15 --temps 23-32 --today 2026-11-17 "
	for _, c := range []struct{ args, says, not string }{
		{plot, "With the tool  40 km and about 51 hours a hectare", "Work of one person"},
		{plot, "latitude 15° (taken, as none was told)", "Cost of"},
		{plot + "--latitude=-8.5", "latitude -8.5°", "taken"},
		{plot + "--area 600", "All by hand  about 12 hours", "Cost of"},
		{plot + "--area 600 --price hire-day=40", "hired tool 80 and your work", "Cheapest"},
		{plot + "--area 600 --herbicide 20", "ask a licensed adviser", "Cheapest"},
		{plot + "--area 600 --inflow 0.001", "the inlet is too weak for it", ""},
		{plot + "--area 5000", "about 77% gets done; in time with 1 person going one way and pulling the rest", "Start by"},
		{plot + "--area 8000", "in time with 2 people going one way and pulling the rest", "Start by"},
		{plot + "--area 20000", "in time with a second tool and 4 people", "Start by"},
		{plot + "--area 60000", "begin where it is worst, and pull the rest by hand afterwards", "Start by"},
		{plot + "--area 900 --row 22 --hill 0 --people 2", "To do one way, then pull by hand: about 1 day for 2 people of 6 hours a day", "Both ways"},
		{plot + "--area 4000 --saw 2026-11-17:4+", "To do by hand: about 14 days for 1 person", "Start by"},
		{plot + "--area 900 --price tool=90000 --price labour-day=9 --price hire-day=500 --price service-ha=200",
			"An own tool cheaper than by hand from about 35 ha on, cheaper than hiring one from about 1.1 ha on", "Pays back"},
		{plot + "--area 900 --price tool=900 --price service-ha=1 --price labour-day=60", "never cheaper than a hired service", ""},
		{plot + "--flood moist", "as it is not kept under water", ""},
		{plot + "--saw 2026-11-16:hand", "from what was seen on Mon 16 Nov 2026", "if about 5 cm were kept"},
		{plot + "--saw 2026-11-17:hand", "about 7 cm on Wed 18 Nov 2026 if nothing is let in: enough", "to have 5 cm"},
		{plot + "--saw 2026-11-17:dry", "Too little    today: under the 2 cm", ""},
		{plot + "--area 600 --pass 2026-11-15:tool:16h:1p", "Lost about 4 hours more", "Saved"},
		{plot + "--area 600 --pass 2026-11-15:tool:2h:1p", "Saved    about 10 hours with the tool", "Lost"},
		{plot + "--area 600 --pass 2026-11-15:tool:2h", "Pace the usual", "Hours"},
		{plot + "--wbgt 45", "a man used to the heat may work about 0 minutes of an hour, a woman about 0", ""},
		{plot + "--method row-sown --wbgt 15", "may work about 60 minutes of an hour, a woman about 60", ""},
		{"--planted 2026-11-20 --row 25 --today 2026-11-17", "At planting", "so far"},
		{"--planted 2026-07-20 --row 25 --area 600 --price tool=900 --price family-day=30 --today 2026-11-17", "Cheapest", "Risk of waiting"},
	} {
		// Columns are wider or narrower by what else stands in them.
		text, err := planRun(strings.Fields(c.args)...)
		squeezed := strings.Join(strings.Fields(text), " ")
		if err != nil || !strings.Contains(squeezed, strings.Join(strings.Fields(c.says), " ")) || c.not != "" && strings.Contains(squeezed, c.not) {
			t.Errorf("%s\n%v; want %q and not %q in\n%s", c.args, err, c.says, c.not, text)
		}
	}
}

func TestPlanRefusesMore(t *testing.T) {
	for _, c := range []struct{ args, says string }{
		{"--soil clay", "--soil"},
		{"--inflow -1", "inflow of -1 l/s is not between 0 and 500"},
		{"--inflow NaN", "inflow of NaN l/s"},
		{"--latitude 95", "--latitude 95 is not between -90 and 90 degrees"},
		{"--latitude NaN", "--latitude NaN"},
		{"--latitude north", "--latitude"},
		{"--people 100", "100 people is not between 0 and 99"},
		{"--hours-a-day 17", "17 hours a day is not between 0 and 16"},
		{"--hours-a-day NaN", "NaN hours a day"},
		{"--neighbours -2", "-2 households is not between 0 and 99"},
		{"--price tool", `--price "tool": write name and amount as in tool=900`},
		{"--price spade=4", `"spade" is none of tool, salvage, years, interest`},
		{"--price tool=cheap", `"cheap" is not an amount; write it as in tool=900`},
		{"--price tool=-5", `"-5" is not an amount`},
		{"--price tool=NaN", `"NaN" is not an amount`},
		{"--price tool=1e3", `"1e3" is not an amount`},
		{"--price tool=", `"" is not an amount`},
		{"--price tool=0", "leave it out where it is not known"},
		{"--price tool=2000000000", "is not between 0 and 1e+09"},
		{"--price tool=5%", "only interest is told in percent"},
		{"--price interest=12", "only interest is told in percent a year, as in interest=12%"},
		{"--price interest=600%", "interest 6 a year is not between 0 and 5"},
		{"--price tool=5 --price tool=6", "--price tool is told twice"},
		{"--price salvage=90", "cannot bring 90 when it is old"},
		{"--price years=80", "tool years 80 is not between"},
		{"--price seasons-year=9", "9 crops a year is not between"},
		{"--currency pound", "has more than 4 characters"},
		{"--currency 12", `--currency "12"`},
		{"--herbicide -3", "price -3 is not between"},
		{"--figure HandHoursPerHa", `--figure "HandHoursPerHa": write name and value`},
		{"--figure HandHoursPerHa=lots", "write name and value as in HandHoursPerHa=260"},
		{"--figure WeedBaseC=9", `no figure called "WeedBaseC" can be set; rowbell sources lists those that can`},
		{"--figure HandHoursPerHa=2", "HandHoursPerHa 2 is not between 20 and 1500"},
		{"--figure KcEnd=1 --figure KcEnd=0.9", "--figure KcEnd is told twice"},
		{"--wbgt 60", "--wbgt 60 is not between 10 and 45 °C"},
		{"--wbgt NaN", "--wbgt NaN"},
		{"--pass 2026-11-20:0h", `"0h" is none of`},
		{"--pass 2026-11-20:501h", `"501h" is none of`},
		{"--pass 2026-11-20:NaNh", `"NaNh" is none of`},
		{"--pass 2026-11-20:2h:3h", `"3h" says again what was said`},
		{"--pass 2026-11-20:100p", `"100p" is none of`},
		{"--pass 2026-11-20:tool:hand", `"hand" says again what was said`},
		{"--pass 2026-11-20:hand:both", "ways of the tool"},
		{"--saw 2026-11-20:deep", `"deep" is none of`},
		{"--saw 2026-11-20:dry:mud", `"mud" says again what was said`},
		{"--saw 2026-11-20:few:many", `"many" says again what was said`},
		//{"--daily, "no-such-file.csv"},
	} {
		out, err := planRun(append([]string{"--planted", "2026-11-03", "--row", "20"}, planArgs(c.args)...)...)
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "engine:") || out != "" {
			t.Errorf("%s\n%v; want words like %q; printed %q", c.args, err, c.says, out)
		}
	}
}

// planArgs gives a flag its value with "=", as values may begin with a minus.
func planArgs(text string) []string {
	words := strings.Fields(text)
	var args []string
	for i := 0; i < len(words); i += 2 {
		args = append(args, words[i]+"="+words[i+1])
	}
	return args
}

// A file of days is taken whole or not at all.
func TestPlanRefusesBadDays(t *testing.T) {
	for _, c := range []struct{ days, says string }{
		{"2026-11-10,20,30,5\n2026-11-11,35,30,5\n", "line 3"},
		{"2026-11-10,20,30,-4\n", "line 2"},
		{"2026-11-10,20,30,5\n2026-11-10,20,30,5\n", "line 3"},
		{"2026-11-26,20,30,5\n", "line 2"},
		{"10 Nov,20,30,5\n", "line 2"},
		{"", "no days"},
	} {
		file := filepath.Join(t.TempDir(), "days.csv")
		if err := os.WriteFile(file, []byte("date,min_c,max_c,rain_mm\n"+c.days), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := planRun("--planted", "2026-11-03", "--row", "20", "--daily", file)
		var usage *usageError
		if !errors.As(err, &usage) || !strings.Contains(err.Error(), "days.csv: ") || !strings.Contains(err.Error(), c.says) || out != "" {
			t.Errorf("%q\n%v; want words like %q; printed %q", c.days, err, c.says, out)
		}
	}
}

// Measured heat moves a window, measured rain the water.
func TestPlanUsesDays(t *testing.T) {
	windowAndWater := func(days string) (opens string, depth float64) {
		file := filepath.Join(t.TempDir(), "days.csv")
		if err := os.WriteFile(file, []byte("date,min_c,max_c,rain_mm\n"+days), 0o644); err != nil {
			t.Fatal(err)
		}
		text, err := planRun("--planted", "2026-11-03", "--row", "20", "--temps", "20-28", "--saw", "2026-11-04:dry", "--daily", file, "--today", "2026-11-12", "--json")
		if err != nil {
			t.Fatal(err)
		}
		var out planOut
		if err := json.Unmarshal([]byte(text), &out); err != nil {
			t.Fatal(err)
		}
		return out.Next.Opens, out.Water.DepthMM
	}
	usual, _ := windowAndWater("2026-11-04,20,28,0\n")
	hot, dry := windowAndWater("2026-11-04,28,38,0\n2026-11-05,28,38,0\n2026-11-06,28,38,0\n2026-11-07,28,38,0\n2026-11-08,28,38,0\n")
	_, wet := windowAndWater("2026-11-11,20,28,60\n")
	if hot >= usual || dry != 0 || wet <= 0 {
		t.Errorf("usual %s, hot %s; water %g when dry, %g after rain", usual, hot, dry, wet)
	}
}

func TestPlanPrice(t *testing.T) {
	var p engine.Prices
	for _, text := range []string{"tool=900", "salvage=90.5", "years=8", "interest=12.5%", "hire-day=40", "service-ha=1500", "labour-day=60", "family-day=45", "seasons-year=2"} {
		if _, err := planPrice(text, &p); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
	want := engine.Prices{Tool: 900, ToolSalvage: 90.5, ToolYears: 8, InterestYear: 0.125, HireDay: 40, ServiceHa: 1500, LabourDay: 60, FamilyDay: 45, SeasonsYear: 2}
	if p != want {
		t.Errorf("%+v, want %+v", p, want)
	}
	if _, err := planPrice("interest=0%", &p); err != nil || p.InterestYear != 0 {
		t.Errorf("borrowing for nothing: %v, %g", err, p.InterestYear)
	}
}

func FuzzPlanPlace(f *testing.F) {
	for _, s := range []string{"tool=900", "interest=12%", "HandHoursPerHa=260", "KcEnd=0.9", "=", "tool=", "tool=.", "tool=1.2.3", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var p engine.Prices
		if name, err := planPrice(text, &p); err == nil {
			for _, slot := range planPriceSlots {
				if v := *slot.of(&p); !(v >= 0) || v != 0 && slot.name != name {
					t.Errorf("%q is %s %g", text, slot.name, v)
				}
			}
		} else if p != (engine.Prices{}) {
			t.Errorf("%q is refused and left %+v", text, p)
		}
		local := engine.NewLocal()
		was := local.Figures
		if _, err := planFigure(text, &local.Figures); err != nil && local.Figures != was {
			t.Errorf("%q is refused and changed a figure", text)
		}
		if err := local.Validate(); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	})
}
