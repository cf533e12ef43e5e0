package roster

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/engine/circle"
)

// made returns the report of a file.
func made(t testing.TB, in Input, text string) Report {
	t.Helper()
	r, err := New(&in, ours(text), today, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if err := circle.Verify(r.Problem, r.Roster); err != nil {
		t.Fatal(err)
	}
	return r
}

func tableOf(t testing.TB, r Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.Table(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestProblem(t *testing.T) {
	r := made(t, Input{}, small)
	day := func(d int) engine.Day { return today + engine.Day(d) }
	if r.Problem.From != today || len(r.Plots) != 3 || len(r.Problem.Tools) != 2 {
		t.Fatalf("%+v", r.Problem)
	}
	for i, p := range r.Plots { // the days are those of the season
		if p.Ground.Planted == 0 {
			continue
		}
		s := engine.Season{Plot: p.Ground, Tool: engine.Tool{WidthCM: 15.5}, Weather: engine.Steady(23, 32),
			Passes: p.Passes, Sightings: p.Sightings}
		s.Weather.LatitudeDeg = 15
		want, err := s.PassDays(today)
		if err != nil {
			t.Fatal(err)
		}
		if q := r.Problem.Plots[i]; q.Opens != want.Opens || q.Closes != want.Closes || q.Until != want.Until ||
			!slices.Equal(q.Chance, want.Chances) {
			t.Errorf("%s: %+v, and the season has %+v", p.Name, q, want)
		}
	}
	// 900 m2 in rows of 25 cm take 4.6 hours at 0.0195 ha an hour (see engine/circle), less than the 5.5 hours of a
	// day.
	amina, juma, neema := r.Problem.Plots[0], r.Problem.Plots[1], r.Problem.Plots[2]
	if !slices.Equal(amina.Need, []int{1, 1}) || !slices.Equal(amina.Told, []circle.Turn{{Tool: 0, Day: day(2)}}) {
		t.Errorf("Amina: %+v", amina)
	}
	if juma.Household != amina.Household || juma.Missed != 2 {
		t.Errorf("Juma: %+v", juma)
	}
	want := circle.Plot{Household: 1, Opens: day(2), Closes: day(5), Until: day(9), Need: []int{0, 3}}
	want.Need[0] = 0 // 20 cm of row less 15.5 cm of tool leave less than 2.5 cm on each side
	if !reflect.DeepEqual(neema, want) {
		t.Errorf("Neema: %+v, want %+v", neema, want)
	}
	if got := r.Problem.Tools[1].Out; !slices.Equal(got, []circle.Span{{From: day(5), To: day(6)}}) {
		t.Errorf("Red is out %v", got)
	}
	for h, want := range [][]int{{2, 2, 2, 0, 2, 2}, {1, 1, 1, 1, 3, 3, 1}} {
		if got := r.Problem.Households[h].Hands[:len(want)]; !slices.Equal(got, want) {
			t.Errorf("household %d has the hands %v, want %v", h, got, want)
		}
	}

}

func TestProblemOfGivenNumbers(t *testing.T) {
	far := made(t, Input{Crossed: true}, "what,name,row_cm,hill_cm,area_m2,days,width_cm,from,to,until\n"+
		"tool,Blue,,,,,15,,,\nplot,Amina,25,25,900,3,,2027-03-10,2027-03-12,2027-04-20\n")
	if far.Problem.To != today+circle.MaxDays-1 {
		t.Errorf("planned until %s", far.Problem.To)
	}
	// In a cool place, the season of the tool goes on for longer than a roster counts late days.
	cool := made(t, Input{Climate: plan.Climate{Temps: "9-17"}}, "what,name,planted,row_cm,area_m2,width_cm,from,to\n"+
		"tool,Blue,,,,15,,\nplot,Amina,2026-11-16,25,900,,2026-10-01,2026-10-03\n")
	if w := cool.Plots[0].Work; w.Until != w.Closes+circle.MaxLate {
		t.Errorf("a window from %s to %s is worth its work until %s", w.Opens, w.Closes, w.Until)
	}
	if w := far.Plots[0].Work; !slices.Equal(w.Need, []int{3}) || !slices.Equal(w.OneWay, []int{3}) {
		t.Errorf("days that were given: %v, one way %v", w.Need, w.OneWay)
	}

}

func TestProblemOfFlags(t *testing.T) {
	warm := made(t, Input{}, small)
	crossed := made(t, Input{Crossed: true}, strings.Replace(small, "22.5", "25", 1))
	if got := crossed.Problem.Plots[0].Need; !slices.Equal(got, []int{2, 2}) {
		t.Errorf("crossed: %v", got)
	}
	slow := made(t, Input{Figure: []string{"PushSpeedKMH=0.4"}}, small)
	if got := slow.Problem.Plots[0].Need; !slices.Equal(got, []int{3, 3}) {
		t.Errorf("at a third of the speed: %v", got)
	}
	cool := made(t, Input{Climate: plan.Climate{Temps: "15-25"}}, small)
	if got := cool.Problem.Plots[1]; got.Opens <= warm.Problem.Plots[1].Opens {
		t.Errorf("in a cool place the window opens on %s, in a warm one on %s", got.Opens, warm.Problem.Plots[1].Opens)
	}
}

// Plots that need no turn in the planned days are named with the reason.
func TestLeftPlots(t *testing.T) {
	const text = "what,name,planted,row_cm,area_m2,width_cm,from,to\ntool,Blue,,,,15,,\n" +
		"plot,Closed,2026-09-20,25,600,,,\nplot,Over,,25,600,,2026-11-20,2026-11-24\n" +
		"plot,Far,,25,600,,2027-04-01,2027-04-05\nplot,Now,,25,600,,2026-11-27,2026-11-28\n"
	r := made(t, Input{}, text)
	if len(r.Plots) != 1 || r.Plots[0].Name != "Now" || r.Roster.Served != 1 {
		t.Errorf("planned: %+v", r.Plots)
	}
	table := tableOf(t, r)
	for _, want := range []string{"Not planned\n", "Closed  no pass is due",
		"Over    too late for a tool: its window closed on Tue 24 Nov; weed by hand",
		"Far     its window opens on Thu 1 Apr 2027; plan it nearer to that day"} {
		if !strings.Contains(table, want) {
			t.Errorf("no %q in\n%s", want, table)
		}
	}
	over := made(t, Input{Today: "2026-12-03"}, "what,name,planted,row_cm,area_m2,width_cm\ntool,Blue,,,,15\n"+
		"plot,Amina,2026-11-15,25,600,\n")
	if !strings.Contains(tableOf(t, over), "0 of 1 plot inside their windows (1 window was over before)") {
		t.Errorf("a window that is over:\n%s", tableOf(t, over))
	}
	none := made(t, Input{}, strings.Replace(text, "plot,Now,,25,600,,2026-11-27,2026-11-28\n", "", 1))
	if table := tableOf(t, none); !strings.Contains(table, "0 of 0 plots") {
		t.Errorf("nothing to plan:\n%s", table)
	}
}

// The table, the JSON and the picture name each turn, and each plot that is not served.
func TestReportIsWhole(t *testing.T) {
	for _, file := range []string{"circle.csv", "crowded.csv"} {
		r := made(t, Input{Explain: true}, sample(t, file))
		table := tableOf(t, r)
		var j, drawn bytes.Buffer
		if err := r.JSON(&j); err != nil {
			t.Fatal(err)
		}
		if err := r.Picture(&drawn); err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Served int `json:"plots_served"`
			Turns  []struct {
				Day, Tool, Plot string
				Late            int `json:"late_days"`
			}
			Plots []struct {
				Plot   string
				Served bool
			}
			Help, Reasons []map[string]any
		}
		if err := json.Unmarshal(j.Bytes(), &doc); err != nil {
			t.Fatal(err)
		}
		if len(doc.Turns) != len(r.Roster.Turns) || len(doc.Turns) == 0 || doc.Served != r.Roster.Served ||
			len(doc.Plots) != len(r.Plots) || len(doc.Reasons) != len(r.Plots) || len(doc.Help) != len(r.Helps) {
			t.Errorf("%s: %s", file, j.String())
		}
		for i, turn := range r.Roster.Turns {
			name := r.Plots[turn.Plot].Name
			if d := doc.Turns[i]; d.Plot != name || d.Day != turn.Day.String() || d.Late != turn.Late ||
				d.Tool != r.Tools[turn.Tool].Name {
				t.Errorf("%s: turn %+v is %+v in the JSON", file, turn, d)
			}
			if !strings.Contains(table, name) || !strings.Contains(drawn.String(), name) {
				t.Errorf("%s: %s is not in the table or the picture", file, name)
			}
			if !strings.Contains(table, plan.ShortDate(turn.Day)) {
				t.Errorf("%s: %s is not in the table", file, turn.Day)
			}
		}
		for i, p := range r.Roster.Plots {
			if !p.Served && !strings.Contains(strings.ReplaceAll(table, " ", ""),
				strings.ReplaceAll(r.Plots[i].Name+r.words().WhyNot(i, r.Plots[i].Work.HandHours), " ", "")) {
				t.Errorf("%s: %s is not served, and not listed:\n%s", file, r.Plots[i].Name, table)
			}
		}
		if late := strings.Count(drawn.String(), `stroke-dasharray="5 3"`) > 0; late != (r.Roster.Lateness > 0 &&
			slices.ContainsFunc(r.Roster.Turns, func(t circle.RosterTurn) bool { return t.Late > 0 })) {
			t.Errorf("%s: late turns drawn: %v", file, late)
		}
	}
}

var update = flag.Bool("update", false, "write the files below testdata anew")

// Only one roster of this file is the best, so the files stay the same if Solve finds it in another way.
func TestGolden(t *testing.T) {
	text, err := os.ReadFile("testdata/tight.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := made(t, Input{Explain: true}, string(text))
	for name, write := range map[string]func(io.Writer) error{
		"tight.txt": r.Table, "tight.json": r.JSON, "tight.svg": r.Picture,
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if want, err := os.ReadFile(file); err != nil || !bytes.Equal(want, b.Bytes()) {
			t.Errorf("%v: %s differs; run with -update and read the difference:\n%s", err, file, b.String())
		}
	}
}

func TestMistakesOfFlags(t *testing.T) {
	for _, c := range []struct {
		in   Input
		want string
	}{
		{Input{Today: "26/11"}, `--today "26/11": write the day as in 2026-11-25`},
		{Input{Climate: plan.Climate{Temps: "hot"}}, `--temps "hot": write it as in 22-32`},
		{Input{Figure: []string{"Speed=3"}}, `--figure "Speed=3": no figure called "Speed" can be set`},
	} {
		_, err := New(&c.in, ours(small), today, Limits{})
		var wrong *InputError
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v gives %v, want %s", c.in, err, c.want)
		}
	}
	_, err := New(&Input{}, ours("what\n"), today, Limits{})
	if err == nil || !strings.HasPrefix(err.Error(), "ours.csv: ") {
		t.Errorf("a file of no use gives %v", err)
	}
	moved := made(t, Input{Today: "2026-11-27"}, small)
	if moved.Problem.From != today+1 {
		t.Errorf("--today is not the first day: %s", moved.Problem.From)
	}
}
