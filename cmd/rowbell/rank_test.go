package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/cmd/rowbell/plan"
	"rowbell/cmd/rowbell/practice"
	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // property tests draw the same values in every run
	"rowbell/store"
)

// rankRecords are the records of the practice valley on practiceDay, open as in a
// running service.
func rankRecords(t *testing.T) (file string, s *store.Store) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(t.Context(), file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := s.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.PutPlace(practice.Place())
		return err
	}); err != nil {
		t.Fatal(err)
	}
	deeds, err := practice.History(practiceDay)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range deeds {
		if err := d.Record(t.Context(), s, d.On.At(practiceHour, time.UTC).Unix()); err != nil {
			t.Fatal(err)
		}
	}
	return file, s
}

// rankedJSON is what the test reads of a plot in the JSON.
type rankedJSON struct {
	Rank                int
	Phone, Label, State string
	Closes              string `json:"window_closes"`
	Level               string `json:"risk_level"`
	Score               float64
	Hours               *float64 `json:"work_hours"`
	BringMM             *float64 `json:"bring_mm"`
	BringM3             *float64 `json:"bring_m3"`
}

func TestRankAsTable(t *testing.T) {
	file, _ := rankRecords(t)
	today := practiceDay.String()
	table, errs, code := runCommand("rank", "--db", file, "--today", today)
	if code != 0 || errs != "" {
		t.Fatalf("exit code %d: %s", code, errs)
	}
	if strings.Contains(table, "77009") {
		t.Errorf("a number stands in clear:\n%s", table)
	}
	lines := strings.Split(table, "\n")
	if lines[0] != "Plots of default on Mon 1 Jun 2026, where there is most to lose first" ||
		!strings.Contains(table, "no promise") {
		t.Errorf("the list begins or ends otherwise:\n%s", table)
	}
	rows := lines[3:12]
	for i, row := range rows {
		if !strings.HasPrefix(row, fmt.Sprintf("%d ", i+1)) || !strings.Contains(row, "+4477…00") {
			t.Errorf("line %d is %q", i+1, row)
		}
	}
	for _, says := range []string{"missed", "upper", "prepare", "too early", "last days", "follow up", "m3"} {
		if !strings.Contains(table, says) {
			t.Errorf("%q is not told in\n%s", says, table)
		}
	}

}

func TestRankAsJSONAndCSV(t *testing.T) {
	file, _ := rankRecords(t)
	today := practiceDay.String()
	text, errs, code := runCommand("rank", "--db", file, "--today", today, "--json")
	var out struct {
		On, Place, Note string
		Plots           []rankedJSON
	}
	if err := json.Unmarshal([]byte(text), &out); code != 0 || err != nil {
		t.Fatalf("exit code %d, %v: %s", code, err, errs)
	}
	if out.On != today || out.Place != "default" || out.Note != plan.RiskNote || len(out.Plots) != 9 {
		t.Errorf("%+v", out)
	}
	hand := 0
	for i, p := range out.Plots {
		if p.Rank != i+1 || !strings.HasPrefix(p.Phone, "+4477…00") || i > 0 && p.Level == out.Plots[i-1].Level &&
			p.Score > out.Plots[i-1].Score {
			t.Errorf("plot %d is %+v", i+1, p)
		}
		if p.Hours == nil && p.Closes != "" {
			t.Errorf("plot %d is told without its hours: %+v", i+1, p)
		}
		if p.State == "missed" && p.BringMM != nil {
			t.Errorf("water for weeds that are pulled by hand: %+v", p)
		}
		if p.Phone == "+4477…008" {
			hand++
			if p.BringMM != nil {
				t.Errorf("water for a weeder where there are no rows: %+v", p)
			}
		}
	}
	if hand != 1 {
		t.Errorf("the plot without rows is listed %d times", hand)
	}

	text, _, code = runCommand("rank", "--db", file, "--today", today, "--csv", "--limit", "4")
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if code != 0 || err != nil || len(records) != 5 {
		t.Fatalf("exit code %d, %v, %d lines", code, err, len(records))
	}
	for i, r := range records[1:] {
		if p := out.Plots[i]; r[0] != fmt.Sprint(p.Rank) || r[1] != p.Phone || r[4] != p.State || r[7] != p.Level {
			t.Errorf("CSV %q, JSON %+v", r, p)
		}
	}
}

