package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/report"
)

// everyMonth and everyWeek hold all that the tests store.
var (
	everyMonth = report.Span{From: 0, To: report.MonthOf(day0) + 600}
	lastWeek   = report.WeekOf(day0) + 2000
)

func countReport(t tester, s *Store, at int64) ReportCounted {
	t.Helper()
	c, err := s.CountReport(ctx, at, nil)
	ok(t, err)
	return c
}

func sumsOfField(t tester, s *Store, scope Scope) (sums FieldSums) {
	t.Helper()
	view(t, s, func(tx *Tx) (err error) {
		sums, err = tx.FieldSums(scope, everyMonth)
		return err
	})
	return sums
}

func sumsOfTexts(t tester, s *Store, scope Scope) (sums TextSums) {
	t.Helper()
	view(t, s, func(tx *Tx) (err error) {
		sums, err = tx.TextSums(scope, 0, lastWeek)
		return err
	})
	return sums
}

// grown returns sums of what was counted: kinds, bins and numbers in turn.
func grown(counts ...int) *report.Grown {
	g := &report.Grown{}
	for i := 0; i < len(counts); i += 3 {
		g.Count(report.What(counts[i]), counts[i+1], int64(counts[i+2]))
	}
	return g
}

// sumInState returns a sum of so many texts in a state.
func sumInState(state State, n, segments, micros int64) TextSum {
	sum := TextSum{Segments: segments, Micros: micros}
	sum.ByState[slices.Index(textStates[:], state)] = n
	return sum
}

// inDelta moves a grower to a second place.
func inDelta(t tester, s *Store, p Phone) (id int64) {
	t.Helper()
	place := defaultPlace()
	place.Name = "delta"
	id = putPlace(t, s, place)
	ledger(t, s, p, noon, func(l *Ledger) error { return l.SetPlace("delta") })
	return id
}

// The plots were planted on 22 May 2026. A pass of 3 hours of two people on 1200.25 m2 takes 50 h/ha, in one direction.
func TestReportCountsPlots(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	delta := inDelta(t, s, ben)
	planted := aPlot().Planted
	pass := engine.Pass{On: planted + 12, With: engine.ByTool, Hours: 3, People: 2}
	early := engine.Pass{On: planted + 9, With: engine.ByTool}
	ledger(t, s, ana, noon+5*day, logPass(1, pass))
	ledger(t, s, ben, noon+5*day, logPass(1, early))
	counted := countReport(t, s, noon+5*day)
	equal(t, counted, ReportCounted{At: noon + 5*day, Rows: 3}, "counted")
	var looked []int64
	_, err := s.CountReport(ctx, noon+5*day, func(n int64) { looked = append(looked, n) })
	errorIf(t, err != nil || len(looked) != 3, "paused after %v rows, %v", looked, err) // passes, plots, texts
	kept, known := lookUp(t, s, (*Tx).ReportCounted)
	errorIf(t, !known || kept != counted, "kept %+v, %v", kept, known)

	weedings, err := season(t, s, ana, 1).Weedings(planted + 20)
	ok(t, err)
	where := weedings[0].Fell
	both := Scope{1, delta}
	const plots, passes = int(report.Plots), int(report.ToolPasses)
	ofAna := grown(plots, 1, 1, passes, int(where), 1, int(report.ToolHours), report.HoursBin(6/0.120025), 1)
	ofAna.Plus(grown(plots, 0, 1)) // of cleo
	sums := sumsOfField(t, s, both)
	equal(t, *sums.ByPlace[1], *ofAna, "default place")
	equal(t, *sums.ByPlace[delta], *grown(plots, 1, 1, passes, int(engine.FellEarly), 1), "delta")
	weeks := sumsOfField(t, s, Scope{delta}).ByWeek
	equal(t, len(weeks), 2, "weeks of delta")
	equal(t, *weeks[report.WeekOf(planted)], *grown(plots, 1, 1), "the week of planting")
	equal(t, *weeks[report.WeekOf(planted+9)], *grown(passes, int(engine.FellEarly), 1), "the week of the pass")
	errorIf(t, len(sumsOfField(t, s, Scope{}).ByPlace) != 0, "an empty scope sees sums")
	view(t, s, func(tx *Tx) error {
		months, err := tx.PlantedByMonth(both)
		errorIf(t, !maps.Equal(months, map[report.Month]int64{report.MonthOf(planted): 3}), "months %v", months)
		none, err2 := tx.FieldSums(both, report.Span{From: 0, To: report.MonthOf(planted) - 1})
		errorIf(t, len(none.ByPlace) != 0 || err2 != nil, "planted before: %v, %v", none, err2)
		return err
	})
}

