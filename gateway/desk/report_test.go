package desk

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
	"rowbell/engine/report"
	"rowbell/store"
)

// rice adds a grower with a plot of a hectare at a place, planted 30 days ago, with these passes.
func (o *office) rice(n int, placeName string, passes ...engine.Pass) {
	o.t.Helper()
	planted := engine.DayOf(nine, time.UTC) - 30
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))), nine.Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "words", "ussd"); err != nil {
			return err
		}
		if err := l.SetPlace(placeName); err != nil {
			return err
		}
		no, err := l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 20,
			HillSpacingCM: 20, AreaM2: 1e4}, engine.Tool{WidthCM: 15})
		for _, p := range passes {
			if p.On += planted; err == nil {
				err = l.LogPass(no, p)
			}
		}
		return err
	})
}

func (o *office) countReport() {
	o.t.Helper()
	if _, err := o.s.CountReport(o.t.Context(), nine.Unix(), nil); err != nil {
		o.t.Fatal(err)
	}
}

// At a steady 20 to 30 °C the tool is early nine days after planting. Passes of 30 h of two people on a hectare are 60
// h/ha.
func TestReport(t *testing.T) {
	o := newOffice(t)
	early := engine.Pass{On: 9, With: engine.ByTool, Hours: 30, People: 2}
	o.as("op").get("/desk/report").has(t, 200, "Season report", "not counted yet")
	for n := range 6 {
		o.rice(n, "north", early)
	}
	o.rice(9, "south")
	o.countReport()
	field := o.as("field").get("/desk/report")
	field.has(t, 200, "Plots planted May 2026", "plots planted 6", "None of 6 passes fell in the window",
		"most others came before it", "All 6 plots were weeded at least once", "published are 42 to 106",
		"north: 0% of the passes in the window", "No text was written", "Counted 2 Jun 2026 09:00")
	field.hasNot(t, "south", "+4477")
	o.as("op").get("/desk/report").has(t, 200, "plots planted 7", "6 of 7 plots were weeded at least once", "south")
	o.as("viewer").get("/desk/report").has(t, 200, "plots planted 6")
	o.as("op").get("/desk/report?place="+id(o.south)).has(t, 200, "plots planted 1", "No pass was logged")
	o.as("op").get("/desk/report?season=2020-01..2020-03").has(t, 200, "Plots planted January to March 2020",
		"plots planted 0")
	o.as("op").get("/desk/report?season=spring").has(t, 422, "Months are written as in", "plots planted 7")
	o.as("field").get("/desk/report?place="+id(o.south)).has(t, 404)
	o.as("field").get("/desk/report?place=x").has(t, 404)
}

func id(n int64) string { return strconv.FormatInt(n, 10) }

func TestReportAsCSV(t *testing.T) {
	o := newOffice(t)
	o.rice(1, "north", engine.Pass{On: 9, With: engine.ByTool}, engine.Pass{On: 16, With: engine.ByTool})
	o.rice(2, "south")
	o.countReport()
	b := o.as("field")
	p := b.get("/desk/report/passes-by-place.csv")
	rows := must(csv.NewReader(strings.NewReader(p.Body)).ReadAll())
	if len(rows) != 2 || rows[1][0] != "north" || rows[1][1] != "1" || rows[1][2] != "2" {
		t.Errorf("rows %q", rows)
	}
	if h := p.Header.Get("Content-Type"); h != "text/csv; charset=utf-8" {
		t.Errorf("type %q", h)
	}
	weeks := must(csv.NewReader(strings.NewReader(b.get("/desk/report/passes-by-week.csv").Body)).ReadAll())
	// Planted on 3 May 2026, a Sunday: day 9 is Tuesday 12 May, day 16 Tuesday 19 May.
	if len(weeks) != 3 || weeks[1][0] != "2026-05-11" || weeks[2][0] != "2026-05-18" {
		t.Errorf("weeks %q", weeks)
	}
	// Every link of the page leads to its table.
	page := b.get("/desk/report")
	links := strings.Count(page.Body, ".csv?")
	if links < 4 {
		t.Errorf("%d links", links)
	}
	for _, part := range strings.Split(page.Body, `href="`)[1:] {
		if path, _, _ := strings.Cut(part, `"`); strings.Contains(path, ".csv") {
			b.get(strings.ReplaceAll(path, "&amp;", "&")).has(t, 200)
		}
	}
	b.get("/desk/report/elsewhere.csv").has(t, 404)
	b.get("/desk/report/passes-by-week").has(t, 404)
	b.get("/desk/report/passes-by-week.csv?season=x").has(t, 404)
	b.get("/desk/report/passes-by-week.csv?place="+id(o.south)).has(t, 404)
}

