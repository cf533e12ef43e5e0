package plan

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"rowbell/engine"
)

var update = flag.Bool("update", false, "write the golden files anew")

// testToday is the day of these tests where --today names no other.
var testToday = engine.Date(2026, 11, 25)

// command is rowbell plan without its files.
type command struct {
	Input
	JSON bool `name:"json"`
}

// run parses the arguments and returns the table or the JSON.
func run(args ...string) (string, error) {
	var c command
	parser, err := kong.New(&c, kong.Name("rowbell plan"), kong.Vars(Vars()))
	if err != nil {
		return "", err
	}
	if _, err := parser.Parse(args); err != nil {
		return "", err
	}
	report, err := New(&c.Input, testToday)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	write := report.Table
	if c.JSON {
		write = report.JSON
	}
	err = write(&b)
	return b.String(), err
}

// A golden file begins with its command. Read the answer as a field worker would
// before you keep it: go test ./cmd/rowbell/plan -run Golden -update
func TestGolden(t *testing.T) {
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
			answer, err := run(strings.Fields(args)...)
			if err != nil {
				answer += "error: " + err.Error() + "\n"
			}
			if got := command + "\n\n" + answer; *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			} else if got != string(b) {
				t.Errorf("got\n%s\nwant\n%s", got, b)
			}
		})
	}
}

func TestSays(t *testing.T) {
	const plot = "--planted 2026-11-03 --row 25 --hill 25 --tool 15 --temps 23-32 --today 2026-11-17 "
	for _, c := range []struct{ args, says, not string }{
		{plot, "With the tool  40 km and about 51 hours a hectare", "Work of one person"},
		{plot, "latitude 15° (taken, as none was told)", "Cost of"},
		{plot + "--latitude=-8.5", "latitude -8.5°", "taken"},
		{plot + "--area 600", "All by hand  about 12 hours", "Cost of"},
		{plot + "--area 600 --price hire-day=40", "hired tool 80 and your work", "Cheapest"},
		{plot + "--area 600 --herbicide 20", "ask a licensed adviser", "Cheapest"},
		{plot + "--area 600 --inflow 0.001", "the inlet is too weak for it", ""},
		{plot + "--area 5000", "about 77% gets done; in time with 1 person going one way and pulling the rest",
			"Start by"},
		{plot + "--area 8000", "in time with 2 people going one way and pulling the rest", "Start by"},
		{plot + "--area 20000", "in time with a second tool and 4 people", "Start by"},
		{plot + "--area 60000", "begin where it is worst, and pull the rest by hand afterwards", "Start by"},
		{plot + "--area 900 --row 22 --hill 0 --people 2",
			"To do one way, then pull by hand: about 1 day for 2 people of 6 hours a day", "Both ways"},
		{plot + "--area 4000 --saw 2026-11-17:4+", "To do by hand: about 14 days for 1 person", "Start by"},
		{plot + "--area 900 --price tool=90000 --price labour-day=9 --price hire-day=500 --price service-ha=200",
			"An own tool cheaper than by hand from about 35 ha on, cheaper than hiring one from about 1.1 ha on",
			"Pays back"},
		{plot + "--area 900 --price tool=900 --price service-ha=1 --price labour-day=60",
			"never cheaper than a hired service", ""},
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
		{"--planted 2026-07-20 --row 25 --area 600 --price tool=900 --price family-day=30 --today 2026-11-17",
			"Cheapest", "Risk of waiting"},
	} {
		// The width of a column depends on its other cells.
		text, err := run(strings.Fields(c.args)...)
		squeezed := strings.Join(strings.Fields(text), " ")
		if err != nil || !strings.Contains(squeezed, strings.Join(strings.Fields(c.says), " ")) || c.not != "" &&
			strings.Contains(squeezed, c.not) {
			t.Errorf("%s\n%v; want %q and not %q in\n%s", c.args, err, c.says, c.not, text)
		}
	}
}