func TestReportCountsTexts(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	delta := inDelta(t, s, ben)
	grower := read(t, s, ana, noon, func(l *Ledger) (int64, error) { return l.GrowerID(), nil })
	other := read(t, s, ben, noon, func(l *Ledger) (int64, error) { return l.GrowerID(), nil })
	for i, m := range []Message{text("a", ana, noon), text("b", ana, noon), text("c", ben, noon+7*day),
		text("d", cleo, noon)} {
		m.GrowerID = []int64{grower, grower, other, 0}[i]
		enqueue(t, s, m)
	}
	execSQL(t, s, "UPDATE message SET charge_segments = 2, charge_micros = 30000 WHERE key = 'a'")
	execSQL(t, s, "UPDATE message SET state = 'refused', claim_at = NULL, ended_at = $1 WHERE key = 'b'", noon)
	equal(t, countReport(t, s, noon+8*day).Rows, 2+4, "rows")
	ofAna := sumInState(Queued, 1, 2, 30000).Plus(sumInState(Refused, 1, 0, 0))
	one := sumInState(Queued, 1, 0, 0)
	sums := sumsOfTexts(t, s, Scope{1, delta})
	equal(t, sums.ByPlace, map[int64]TextSum{1: ofAna, delta: one}, "by place")
	equal(t, sums.ByKind, map[string]TextSum{"reply": ofAna.Plus(one)}, "by kind")
	errorIf(t, ofAna.Texts() != 2 || ofAna.In(Refused, Expired) != 1, "%+v", ofAna)
	week := report.WeekOf(day0)
	equal(t, sumsOfTexts(t, s, Scope{0, delta}).ByWeek, map[report.Week]TextSum{week: one, week + 1: one},
		"of phones without records, and of delta, by week")
	// A text that ends later moves to another sum.
	execSQL(t, s, "UPDATE message SET state = 'expired', claim_at = NULL, ended_at = $1 WHERE key = 'd'", noon)
	countReport(t, s, noon+9*day)
	equal(t, sumsOfTexts(t, s, Scope{0}).ByPlace, map[int64]TextSum{0: sumInState(Expired, 1, 0, 0)}, "after it ended")
}

// Sums of plots that were planted long before the last count stay when the plots are gone; newer ones follow.
func TestOldSumsOfAReportStay(t *testing.T) {
	puts := 0
	s := openNew(t, Options{OnStatement: func(query string) {
		if query == sqlPutField || query == sqlPutTexts {
			puts++
		}
	}})
	withPlot(t, s, ana, ben)
	enqueue(t, s, text("a", cleo, noon))
	plots := func() (n int64) { return sumsOfField(t, s, Scope{1}).ByPlace.All().Planted() }
	countReport(t, s, noon)
	errorIf(t, plots() != 2 || puts != 2, "%d plots, %d writes", plots(), puts)
	countReport(t, s, noon+day)
	errorIf(t, puts != 2, "what has not changed was written again")
	erase(t, s, ben)
	countReport(t, s, noon+2*day)
	errorIf(t, plots() != 1, "%d plots after one was erased", plots())
	countReport(t, s, noon+300*day) // from here on the plot of ana is old
	erase(t, s, ana)
	execSQL(t, s, "DELETE FROM message")
	countReport(t, s, noon+301*day)
	errorIf(t, plots() != 1, "%d plots after the season was over and its grower erased", plots())
	errorIf(t, len(sumsOfTexts(t, s, Scope{0}).ByPlace) != 1, "the sum of an old text is gone")
}

// The sums of texts stay when the texts are past their retention, which may be shorter than the weeks that are counted
// anew.
func TestSumsOfPrunedTextsStay(t *testing.T) {
	k := DefaultRetention()
	k.Texts = 14
	s := openNew(t, Options{Retention: &k})
	withPlot(t, s, ana)
	loose, kept := text("a", cleo, noon), text("b", ana, noon)
	kept.GrowerID = read(t, s, ana, noon, func(l *Ledger) (int64, error) { return l.GrowerID(), nil })
	enqueue(t, s, loose)
	enqueue(t, s, kept)
	execSQL(t, s, "UPDATE message SET state = 'expired', claim_at = NULL, ended_at = $1", noon)
	one := sumInState(Expired, 1, 0, 0)
	for _, days := range []int64{1, 10, 20, 60} {
		countReport(t, s, noon+days*day)
		equal(t, sumsOfTexts(t, s, Scope{0, 1}).ByPlace, map[int64]TextSum{0: one, 1: one}, "after %d days", days)
		prune(t, s, noon+days*day)
	}
	wantRows(t, s, map[string]int64{"message": 0})
}

func erase(t tester, s *Store, p Phone) {
	t.Helper()
	ledger(t, s, p, noon, (*Ledger).Erase)
}

