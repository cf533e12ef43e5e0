package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/cmd/rowbell/practice"
	"rowbell/engine"
	"rowbell/store"
)

// morningRecords makes the practice records of practiceDay. The database stays open, as during a service.
func morningRecords(t *testing.T) (file string, s *store.Store) {
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

// morningJSON has the JSON members of a plot that the tests read.
type morningJSON struct {
	Rank                int
	Phone, Place, State string
	Reasons, Why, Say   string
	Closes              string   `json:"window_closes"`
	Saves               float64  `json:"saves_pct"`
	Hours               *float64 `json:"work_hours"`
	BringMM             *float64 `json:"bring_mm"`
}

func morningAsJSON(t *testing.T, flags ...string) (plots []morningJSON) {
	t.Helper()
	var out struct {
		On, Note string
		Places   []string
		Plots    []morningJSON
	}
	must(t, json.Unmarshal([]byte(prints(t, append([]string{"morning", "--json"}, flags...)...)), &out))
	if out.On != practiceDay.String() || len(out.Places) == 0 || out.Note != plan.RiskNote {
		t.Errorf("%+v", out)
	}
	return out.Plots
}

func TestMorningAsTable(t *testing.T) {
	file, _ := morningRecords(t)
	table := prints(t, "morning", "--db", file, "--today", practiceDay.String())
	if strings.Contains(table, "77009") {
		t.Errorf("a number stands in clear:\n%s", table)
	}
	lines := strings.Split(table, "\n")
	if lines[0] != "Whom to call or visit at default on Mon 1 Jun 2026" || !strings.Contains(table, "no promise") {
		t.Errorf("the list begins or ends otherwise:\n%s", table)
	}
	plots := morningAsJSON(t, "--db", file, "--today", practiceDay.String())
	for i, row := range lines[3 : 3+len(plots)] {
		if !strings.HasPrefix(row, fmt.Sprintf("%d ", i+1)) || !strings.Contains(row, "+4477…0") ||
			!strings.Contains(row, plots[i].Why) {
			t.Errorf("line %d is %q, want %+v", i+1, row, plots[i])
		}
	}
	full := prints(t, "morning", "--db", file, "--today", practiceDay.String(), "--numbers", "--limit", "1")
	if strings.Contains(full, "…") || !strings.Contains(full, fictional(0).E164()[:10]) {
		t.Errorf("no number in full:\n%s", full)
	}
}

func TestMorningAsJSONAndCSV(t *testing.T) {
	file, _ := morningRecords(t)
	flags := []string{"--db", file, "--today", practiceDay.String()}
	plots := morningAsJSON(t, flags...)
	if len(plots) < 4 {
		t.Fatalf("only %d plots of the practice need somebody", len(plots))
	}
	for i, p := range plots {
		if p.Rank != i+1 || !strings.HasPrefix(p.Phone, "+4477…0") || p.Reasons == "" || p.Why == "" || p.Say == "" ||
			p.Closes == "" || p.State == "closed" || i > 0 && p.Saves > plots[i-1].Saves {
			t.Errorf("plot %d is %+v", i+1, p)
		}
		if p.State == "missed" && p.BringMM != nil {
			t.Errorf("water for weeds that are pulled by hand: %+v", p)
		}
	}
	missed := morningAsJSON(t, append(flags, "--reason", "missed", "--reason", "last days")...)
	for _, p := range missed {
		if !strings.Contains(p.Reasons, "missed") && !strings.Contains(p.Reasons, "last days") {
			t.Errorf("neither missed nor in its last days: %+v", p)
		}
	}
	if len(missed) == 0 || len(missed) >= len(plots) {
		t.Errorf("%d of %d plots are missed or in their last days", len(missed), len(plots))
	}

	text := prints(t, append([]string{"morning", "--csv", "--limit", "3"}, flags...)...)
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(records) != 4 {
		t.Fatalf("%v, %d lines", err, len(records))
	}
	for i, r := range records[1:] {
		if p := plots[i]; r[0] != fmt.Sprint(p.Rank) || r[1] != p.Phone || r[2] != p.Place || r[5] != p.Reasons {
			t.Errorf("CSV %q, JSON %+v", r, p)
		}
	}
}

func TestMorningRefuses(t *testing.T) {
	file, _ := morningRecords(t)
	none := filepath.Join(t.TempDir(), "none.db")
	runSteps(t, "", []shellStep{
		{"morning --db " + none, 1, "there are no records at " + none},
		{"place --db " + none, 1, "there are no records at " + none},
		{"morning --db " + file + " --place nowhere", 1, `there is no place called "nowhere"`},
		{"morning --db " + file + " --today soon", 2, `--today "soon": write the day`},
		{"morning --db " + file + " --reason rain", 2, `--reason "rain": the reasons are last days; missed;`},
		{"morning --db " + file + " --limit=-1", 2, "--limit -1 is below 0"},
		{"morning --db " + file + " --json --csv", 2, "--csv"},
	})
	if found, _ := filepath.Glob(none + "*"); len(found) > 0 {
		t.Errorf("records were made at %v", found)
	}
}

func TestMorningOfAPlotThatCannotBe(t *testing.T) {
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: practiceDay - 9},
		Weather: engine.Steady(23, 32)}
	m := morning{reasons: engine.AllReasons}
	err := m.add([]store.Watched{{Phone: fictional(7), No: 1, Today: practiceDay, Season: s}})
	if err == nil || !strings.Contains(err.Error(), "plot 1 of +4477…007") {
		t.Errorf("a plot that cannot be: %v", err)
	}
}