// Measured heat moves a window, measured rain changes the water.
func TestUsesDays(t *testing.T) {
	windowAndWater := func(days string) (opens string, depth float64) {
		file := filepath.Join(t.TempDir(), "days.csv")
		if err := os.WriteFile(file, []byte("date,min_c,max_c,rain_mm\n"+days), 0o644); err != nil {
			t.Fatal(err)
		}
		text, err := run("--planted", "2026-11-03", "--row", "20", "--temps", "20-28", "--saw", "2026-11-04:dry",
			"--daily", file, "--today", "2026-11-12", "--json")
		if err != nil {
			t.Fatal(err)
		}
		var out struct {
			Next  struct{ Opens string }
			Water struct {
				DepthMM float64 `json:"depth_mm"`
			}
		}
		if err := json.Unmarshal([]byte(text), &out); err != nil {
			t.Fatal(err)
		}
		return out.Next.Opens, out.Water.DepthMM
	}
	usual, _ := windowAndWater("2026-11-04,20,28,0\n")
	hot, dry := windowAndWater("2026-11-04,28,38,0\n2026-11-05,28,38,0\n2026-11-06,28,38,0\n2026-11-07,28,38,0\n" +
		"2026-11-08,28,38,0\n")
	_, wet := windowAndWater("2026-11-11,20,28,60\n")
	if hot >= usual || dry != 0 || wet <= 0 {
		t.Errorf("usual %s, hot %s; water %g when dry, %g after rain", usual, hot, dry, wet)
	}
}

