package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/cmd/rowbell/plan"
	"rowbell/cmd/rowbell/practice"
	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // makes property tests draw the same values in every run
	"rowbell/store"
)

// rankRecords makes the practice records of practiceDay. The database stays open, as during a service.
func rankRecords(t *testing.T) (file string, s *store.Store) {
	t.Helper()
	file = newRecords(t)
	s = openRecords(t, file)
	write(t, s, func(tx *store.Tx) error {
		_, err := tx.PutPlace(practice.Place())
		return err
	})
	deeds, err := practice.History(practiceDay)
	must(t, err)
	for _, d := range deeds {
		must(t, d.Record(t.Context(), s, d.On.At(practiceHour, time.UTC).Unix()))
	}
	return file, s
}

// rankedJSON has the JSON members of a plot that the tests read.
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
	table := prints(t, "rank", "--db", file, "--today", practiceDay.String())
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
	var out struct {
		On, Place, Note string
		Plots           []rankedJSON
	}
	must(t, json.Unmarshal([]byte(prints(t, "rank", "--db", file, "--today", today, "--json")), &out))
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

	text := prints(t, "rank", "--db", file, "--today", today, "--csv", "--limit", "4")
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(records) != 5 {
		t.Fatalf("%v, %d lines", err, len(records))
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
	runSteps(t, "", []shellStep{
		{"rank --db " + none, 1, "there are no records at " + none},
		{"place --db " + none, 1, "there are no records at " + none},
		{"rank --db " + file + " --place nowhere", 1, `there is no place called "nowhere"`},
		{"rank --db " + file + " --today soon", 2, `--today "soon": write the day`},
		{"rank --db " + file + " --limit=-1", 2, "--limit -1 is below 0"},
		{"rank --db " + file + " --json --csv", 2, "--csv"},
	})
	if found, _ := filepath.Glob(none + "*"); len(found) > 0 {
		t.Errorf("records were made at %v", found)
	}
}

// If the area of a plot is unknown, the list gives water as a depth and no hours.
func TestRankWithoutArea(t *testing.T) {
	s := engine.Season{Plot: engine.Plot{Label: "hill", Method: engine.Transplanted, Planted: practiceDay - 9,
		RowSpacingCM: 25, Flood: engine.FloodMoist},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(23, 32)}
	g := rankGrower(7, s)
	ranked, err := planOf(g, g.Plots[0], practiceDay)
	must(t, err)
	var b bytes.Buffer
	list := rankList{place: "default", today: practiceDay, plots: onePlot(ranked)}
	if err := list.table(&b); err != nil || !strings.Contains(b.String(), "1 hill") ||
		!strings.Contains(b.String(), "-      4 cm") {
		t.Errorf("%v\n%s", err, b.String())
	}
	var row rankedJSON
	if b, err := json.Marshal(ranked.object(1).Known()); err != nil || json.Unmarshal(b, &row) != nil ||
		row.Hours != nil || row.BringM3 != nil || row.BringMM == nil || *row.BringMM != 40 {
		t.Errorf("%v: %s", err, b)
	}
	s.Plot.RowSpacingCM = 0
	r := ranking{today: practiceDay}
	if err := r.add([]store.DueGrower{rankGrower(7, s)}); err == nil ||
		!strings.Contains(err.Error(), "plot 1 of +4477…007") {
		t.Errorf("a plot that cannot be: %v", err)
	}
}