// A name that begins like a formula is no formula in a spreadsheet.
func TestMorningDefusesFormulas(t *testing.T) {
	file := newRecords(t)
	s := openRecords(t, file)
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(fictional(1), practiceDay.At(practiceHour, time.UTC).Unix())
		if err == nil {
			err = l.Consent("en", "1", "ussd")
		}
		if err == nil {
			_, err = l.AddPlot(engine.Plot{Label: "=1+1", Method: engine.Transplanted, Planted: practiceDay - 12,
				RowSpacingCM: 25}, engine.Tool{})
		}
		return err
	})
	text := prints(t, "morning", "--db", file, "--today", practiceDay.String(), "--csv")
	if !strings.Contains(text, ",'=1+1,") {
		t.Errorf("a formula:\n%s", text)
	}
}

// Growers are read and listed in pages. Each is listed once, a short list is the beginning of the long one, and however
// many there are, only some of them are in memory.
func TestMorningInPages(t *testing.T) {
	const growers = 2*morningPage + 50
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
				_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: practiceDay - 12 - engine.Day(i%2),
					RowSpacingCM: 25, AreaM2: float64(1000 + i)}, engine.Tool{})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	list := func(flags ...string) []string {
		flags = append([]string{"morning", "--db", file, "--today", practiceDay.String()}, flags...)
		return strings.Split(prints(t, flags...), "\n")
	}
	all := list("--csv", "--numbers")
	phones := map[string]bool{}
	for _, line := range all[1:] {
		if fields := strings.Split(line, ","); len(fields) > 1 {
			phones[fields[1]] = true
		}
	}
	if len(all) != growers+2 || len(phones) != growers {
		t.Errorf("%d lines, %d growers", len(all), len(phones))
	}
	if some := list("--csv", "--numbers", "--limit", "7"); !slices.Equal(some[:8], all[:8]) || len(some) != 9 {
		t.Errorf("the first seven are\n%s\nof\n%s", strings.Join(some, "\n"), strings.Join(all[:8], "\n"))
	}
	m := morning{limit: 3, reasons: engine.AllReasons}
	for i := range 10 * morningPage {
		must(t, m.add([]store.Watched{{PlotID: int64(i), Today: practiceDay, Season: engine.Season{Plot: engine.Plot{
			Method: engine.Transplanted, Planted: practiceDay - 12, RowSpacingCM: 25},
			Weather: engine.Steady(23, 32)}}}))
	}
	if len(m.keys) == 0 || cap(m.keys) > 4*morningPage {
		t.Errorf("%d plots are in memory for a list of %d", cap(m.keys), m.limit)
	}
}

// The command lists what the kept list has, in the same order.
func TestMorningIsTheKeptList(t *testing.T) {
	file, s := morningRecords(t)
	at := practiceDay.At(practiceHour, time.UTC).Unix()
	_, _, err := s.KeepAttention(t.Context(), at)
	must(t, err)
	var kept []store.MorningRow
	must(t, s.View(t.Context(), func(tx *store.Tx) (err error) {
		kept, err = tx.Morning(store.Scope{1}, engine.AllReasons, nil, 500)
		return err
	}))
	plots := morningAsJSON(t, "--db", file, "--today", practiceDay.String())
	if len(plots) != len(kept) {
		t.Fatalf("%d plots, kept %d", len(plots), len(kept))
	}
	for i, p := range plots {
		if p.Reasons != kept[i].Reasons.String() {
			t.Errorf("plot %d needs %q, kept %q", i+1, p.Reasons, kept[i].Reasons)
		}
	}
}

func TestMorningOfNobody(t *testing.T) {
	file := newRecords(t)
	must(t, openRecords(t, file).Close())
	runSteps(t, "morning --today 2026-06-01 --db "+file, []shellStep{
		{"", 0, "Whom to call or visit at default on Mon 1 Jun 2026: nobody."}, {"--json", 0, `"plots": []`}})
}