// However often the sums were counted while the records changed, they are those of one count at the end; and the sums
// by place and by week add up to the same.
func TestReportSumsFollowTheRecords(t *testing.T) {
	s, texts := open(t), 0
	rapid.Check(t, func(t *rapid.T) {
		for _, table := range []string{"grower", "message", "report_field", "report_text"} {
			execSQL(t, s, "DELETE FROM "+table)
		}
		delta := int64(0)
		for i := range rapid.IntRange(1, 3).Draw(t, "growers") {
			p := examplePhone(i + 1)
			withPlot(t, s, p)
			if rapid.Bool().Draw(t, "in delta") {
				delta = inDelta(t, s, p)
			}
			for range rapid.IntRange(0, 2).Draw(t, "changes") {
				pass := engine.Pass{On: aPlot().Planted + engine.Day(rapid.IntRange(1, 10).Draw(t, "day")),
					With:  engine.Means(rapid.IntRange(1, 2).Draw(t, "with")),
					Hours: float64(rapid.IntRange(0, 9).Draw(t, "hours")), People: 2,
					Share: rapid.SampledFrom([]float64{0, 0.5}).Draw(t, "share")}
				ledger(t, s, p, noon, logPass(1, pass))
				texts++
				enqueue(t, s, text(fmt.Sprint(texts), p, noon+int64(texts)*day))
				if rapid.Bool().Draw(t, "count") {
					countReport(t, s, noon)
				}
				if rapid.IntRange(0, 3).Draw(t, "undo") == 0 {
					ledger(t, s, p, noon, func(l *Ledger) error { return l.UndoPass(1) })
				}
			}
		}
		countReport(t, s, noon)
		scope := Scope{0, 1, delta}
		fields, sent := sumsOfField(t, s, scope), sumsOfTexts(t, s, scope)
		execSQL(t, s, "DELETE FROM report_field")
		execSQL(t, s, "DELETE FROM report_text")
		execSQL(t, s, "DELETE FROM meta WHERE key = $1", metaReport)
		countReport(t, s, noon)
		equal(t, fields, sumsOfField(t, s, scope), "plots and passes, counted in steps")
		equal(t, sent, sumsOfTexts(t, s, scope), "texts, counted in steps")
		equal(t, *fields.ByWeek.All(), *fields.ByPlace.All(), "all weeks")
		equal(t, allTexts(sent.ByWeek), allTexts(sent.ByPlace), "texts of all weeks")
		equal(t, allTexts(sent.ByKind), allTexts(sent.ByPlace), "texts of all kinds")
	})
}

func allTexts[G comparable](sums map[G]TextSum) (all TextSum) {
	for _, sum := range sums {
		all = all.Plus(sum)
	}
	return all
}

// A page reads sums through their keys: the work does not grow with the history of the service.
func TestReportReadsThroughItsKeys(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	for _, query := range []string{sqlReportMonths, sqlReportField, sqlTextsByPlace, sqlTextsByKind} {
		var plan []string
		view(t, s, func(tx *Tx) error {
			return tx.each("EXPLAIN QUERY PLAN "+query, args("[1]", 1, 2)[:1+2*strings.Count(query, "BETWEEN")],
				func(scan func(...any) error) error {
					var line string
					err := scan(new(any), new(any), new(any), &line)
					plan = append(plan, line)
					return err
				})
		})
		all := strings.Join(plan, "; ")
		through := strings.Contains(all, "SEARCH report_") && strings.Contains(all, "place_id=?")
		errorIf(t, !through, "%s: %s", query, all)
	}
}

func TestUnpackBins(t *testing.T) {
	for list, want := range map[string]string{
		"[3,10,7,2]": "3:10 7:2 ", "[0,1]": "0:1 ", "": "wrong", "[": "wrong", "[]": "wrong", "[1]": "wrong",
		"[1,2,]": "wrong", "[1,,2]": "wrong", "[1,2": "wrong", "[-1,2]": "wrong", "[1,2]x": "wrong", "[1]2]": "wrong",
		"[1,99999999999999999999]": "wrong",
	} {
		got := ""
		err := unpackBins([]byte(list), func(bin int, n int64) { got += fmt.Sprintf("%d:%d ", bin, n) })
		if err != nil {
			got = "wrong"
		}
		equal(t, got, want, "%s", list)
	}
}

// What unpackBins reads, encoding/json reads too.
func FuzzUnpackBins(f *testing.F) {
	f.Add([]byte("[3,10,7,2]"))
	f.Add([]byte("[1,]"))
	f.Fuzz(func(t *testing.T, list []byte) {
		var got, want []int64
		err := unpackBins(list, func(bin int, n int64) { got = append(got, int64(bin), n) })
		if err != nil {
			return
		}
		var digits []json.Number
		if err := json.Unmarshal(noZeros(list), &digits); err != nil {
			t.Fatalf("%q: %v", list, err)
		}
		for _, d := range digits {
			n, err := d.Int64()
			if err != nil {
				t.Fatal(err)
			}
			want = append(want, n)
		}
		equal(t, got, want, "%q", list)
	})
}

var leadingZeros = regexp.MustCompile(`\b0+(\d)`)

// noZeros removes leading zeros, which JSON does not allow and which mean nothing.
func noZeros(list []byte) []byte { return leadingZeros.ReplaceAll(list, []byte("$1")) }