// Growers are read and listed in pages. Each is listed once, a short list is the beginning of the long one, and however
// many there are, only some of them are in memory.
func TestRankInPages(t *testing.T) {
	const growers = 2*rankPage + 50
	file := newRecords(t)
	s := openRecords(t, file)
	at := practiceDay.At(practiceHour, time.UTC).Unix()
	write(t, s, func(tx *store.Tx) error {
		for i := range growers {
			l, err := tx.Ledger(fictional(i), at)
			if err == nil {
				err = l.Consent("en", "1", "ussd")
			}
			if err == nil {
				_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: practiceDay - engine.Day(i%60),
					RowSpacingCM: 25, AreaM2: float64(1000 + i)}, engine.Tool{WidthCM: 15})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	list := func(flags ...string) []string {
		flags = append([]string{"rank", "--db", file, "--today", practiceDay.String()}, flags...)
		return strings.Split(prints(t, flags...), "\n")
	}
	all := list("--csv")
	phones := map[string]bool{}
	for _, line := range all[1:] {
		if fields := strings.Split(line, ","); len(fields) > 1 {
			phones[fields[1]] = true
		}
	}
	if len(all) != growers+2 || len(phones) != growers {
		t.Errorf("%d lines, %d growers", len(all), len(phones))
	}
	if some := list("--csv", "--limit", "7"); !slices.Equal(some[:8], all[:8]) || len(some) != 9 {
		t.Errorf("the first seven are\n%s\nof\n%s", strings.Join(some, "\n"), strings.Join(all[:8], "\n"))
	}
	r := ranking{today: practiceDay, limit: 3}
	for i := range 10 * rankPage {
		must(t, r.add([]store.DueGrower{rankGrower(i, engine.Season{Plot: engine.Plot{Method: engine.Transplanted,
			Planted: practiceDay - 9, RowSpacingCM: 25}, Weather: engine.Steady(23, 32)})}))
	}
	if cap(r.keys) > 4*rankPage {
		t.Errorf("%d plots are in memory for a list of %d", cap(r.keys), r.limit)
	}
}

func onePlot(p rankedPlot) iter.Seq2[rankedPlot, error] {
	return func(yield func(rankedPlot, error) bool) { yield(p, nil) }
}

func TestRankOfNothing(t *testing.T) {
	file := newRecords(t)
	must(t, openRecords(t, file).Close())
	runSteps(t, "rank --db "+file, []shellStep{{"", 0, "No open plots at default."}, {"--json", 0, `"plots": []`}})
}

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

// rankAll ranks the plots, added grower by grower.
func rankAll(t *rapid.T, list []store.DueGrower, limit int) []rankKey {
	r := ranking{today: practiceDay, limit: limit}
	for _, g := range list {
		must(t, r.add([]store.DueGrower{g}))
	}
	r.cut()
	return r.keys
}

// rankOf returns the rank, from 0 on, of the plot of this grower.
func rankOf(t *rapid.T, list []store.DueGrower, grower int64) int {
	return slices.IndexFunc(rankAll(t, list, 0), func(k rankKey) bool { return k.grower == grower })
}

func rankGrower(i int, s engine.Season) store.DueGrower {
	return store.DueGrower{ID: int64(i), Phone: fictional(i), Plots: []store.DuePlot{{No: 1, Season: s}}}
}

// Plots rank by level of risk, then by score, then by the day on which the window closes.
func TestRankIsByRisk(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []store.DueGrower
		for i := range rapid.IntRange(1, 8).Draw(t, "growers") {
			list = append(list, rankGrower(i, rankSeason(t, fmt.Sprint(i))))
		}
		ranked := rankAll(t, list, 0)
		if len(ranked) != len(list) {
			t.Fatalf("%d of %d plots", len(ranked), len(list))
		}
		for i, y := range ranked {
			for _, x := range ranked[:i] {
				if y.level > x.level || y.level == x.level && (y.score > x.score || y.score == x.score &&
					y.closes < x.closes) {
					t.Errorf("the plot of %d ranks below that of %d: %s %g, %s %g", y.grower, x.grower, y.level,
						y.score, x.level, x.score)
				}
			}
		}
		limit := rapid.IntRange(1, 9).Draw(t, "limit")
		slices.Reverse(list)
		if again := rankAll(t, list, limit); !slices.Equal(again, ranked[:min(limit, len(ranked))]) {
			t.Errorf("in another order of the records, the first %d are %v of %v", limit, again, ranked)
		}
	})
}

// A plot that is weeded today, with few weeds left, does not rank higher than before (checked if its score is above 0).
// A plot with many weeds seen today ranks at least as high as the same plot with few weeds.
func TestRankThroughPasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []store.DueGrower
		for i := range rapid.IntRange(1, 6).Draw(t, "others") {
			list = append(list, rankGrower(i+1, rankSeason(t, fmt.Sprint(i))))
		}
		s := rankSeason(t, "this")
		s.Sightings = nil
		rank := func(s engine.Season) int { return rankOf(t, append(list, rankGrower(0, s)), 0) }
		was := rank(s)
		if n := len(s.Passes); n == 0 || s.Passes[n-1].On < practiceDay {
			clean := s
			clean.Passes = append(slices.Clone(s.Passes), engine.Pass{On: practiceDay, With: engine.ByTool,
				Left: engine.Few})
			full, err := clean.Full(practiceDay)
			must(t, err)
			if now := rank(clean); now < was && full.Risk.Score > 0 {
				t.Errorf("just weeded, it went from %d up to %d", was, now)
			}
		}
		many := s
		many.Sightings = []engine.Sighting{{On: practiceDay, Amount: engine.Many, Leaves: engine.FourPlus}}
		few := s
		few.Sightings = []engine.Sighting{{On: practiceDay, Amount: engine.Few, Leaves: engine.FourPlus}}
		if a, b := rank(many), rank(few); a > b {
			t.Errorf("with many weeds it is at %d, with few at %d", a, b)
		}
	})
}
