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

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/engine"
)

var must = configtest.OK

var update = flag.Bool("update", false, "write the golden files anew")

// testToday is the day of the plan if --today is not given.
var testToday = engine.Date(2026, 11, 25)

// command has the flags of rowbell plan, without those for output files.
type command struct {
	Input
	JSON bool `name:"json"`
}

// run returns the plan for these arguments as a table or as JSON.
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

// The first line of a golden file is a command; the rest is the expected output. go test ./cmd/rowbell/plan -run Golden
// -update writes the output again. Read the new output as a field worker would before you commit it.
func TestGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/plan/*.txt")
	if err != nil || len(files) < 8 {
		t.Fatalf("only %d plans found: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			b, err := os.ReadFile(file)
			must(t, err)
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
				must(t, os.WriteFile(file, []byte(got), 0o644))
			} else if got != string(b) {
				t.Errorf("got\n%s\nwant\n%s", got, b)
			}
		})
	}
}

//revive:disable-next-line:function-length a table of cases
func TestSays(t *testing.T) {
	const plot = "--planted 2026-11-03 --row 25 --hill 25 --tool 15 --temps 23-32 --today 2026-11-14 "
	for _, c := range []struct{ args, says, not string }{
		{plot, "With the tool  40 km and about 51 hours a hectare", "Work of one person"},
		{plot, "latitude 15° (taken, as none was told)", "Cost of"},
		{plot + "--latitude=-8.5", "latitude -8.5°", "taken"},
		{plot + "--area 600", "All by hand  about 12 hours", "Cost of"},
		{plot + "--area 600 --price hire-day=40", "hired tool 120 and your work", "Cheapest"},
		{plot + "--area 600 --herbicide 20", "ask a licensed adviser", "Cheapest"},
		{plot + "--area 600 --inflow 0.001 --flood moist", "the inlet is too weak for it", ""},
		{plot + "--area 5000", "Do instead one way, then pull by hand: about 2 days for 4 people", "Start by"},
		{plot + "--area 8000", "about 3 days for 5 people and 2 tools", "Start by"},
		{plot + "--area 10000", "about 20% gets done Do instead", "Start by"},
		{plot + "--area 30000 --people 10 --tools 3", "for 10 people and 3 tools, 6 hours a day", "Start by"},
		{plot + "--area 8000 --people 8", "on the same days the rest by hand", "Start by"},
		{plot + "--area 500", "Start by", "Too long"},
		{plot + "--area 60000", "begin where the weeds are worst, and pull the rest by hand after the window",
			"Start by"},
		{plot + "--area 900 --row 22 --hill 0 --people 2",
			"To do one way, then pull by hand: about 1 day for 2 people and 1 tool, 6 hours a day", "Both ways"},
		{plot + "--area 4000 --saw 2026-11-12:4+", "To do by hand: about 14 days for 1 person", "Start by"},
		{plot + "--area 900 --price tool=90000 --price labour-day=9 --price hire-day=500 --price service-ha=200",
			"an own tool does not pay on 900 m2. Cheapest without: hired service", "Pays back"},
		{plot + "--area 900 --price tool=9000 --price labour-day=90",
			"perhaps cheaper than by hand from about", "never cheaper"},
		{plot + "--area 30000 --tools 3 --price tool=900 --price labour-day=60", "3 tools of 900, one of 5 shares 540",
			"does not pay"},
		{plot + "--area 900 --price tool=900 --price service-ha=1 --price labour-day=60",
			"never cheaper than a hired service", ""},
		{plot + "--flood moist", "as it is not kept under water", ""},
		{plot + "--flood on-off", "kept under water with a chance of 50%, as water comes and goes", ""},
		{plot + "--flood kept", "kept under water with a chance of 85%, as water always stands there", ""},
		{plot + "--flood kept --saw 2026-11-09:dry", "49%, as water always stands there, and by the water", ""},
		{plot, "The days are a guess", "Hand weedings"},
		{plot + "--saw 2026-11-12:1", "from the leaves that were seen", "The days are a guess"},
		{plot + "--saw 2026-11-12:none", "from the leaves that were seen", ""},
		{plot + "--method row-sown", "Hand weedings published for sown rice: day 10 to 14, 40 to 42 and 50 to 52", ""},
		{plot + "--puddled 2026-10-20", "By then most weeds are probably too big for the tool", "The days are a guess"},
		{plot + "--method row-sown", "sown rice has three leaves and stands firm", "too big for the tool"},
		{plot + "--temps 11-19", "The days are a guess", "too big for the tool"},
		{plot + "--duration 110", "panicles form about", "push gently"},
		{plot + "--saw 2026-11-13:hand", "from what was seen on Fri 13 Nov 2026", "if about 5 cm were kept"},
		{plot + "--saw 2026-11-14:hand", "too deep, wait until it stands at 3 to 5 cm, about", "let in about"},
		{plot + "--saw 2026-11-14:dry", "Too little    today: under the 2 cm", ""},
		{plot + "--area 600 --pass 2026-11-14:tool:16h:1p", "Lost about 4 hours more", "Saved"},
		{plot + "--area 600 --pass 2026-11-14:tool:2h:1p", "Saved    about 10 hours with the tool", "Lost"},
		{plot + "--area 600 --pass 2026-11-14:tool:2h", "Pace the usual", "Hours"},
		{plot + "--area 600 --pass 2026-11-14:50%", "Weeded 50% of the plot, the rest is due", "Lost"},
		{plot + "--area 600 --pass 2026-11-14:50%", "Of the rest 50% of the plot", ""},
		{plot + "--area 600 --pass 2026-11-13:50% --pass 2026-11-14:50%", "Weeded 1 time", "the rest is due"},
		{plot + "--wbgt 45", "a man used to the heat may work about 0 minutes of an hour, a woman about 0", ""},
		{plot + "--method row-sown --wbgt 15", "may work about 60 minutes of an hour, a woman about 60", ""},
		{"--planted 2026-11-20 --row 25 --flood kept --today 2026-11-17", "At planting", "so far"},
		{"--planted 2026-07-20 --row 25 --area 600 --price tool=900 --price family-day=30 --today 2026-11-17",
			"Cheapest", "Risk of waiting"},
	} {
		// Runs of spaces count as one space, because the width of a column depends on its other cells.
		text, err := run(strings.Fields(c.args)...)
		squeezed := strings.Join(strings.Fields(text), " ")
		if err != nil || !strings.Contains(squeezed, strings.Join(strings.Fields(c.says), " ")) || c.not != "" &&
			strings.Contains(squeezed, c.not) {
			t.Errorf("%s\n%v; want %q and not %q in\n%s", c.args, err, c.says, c.not, text)
		}
	}
}

// The measured high temperatures of --daily change the days of a window. The measured rain changes the depth of water.
func TestUsesDays(t *testing.T) {
	windowAndWater := func(days string) (opens string, depth float64) {
		file := filepath.Join(t.TempDir(), "days.csv")
		must(t, os.WriteFile(file, []byte("date,min_c,max_c,rain_mm\n"+days), 0o644))
		text, err := run("--planted", "2026-11-03", "--row", "20", "--temps", "20-28", "--saw", "2026-11-04:dry",
			"--daily", file, "--today", "2026-11-12", "--json")
		must(t, err)
		var out struct {
			Next  struct{ Opens string }
			Water struct {
				DepthMM float64 `json:"depth_mm"`
			}
		}
		must(t, json.Unmarshal([]byte(text), &out))
		return out.Next.Opens, out.Water.DepthMM
	}
	usual, _ := windowAndWater("2026-11-04,20,28,0\n")
	hot, dry := windowAndWater("2026-11-04,28,38,0\n2026-11-05,28,38,0\n2026-11-06,28,38,0\n2026-11-07,28,38,0\n" +
		"2026-11-08,28,38,0\n")
	_, wet := windowAndWater("2026-11-11,20,28,120\n")
	if hot >= usual || dry != 0 || wet <= 0 {
		t.Errorf("usual %s, hot %s; water %g when dry, %g after rain", usual, hot, dry, wet)
	}
}

// jsonNames maps each field of the engine to its JSON member. A paragraph begins with the name of a struct and the path
// of its JSON object ("-" is the outermost object). Pairs of a field and its member follow. A field that is missing
// here fails TestJSONCarriesEverything.
var jsonNames = readJSONNames(`
Water water Known=known DepthMM=depth_mm From=from FromSeen=from_seen NeedMM=need_mm LeastMM=least_mm
	MostMM=most_mm ShortOn=short_on On=on OnDepthMM=on_depth_mm SoilMM=soil_mm BringMM=bring_mm LowerMM=lower_mm
	FallsOn=falls_on Heavy=heavy_rain_or_a_hand M3=bring_m3 Litres=bring_litres InflowHours=inflow_hours
	InletWeak=inlet_is_weak ETcMM=crop_takes_mm_per_day LossMM=ground_takes_mm_per_day
Work work AlongHours=along_hours AcrossHours=across_hours BothHours=both_hours PullHours=pull_hours
	PullBothHours=pull_both_hours HandHours=hand_hours HoursADay=hours_per_day OneWay=one_way WindowDays=window_days
	Fits=fits Share=done_share Rest=rest_share PartOn=part_on
Work.Crew work Do=do People=people Tools=tools ToolShare=tool_share Days=days MostDays=most_days StartBy=start_by
Work.Pace work.pace Factor=factor Logged=logged Low=low High=high
Work.HandPace work.hand_pace Factor=factor Logged=logged Low=low High=high
Work work.instead Instead=what
Work.Then work.instead Do=do People=people Tools=tools ToolShare=tool_share Days=days MostDays=most_days
	StartBy=start_by
Costs.All[0] costs.ways.0 Way=way Season=season_money LowSeason=season_low_money
	HighSeason=season_high_money PerHa=money_per_ha Hours=work_hours Cash=cash_money
	Known=season_money CashKnown=cash_money
Costs costs Tools=tools RoundsLow=hand_rounds_low RoundsHigh=hand_rounds_high OwnWorth=own_tool_pays
	WithoutOwn=without_own_tool
Costs costs Cheapest=cheapest ToolPrice=tool_money SharePrice=share_money Sharers=sharers HireDays=hire_days
	FamilyDay=family_day_money AtWage=family_at_wage OwnPaysBack=own_tool_pays_back_seasons
	SharePaysBack=share_pays_back_seasons
Costs.Own.Hand costs.own_tool_cheaper.than_hand When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Own.Hire costs.own_tool_cheaper.than_hire When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Own.Service costs.own_tool_cheaper.than_service When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Own.All costs.own_tool_cheaper.than_all When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Share.Hand costs.share_cheaper.than_hand When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Share.Hire costs.share_cheaper.than_hire When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Share.Service costs.share_cheaper.than_service When=when LowHa=from_low_ha HighHa=from_high_ha
Costs.Share.All costs.share_cheaper.than_all When=when LowHa=from_low_ha HighHa=from_high_ha
Risk risk Level=level LowPct=loss_low_pct HighPct=loss_high_pct BoundPct=loss_bound_pct Critical=critical
	WeedsPerM2Low=weeds_low_per_m2 WeedsPerM2High=weeds_high_per_m2 HeadStartDays=head_start_days Score=score
Summary summary Passes=passes ByHand=by_hand InWindow=in_window FirstDay=first LastDay=last Hours=hours
	Part=part_share LoggedHours=passes_with_hours Rounds=rounds HandHours=hand_hours SavedHours=saved_hours
	Cost=cost_money
Plan - On=on State=state WeedLeaves=weed_leaves Shade=crop_shade_share Passes=passes LookAgain=look_again
	Later=later Weeded=weeded_share
Plan.Fit fit Verdict=verdict WidthCM=width_cm ClearanceCM=clearance_cm SmallestRowCM=smallest_row_cm
	LargestRowCM=largest_row_cm Square=square CrossFits=cross_fits SweptOnce=swept_once_share
	SweptCrossed=swept_crossed_share HillsPerM2=hills_per_m2 WalkKMPerHa=walk_km_per_ha WalkKM=walk_km
	HoursPerHa=hours_per_ha Hours=hours HoursCrossed=hours_crossed
Plan.Next next Number=number Edition=edition Opens=opens Best=best Closes=closes With=with Why=why
	Chance=chance_share AskOn=look_on SeenOn=seen_on
Plan.Moved moved Number=number Edition=edition Opens=opens Best=best Closes=closes With=with Why=why
	Chance=chance_share AskOn=look_on SeenOn=seen_on
Plan.Closure - LastToolDay=last_tool_day RowsClose=rows_close PlantsBig=plants_big PanicleStarts=panicle_starts
	PullUntil=pull_until Why=last_tool_day_why
`)

func readJSONNames(text string) map[string]string {
	names := map[string]string{}
	for part := range strings.SplitSeq(strings.ReplaceAll(strings.TrimSpace(text), "\n\t", " "), "\n") {
		words := strings.Fields(part)
		for _, word := range words[2:] {
			field, member, _ := strings.Cut(word, "=")
			names[words[0]+"."+field] = strings.TrimPrefix(words[1]+"."+member, "-.")
		}
	}
	return names
}

// leaf is a single value, such as a number, in the results of the engine. Its name is the path of struct fields to it.
type leaf struct {
	name string
	v    reflect.Value
}

// fill sets every field below v to a value other than zero, every number to a different one, and returns the fields.
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
			if i == 0 { // one element is enough: all elements have the same member names
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
		must(t, p.JSON(&b))
		var out map[string]any
		must(t, json.Unmarshal(b.Bytes(), &out))
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

// lookUp finds a value in decoded JSON. The path consists of member names separated by points; 0 is the first element
// of a list.
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

// The JSON leaves out an unknown number; it does not contain 0 instead.
func TestJSONLeavesOutWhatIsNotKnown(t *testing.T) {
	text, err := run("--planted", "2026-11-03", "--row", "25", "--today", "2026-11-15", "--json")
	must(t, err)
	var out map[string]any
	must(t, json.Unmarshal([]byte(text), &out))
	for name := range strings.FieldsSeq(`water.depth_mm water.bring_mm water.bring_m3 water.bring_litres
		water.inflow_hours water.inlet_is_weak work.along_hours work.hand_hours work.total_hours
		work.days work.start_by work.fits work.done_share work.instead costs.cheapest costs.tool_money
		costs.own_tool_cheaper costs.currency costs.herbicide_note summary heat moved fit.hours`) {
		if got := lookUp(out, name); got != nil {
			t.Errorf("%s is %v, and nobody told", name, got)
		}
	}
	for _, name := range []string{"water.need_mm", "water.advice", "costs.ways", "risk.score", "work.people"} {
		if lookUp(out, name) == nil {
			t.Errorf("there is no %s", name)
		}
	}
}