func TestRankRefuses(t *testing.T) {
	file, _ := rankRecords(t)
	none := filepath.Join(t.TempDir(), "none.db")
	for _, c := range []struct {
		args string
		says string
		code int
	}{
		{"rank --db " + none, "there are no records at " + none, 1},
		{"place --db " + none, "there are no records at " + none, 1},
		{"rank --db " + file + " --place nowhere", `there is no place called "nowhere"`, 1},
		{"rank --db " + file + " --today soon", `--today "soon": write the day`, 2},
		{"rank --db " + file + " --limit=-1", "--limit -1 is below 0", 2},
		{"rank --db " + file + " --json --csv", "--csv", 2},
	} {
		out, errs, code := runCommand(strings.Fields(c.args)...)
		if code != c.code || !strings.Contains(errs, c.says) || out != "" {
			t.Errorf("%s: exit code %d, %q; want %d and words like %q", c.args, code, errs, c.code, c.says)
		}
	}
	if found, _ := filepath.Glob(none + "*"); len(found) > 0 {
		t.Errorf("records were made at %v", found)
	}
}

// Where the area is not known, water is a depth and hours are left out.
func TestRankWithoutArea(t *testing.T) {
	s := engine.Season{Plot: engine.Plot{Label: "hill", Method: engine.Transplanted, Planted: practiceDay - 9,
		RowSpacingCM: 25, Flood: engine.FloodMoist},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(23, 32)}
	ranked, err := rankPlots([]store.DueGrower{rankGrower(7, s)}, practiceDay, (*progress)(nil).step)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := rankTable(&b, "default", practiceDay, ranked); err != nil || !strings.Contains(b.String(), "1 hill") ||
		!strings.Contains(b.String(), "-      5 cm") {
		t.Errorf("%v\n%s", err, b.String())
	}
	var row rankedJSON
	if b, err := json.Marshal(ranked[0].object(1).Known()); err != nil || json.Unmarshal(b, &row) != nil ||
		row.Hours != nil || row.BringM3 != nil || row.BringMM == nil || *row.BringMM != 50 {
		t.Errorf("%v: %s", err, b)
	}
	s.Plot.RowSpacingCM = 0
	if _, err := rankPlots([]store.DueGrower{rankGrower(7, s)}, practiceDay, (*progress)(nil).step); err == nil ||
		!strings.Contains(err.Error(), "plot 1 of +4477…007") {
		t.Errorf("a plot that cannot be: %v", err)
	}
}