// jsonNames is the place of each figure of the engine in the JSON of rowbell plan.
// A new field of the engine that is not in the JSON fails the test below.
var jsonNames = map[string]string{
	"Water.DepthMM": "water.depth_mm", "Water.From": "water.from", "Water.FromSeen": "water.from_seen",
	"Water.NeedMM":  "water.need_mm",
	"Water.LeastMM": "water.least_mm", "Water.ShortOn": "water.short_on", "Water.On": "water.on",
	"Water.OnDepthMM": "water.on_depth_mm",
	"Water.BringMM":   "water.bring_mm", "Water.M3": "water.bring_m3", "Water.Litres": "water.bring_litres",
	"Water.InflowHours": "water.inflow_hours",
	"Water.InletWeak":   "water.inlet_is_weak", "Water.ETcMM": "water.crop_takes_mm_per_day",
	"Water.LossMM": "water.ground_takes_mm_per_day",

	"Work.AlongHours": "work.along_hours", "Work.AcrossHours": "work.across_hours", "Work.BothHours": "work.both_hours",
	"Work.LowHours": "work.along_low_hours", "Work.HighHours": "work.along_high_hours",
	"Work.PullHours":     "work.pull_hours",
	"Work.PullBothHours": "work.pull_both_hours", "Work.HandHours": "work.hand_hours",
	"Work.Pace.Factor": "work.pace.factor", "Work.Pace.Logged": "work.pace.logged", "Work.Pace.Low": "work.pace.low",
	"Work.Pace.High":       "work.pace.high",
	"Work.HandPace.Factor": "work.hand_pace.factor", "Work.HandPace.Logged": "work.hand_pace.logged",
	"Work.HandPace.Low": "work.hand_pace.low", "Work.HandPace.High": "work.hand_pace.high",
	"Work.People": "work.people", "Work.HoursADay": "work.hours_per_day", "Work.Do": "work.do",
	"Work.OneWay": "work.one_way", "Work.Days": "work.days",
	"Work.StartBy": "work.start_by", "Work.Fits": "work.fits", "Work.Share": "work.done_share",
	"Work.Instead":   "work.instead.what",
	"Work.InsteadDo": "work.instead.do", "Work.NeedPeople": "work.instead.people",

	"Costs.All[0].Way": "costs.ways.0.way", "Costs.All[0].Season": "costs.ways.0.season_money",
	"Costs.All[0].PerHa": "costs.ways.0.money_per_ha",
	"Costs.All[0].Hours": "costs.ways.0.work_hours", "Costs.All[0].Cash": "costs.ways.0.cash_money",
	"Costs.All[0].Known":     "costs.ways.0.season_money",
	"Costs.All[0].CashKnown": "costs.ways.0.cash_money",
	"Costs.Cheapest":         "costs.cheapest", "Costs.ToolPrice": "costs.tool_money",
	"Costs.SharePrice": "costs.share_money", "Costs.Sharers": "costs.sharers",
	"Costs.HireDays": "costs.hire_days", "Costs.FamilyDay": "costs.family_day_money",
	"Costs.AtWage":      "costs.family_at_wage",
	"Costs.OwnPaysBack": "costs.own_tool_pays_back_seasons", "Costs.SharePaysBack": "costs.share_pays_back_seasons",
	"Costs.Own.Hand.When":      "costs.own_tool_cheaper.than_hand.when",
	"Costs.Own.Hand.Ha":        "costs.own_tool_cheaper.than_hand.from_ha",
	"Costs.Own.Hire.When":      "costs.own_tool_cheaper.than_hire.when",
	"Costs.Own.Hire.Ha":        "costs.own_tool_cheaper.than_hire.from_ha",
	"Costs.Own.Service.When":   "costs.own_tool_cheaper.than_service.when",
	"Costs.Own.Service.Ha":     "costs.own_tool_cheaper.than_service.from_ha",
	"Costs.Own.All.When":       "costs.own_tool_cheaper.than_all.when",
	"Costs.Own.All.Ha":         "costs.own_tool_cheaper.than_all.from_ha",
	"Costs.Share.Hand.When":    "costs.share_cheaper.than_hand.when",
	"Costs.Share.Hand.Ha":      "costs.share_cheaper.than_hand.from_ha",
	"Costs.Share.Hire.When":    "costs.share_cheaper.than_hire.when",
	"Costs.Share.Hire.Ha":      "costs.share_cheaper.than_hire.from_ha",
	"Costs.Share.Service.When": "costs.share_cheaper.than_service.when",
	"Costs.Share.Service.Ha":   "costs.share_cheaper.than_service.from_ha",
	"Costs.Share.All.When":     "costs.share_cheaper.than_all.when",
	"Costs.Share.All.Ha":       "costs.share_cheaper.than_all.from_ha",

	"Risk.Level": "risk.level", "Risk.LowPct": "risk.loss_low_pct", "Risk.HighPct": "risk.loss_high_pct",
	"Risk.BoundPct": "risk.loss_bound_pct",
	"Risk.Critical": "risk.critical", "Risk.WeedsPerM2Low": "risk.weeds_low_per_m2",
	"Risk.WeedsPerM2High": "risk.weeds_high_per_m2",
	"Risk.HeadStartDays":  "risk.head_start_days", "Risk.Score": "risk.score",

	"Summary.Passes": "summary.passes", "Summary.ByHand": "summary.by_hand", "Summary.InWindow": "summary.in_window",
	"Summary.FirstDay": "summary.first",
	"Summary.LastDay":  "summary.last", "Summary.Hours": "summary.hours",
	"Summary.LoggedHours": "summary.passes_with_hours", "Summary.Rounds": "summary.rounds",
	"Summary.HandHours": "summary.hand_hours", "Summary.SavedHours": "summary.saved_hours",
	"Summary.Cost": "summary.cost_money",

	"Plan.On": "on", "Plan.State": "state", "Plan.WeedLeaves": "weed_leaves", "Plan.Shade": "crop_shade_share",
	"Plan.Passes": "passes", "Plan.LookAgain": "look_again",
	"Plan.Fit.Verdict": "fit.verdict", "Plan.Fit.WidthCM": "fit.width_cm", "Plan.Fit.ClearanceCM": "fit.clearance_cm",
	"Plan.Fit.SmallestRowCM": "fit.smallest_row_cm",
	"Plan.Fit.LargestRowCM":  "fit.largest_row_cm", "Plan.Fit.Square": "fit.square",
	"Plan.Fit.CrossFits": "fit.cross_fits", "Plan.Fit.SweptOnce": "fit.swept_once_share",
	"Plan.Fit.SweptCrossed": "fit.swept_crossed_share", "Plan.Fit.HillsPerM2": "fit.hills_per_m2",
	"Plan.Fit.WalkKMPerHa": "fit.walk_km_per_ha",
	"Plan.Fit.WalkKM":      "fit.walk_km", "Plan.Fit.HoursPerHa": "fit.hours_per_ha", "Plan.Fit.Hours": "fit.hours",
	"Plan.Fit.HoursCrossed": "fit.hours_crossed",
	"Plan.Next.Number":      "next.number", "Plan.Next.Edition": "next.edition", "Plan.Next.Opens": "next.opens",
	"Plan.Next.Best":   "next.best",
	"Plan.Next.Closes": "next.closes", "Plan.Next.With": "next.with", "Plan.Next.Why": "next.why",
	"Plan.Moved.Number": "moved.number", "Plan.Moved.Edition": "moved.edition", "Plan.Moved.Opens": "moved.opens",
	"Plan.Moved.Best":   "moved.best",
	"Plan.Moved.Closes": "moved.closes", "Plan.Moved.With": "moved.with", "Plan.Moved.Why": "moved.why",
	"Plan.Later":               "later",
	"Plan.Closure.LastToolDay": "last_tool_day", "Plan.Closure.RowsClose": "rows_close",
	"Plan.Closure.PlantsBig":     "plants_big",
	"Plan.Closure.PanicleStarts": "panicle_starts", "Plan.Closure.Why": "last_tool_day_why",
}