// OWASP, CSV Injection, names the characters = + - @, tab and line ends at the beginning of a cell.
func TestDefused(t *testing.T) {
	for c, want := range map[string]string{"": "", "north": "north", "-3.5": "-3.5", "12": "12", "a=b": "a=b",
		"=1+2": "'=1+2", "+1": "'+1", "-a": "'-a", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx",
		" =1": "' =1", "＝1": "'＝1"} {
		if got := defused(c); got != want {
			t.Errorf("%q became %q, want %q", c, got, want)
		}
	}
}

// emptyReport returns a report without sums of so many places and weeks.
func emptyReport(places, weeks int) reported {
	june := engine.Date(2026, time.June, 1)
	x := reported{season: report.Span{From: report.MonthOf(june), To: report.MonthOf(june) + 4}, known: true,
		planted: true, loose: true, currency: "TAL",
		fields: store.FieldSums{ByPlace: report.Groups[int64]{}, ByWeek: report.Groups[report.Week]{}},
		texts: store.TextSums{ByPlace: map[int64]store.TextSum{}, ByWeek: map[report.Week]store.TextSum{},
			ByKind: map[string]store.TextSum{}}}
	x.from = report.WeekOf(june)
	x.to = x.from + report.Week(weeks) - 1
	for i := range places {
		x.places = append(x.places, store.Place{ID: int64(i + 1), Name: fmt.Sprintf("Valley %d of <the> hills", i+1)})
	}
	return x
}

// add adds plots or passes, and texts, of one place and week.
func (x *reported) add(place int64, w report.Week, what report.What, bin int, n int64, kind string, sum store.TextSum) {
	x.fields.ByPlace.Of(place).Count(what, bin, n)
	x.fields.ByWeek.Of(w).Count(what, bin, n)
	x.texts.ByPlace[place-1] = x.texts.ByPlace[place-1].Plus(sum) // 0 are phones without records
	x.texts.ByWeek[w] = x.texts.ByWeek[w].Plus(sum)
	x.texts.ByKind[kind] = x.texts.ByKind[kind].Plus(sum)
}

// mostBin returns the highest bin of a kind of sums.
func mostBin(what report.What) int {
	switch what {
	case report.Plots:
		return report.MostWeedings
	case report.ToolPasses, report.HandPasses:
		return int(engine.FellBehind)
	}
	return 60
}

// anyReport draws the sums of a report of some places and weeks.
func anyReport(t *rapid.T, places, weeks int) reported {
	x := emptyReport(places, weeks)
	number := rapid.Int64Range(1, 90_000)
	for range rapid.IntRange(0, 8*max(places, weeks)).Draw(t, "sums") {
		what := report.What(rapid.IntRange(int(report.Plots), int(report.HandHours)).Draw(t, "what"))
		n := number.Draw(t, "n")
		sum := store.TextSum{Segments: 2 * n, Micros: 40_000 * n}
		sum.ByState[rapid.IntRange(0, len(sum.ByState)-1).Draw(t, "state")] = n
		x.add(int64(rapid.IntRange(1, places).Draw(t, "place")),
			x.from+report.Week(rapid.IntRange(0, weeks-1).Draw(t, "week")), what,
			rapid.IntRange(0, mostBin(what)).Draw(t, "bin"), n,
			rapid.SampledFrom([]string{"open", "nudge", "reply"}).Draw(t, "kind"), sum)
	}
	x.addUp()
	return x
}