func TestRankOfNothing(t *testing.T) {
	file := filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(t.Context(), file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if out, errs, code := runCommand("rank", "--db", file); code != 0 || out != "No open plots at default.\n" {
		t.Errorf("exit code %d, %q, %q", code, out, errs)
	}
	if out, _, code := runCommand("rank", "--db", file, "--json"); code != 0 || !strings.Contains(out, `"plots": []`) {
		t.Errorf("exit code %d, %q", code, out)
	}
}

// rankSeason draws a season that a grower may have on practiceDay.
func rankSeason(t *rapid.T, name string) engine.Season {
	low := rapid.Float64Range(16, 26).Draw(t, name+" min")
	s := engine.Season{
		Plot: engine.Plot{Method: engine.Method(rapid.IntRange(1, 3).Draw(t, name+" method")),
			Planted:      practiceDay - engine.Day(rapid.IntRange(0, 80).Draw(t, name+" age")),
			RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: float64(rapid.SampledFrom([]int{0, 500, 5000}).Draw(t,
				name+" area"))},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(low, low+9),
	}
	for d := s.Plot.Planted + engine.Day(rapid.IntRange(0, 30).Draw(t, name+" first pass")); d <= practiceDay &&
		len(s.Passes) < 4; d += engine.Day(rapid.IntRange(1, 25).Draw(t, name+" next pass")) {
		s.Passes = append(s.Passes, engine.Pass{On: d, With: engine.ByTool,
			Left: engine.Amount(rapid.IntRange(0, 3).Draw(t, name+" left"))})
	}
	if rapid.Bool().Draw(t, name+" seen") {
		s.Sightings = []engine.Sighting{{On: max(s.Plot.Planted,
			practiceDay-engine.Day(rapid.IntRange(0, 5).Draw(t, name+" days ago"))),
			Amount: engine.Amount(rapid.IntRange(0, 3).Draw(t, name+" amount")),
			Leaves: engine.Leaves(rapid.IntRange(0, 3).Draw(t, name+" leaves"))}}
	}
	return s
}

// rankOf is the rank of a phone's plot among the growers, from 0.
func rankOf(t *rapid.T, list []store.DueGrower, phone store.Phone) int {
	ranked, err := rankPlots(list, practiceDay, (*progress)(nil).step)
	if err != nil {
		t.Fatal(err)
	}
	return slices.IndexFunc(ranked, func(p rankedPlot) bool { return p.phone == phone })
}

func rankGrower(i int, s engine.Season) store.DueGrower {
	return store.DueGrower{Phone: store.Phone(fmt.Sprintf("+44%d", 7700900000+i)),
		Plots: []store.DuePlot{{No: 1, Season: s}}}
}

// A plot with a higher risk never ranks lower, nor one whose window closes sooner
// at the same risk.
func TestRankIsByRisk(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []store.DueGrower
		for i := range rapid.IntRange(1, 8).Draw(t, "growers") {
			list = append(list, rankGrower(i, rankSeason(t, fmt.Sprint(i))))
		}
		ranked, err := rankPlots(list, practiceDay, (*progress)(nil).step)
		if err != nil || len(ranked) != len(list) {
			t.Fatalf("%d of %d plots, %v", len(ranked), len(list), err)
		}
		for i, b := range ranked {
			for _, a := range ranked[:i] {
				x, y := a.Risk, b.Risk
				if y.Level > x.Level || y.Level == x.Level && (y.Score > x.Score || y.Score == x.Score &&
					rankCloses(b) < rankCloses(a)) {
					t.Errorf("plot %d of %s ranks below plot %d of %s: %s %g, %s %g", b.no, b.phone, a.no, a.phone,
						y.Level, y.Score, x.Level, x.Score)
				}
			}
		}
		slices.Reverse(list)
		again, err := rankPlots(list, practiceDay, (*progress)(nil).step)
		if err != nil {
			t.Fatal(err)
		}
		for i := range ranked {
			if again[i].phone != ranked[i].phone {
				t.Errorf("in another order of the records %s stands where %s did", again[i].phone, ranked[i].phone)
			}
		}
	})
}

// A plot does not rise in the list when it was just weeded and few weeds are left,
// and ranks no lower with many weeds than with few.
func TestRankThroughPasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []store.DueGrower
		for i := range rapid.IntRange(1, 6).Draw(t, "others") {
			list = append(list, rankGrower(i+1, rankSeason(t, fmt.Sprint(i))))
		}
		s := rankSeason(t, "this")
		s.Sightings = nil
		was := rankOf(t, append(list, rankGrower(0, s)), "+447700900000")
		if n := len(s.Passes); n == 0 || s.Passes[n-1].On < practiceDay {
			clean := s
			clean.Passes = append(slices.Clone(s.Passes), engine.Pass{On: practiceDay, With: engine.ByTool,
				Left: engine.Few})
			full, err := clean.Full(practiceDay)
			if err != nil {
				t.Fatal(err)
			}
			if now := rankOf(t, append(list, rankGrower(0, clean)), "+447700900000"); now < was && full.Risk.Score > 0 {
				t.Errorf("just weeded, it went from %d up to %d", was, now)
			}
		}
		many := s
		many.Sightings = []engine.Sighting{{On: practiceDay, Amount: engine.Many, Leaves: engine.FourPlus}}
		few := s
		few.Sightings = []engine.Sighting{{On: practiceDay, Amount: engine.Few, Leaves: engine.FourPlus}}
		if a, b := rankOf(t, append(list, rankGrower(0, many)), "+447700900000"),
			rankOf(t, append(list, rankGrower(0, few)), "+447700900000"); a > b {
			t.Errorf("with many weeds it is at %d, with few at %d", a, b)
		}
	})
}