// leaf is one figure of the engine, set to a value that no other figure has.
type leaf struct {
	name string
	v    reflect.Value
}

// fill sets all fields to values that differ, and lists them.
func fill(name string, v reflect.Value, n *int) (leaves []leaf) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				leaves = append(leaves, fill(name+"."+f.Name, v.Field(i), n)...)
			}
		}
		return leaves
	case reflect.Array:
		for i := range v.Len() {
			more := fill(fmt.Sprintf("%s[%d]", name, i), v.Index(i), n)
			if i == 0 { // the others are in the same members
				leaves = append(leaves, more...)
			}
		}
		return leaves
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Uint8:
		v.SetUint(2)
	case reflect.Float64:
		*n++
		v.SetFloat(float64(*n) + 0.125)
	case reflect.Int, reflect.Int32:
		*n++
		v.SetInt(int64(*n))
	}
	return []leaf{{name, v}}
}

func TestJSONCarriesEverything(t *testing.T) {
	local := engine.NewLocal()
	p := Report{Season: engine.Season{Plot: engine.Plot{AreaM2: 100, InflowLS: 1}, Local: &local}}
	n := 0
	var leaves []leaf
	for name, v := range map[string]any{"Plan": &p.Full.Plan, "Water": &p.Full.Water, "Work": &p.Full.Work,
		"Costs": &p.Full.Costs, "Risk": &p.Full.Risk, "Summary": &p.Summary} {
		leaves = append(leaves, fill(name, reflect.ValueOf(v).Elem(), &n)...)
	}
	if got := reflect.TypeFor[engine.Full]().NumField(); got != 5 {
		t.Fatalf("engine.Full has %d parts, and this test knows 5", got)
	}
	told := func() map[string]any {
		var b bytes.Buffer
		if err := p.JSON(&b); err != nil {
			t.Fatal(err)
		}
		var out map[string]any
		if err := json.Unmarshal(b.Bytes(), &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	weak := told()
	p.Full.Water.InletWeak = false
	out := told()
	for _, leaf := range leaves {
		name, ok := jsonNames[leaf.name]
		if !ok {
			t.Errorf("%s stands nowhere in the JSON", leaf.name)
			continue
		}
		from := out
		if leaf.name == "Water.InletWeak" {
			from = weak
		}
		got := lookUp(from, name)
		if got == nil {
			t.Errorf("%s: there is no %s", leaf.name, name)
			continue
		}
		switch v := leaf.v; v.Kind() {
		case reflect.Float64:
			if got != v.Float() {
				t.Errorf("%s is %v at %s, want %v", leaf.name, got, name, v.Float())
			}
		case reflect.Int:
			if got != float64(v.Int()) {
				t.Errorf("%s is %v at %s, want %v", leaf.name, got, name, v.Int())
			}
		case reflect.Int32, reflect.Uint8:
			if want := v.Interface().(fmt.Stringer).String(); got != want {
				t.Errorf("%s is %v at %s, want %v", leaf.name, got, name, want)
			}
		case reflect.Bool:
			if got == false {
				t.Errorf("%s is %v at %s", leaf.name, got, name)
			}
		}
	}
}

// lookUp finds a value by its path: names with points between them.
func lookUp(v any, path string) any {
	for name := range strings.SplitSeq(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[name]
		case []any:
			if name != "0" || len(x) == 0 {
				return nil
			}
			v = x[0]
		default:
			return nil
		}
	}
	return v
}

// A figure that is not known is left out, not written as 0.
func TestJSONLeavesOutWhatIsNotKnown(t *testing.T) {
	text, err := run("--planted", "2026-11-03", "--row", "25", "--today", "2026-11-15", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var out map[string]any
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"water.bring_m3", "water.bring_litres", "water.inflow_hours", "water.inlet_is_weak",
		"work.along_hours", "work.hand_hours",
		"work.total_hours", "work.days", "work.start_by", "work.fits", "work.done_share", "work.instead",
		"costs.cheapest", "costs.tool_money",
		"costs.own_tool_cheaper", "costs.currency", "costs.herbicide_note", "summary", "heat", "moved", "fit.hours"} {
		if got := lookUp(out, name); got != nil {
			t.Errorf("%s is %v, and nobody told", name, got)
		}
	}
	for _, name := range []string{"water.depth_mm", "water.bring_mm", "costs.ways", "risk.score", "work.people"} {
		if lookUp(out, name) == nil {
			t.Errorf("there is no %s", name)
		}
	}
}