// The columns of a table of weeks add up to those of the table of places.
func TestTablesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := anyReport(t, rapid.IntRange(1, 20).Draw(t, "places"), rapid.IntRange(1, 20).Draw(t, "weeks"))
		sections := must(x.sections())
		sums := map[string]int64{}
		for _, s := range sections {
			for _, row := range s.Table.Rows {
				if len(row) != len(s.Table.Head) {
					t.Fatalf("%s: %d cells below %q", s.Name, len(row), s.Table.Head)
				}
				for i, c := range row {
					switch n := c.(type) {
					case amount:
						sums[s.Name+" "+s.Table.Head[i]] += int64(n)
					case money:
						sums[s.Name+" "+s.Table.Head[i]] += int64(n)
					}
				}
			}
		}
		for _, same := range [][2]string{
			{"passes-by-week Passes", "passes-by-place Passes"},
			{"passes-by-week In the window", "passes-by-place In the window"},
			{"passes-by-week After it", "passes-by-place After it"},
			{"passes-a-plot Plots", "passes-by-place Plots"},
			{"texts-by-week Texts", "texts-by-place Texts"},
			{"texts-by-week Texts", "texts-by-kind Texts"},
			{"texts-by-week Not sent", "texts-by-kind Not sent"},
			{"texts-by-week Cost, TAL", "texts-by-place Cost, TAL"},
			{"money-by-week Cost, TAL", "texts-by-week Cost, TAL"},
			{"money-by-week Parts", "texts-by-kind Parts"},
		} {
			if sums[same[0]] != sums[same[1]] {
				t.Fatalf("%s is %d, and %s is %d", same[0], sums[same[0]], same[1], sums[same[1]])
			}
		}
		if all := x.all.Planted(); sums["passes-a-plot Plots"] != all {
			t.Fatalf("%d plots in the table, %d in all", sums["passes-a-plot Plots"], all)
		}
	})
}

// largeReport returns the sums of a hundred places and forty weeks, in which everything happens everywhere.
func largeReport() reported {
	x := emptyReport(100, 40)
	for place := range x.places {
		for w := x.from; w <= x.to; w++ {
			for what := report.Plots; what <= report.HandHours; what++ {
				for bin := range mostBin(what) + 1 {
					sum := store.TextSum{Segments: 20_000, Micros: 400_000_000}
					for i := range sum.ByState {
						sum.ByState[i] = 10_000
					}
					x.add(int64(place+1), w, what, bin, 40_000, fmt.Sprint("kind-", bin%20), sum)
				}
			}
		}
	}
	x.addUp()
	return x
}

// A page is below 100 kB, also of a hundred places and a long season.
func TestReportIsLight(t *testing.T) {
	o := newOffice(t)
	x := largeReport()
	v := reportView{Counted: nine.Unix(), Facts: x.facts(), Sections: must(x.sections())}
	r := &request{d: o.d, now: nine, places: x.places, form: newForm(nil)}
	v.Place, v.Season = r.reportPlaces(), r.reportSeasons(x.season, nil)
	var page bytes.Buffer
	if err := pageTemplates()["report"].ExecuteTemplate(&page, "layout",
		&view{Title: "Season report", Form: r.form, Data: v, r: r}); err != nil {
		t.Fatal(err)
	}
	if page.Len() > 100_000 || page.Len() < 30_000 {
		t.Errorf("%d octets", page.Len())
	}
	for _, bad := range []string{"ZgotmplZ", "<the>", "NaN"} {
		if strings.Contains(page.String(), bad) {
			t.Errorf("%q is in the page", bad)
		}
	}
}
