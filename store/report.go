package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine/report"
)

// The season report reads sums that CountReport keeps in two tables, because no page can wait until the weedings of a
// million plots are looked at.

// ReportCounted says when the sums of the season report were last counted, and how much work that was.
type ReportCounted struct {
	At      int64 // when the count began
	Rows    int64 // how many plots and texts it looked at
	Skipped int64 // plots whose records the engine refuses; they are not in the sums
}

const metaReport = "report counted"

// ReportCounted returns when the sums were last counted. The result known is false if they never were.
func (tx *Tx) ReportCounted() (c ReportCounted, known bool, err error) {
	b, there, err := tx.meta(metaReport)
	known = err == nil && there && json.Unmarshal(b, &c) == nil
	return c, known, fail("report counted", err)
}

// KeepReportCounted stores when the sums were counted.
func (tx *Tx) KeepReportCounted(c ReportCounted) error {
	b, err := json.Marshal(c)
	if err == nil {
		err = tx.setMeta(metaReport, b)
	}
	return fail("keep report counted", err)
}

const (
	ofScope        = ` WHERE place_id IN ` + idList
	sqlReportField = `SELECT place_id, week, what, bins FROM report_field` + ofScope + `
	AND what IN (1, 2, 3, 4, 5) AND month BETWEEN $2 AND $3`
	sqlReportMonths = `SELECT month, sum(n) FROM report_field` + ofScope + ` AND what = 1 GROUP BY month`

	// The states stand in the order of textStates.
	textSums = `sum(queued), sum(claimed), sum(accepted), sum(delivered), sum(refused), sum(expired), sum(withdrawn),
		sum(unknown), sum(segments), sum(micros) FROM report_text` + ofScope + ` AND week BETWEEN $2 AND $3`
	sqlTextsByPlace = `SELECT place_id, ` + textSums + ` GROUP BY place_id`
	sqlTextsByKind  = `SELECT week, kind, ` + textSums + ` GROUP BY week, kind`
)

// The engine's report.Plots is 1 in sqlReportMonths, and no What is above 5.
var (
	_ = [1]struct{}{}[report.Plots-1]
	_ = [1]struct{}{}[report.HandHours-5]
)

// PlantedByMonth returns how many plots of the places were planted in each month.
func (tx *Tx) PlantedByMonth(places Scope) (map[report.Month]int64, error) {
	planted := map[report.Month]int64{}
	err := tx.each(sqlReportMonths, args(ids(places)), func(scan func(...any) error) error {
		var month report.Month
		var n int64
		err := scan(&month, &n)
		planted[month] = n
		return err
	})
	return planted, fail("planted by month", err)
}

// FieldSums are the sums of plots, by place and by week.
type FieldSums struct {
	ByPlace report.Groups[int64]
	ByWeek  report.Groups[report.Week]
}

// FieldSums returns the sums of the plots of these places that were planted in these months.
func (tx *Tx) FieldSums(places Scope, planted report.Span) (FieldSums, error) {
	sums := FieldSums{report.Groups[int64]{}, report.Groups[report.Week]{}}
	err := tx.each(sqlReportField, args(ids(places), planted.From, planted.To), func(scan func(...any) error) error {
		var place int64
		var week report.Week
		var what report.What
		var bins sql.RawBytes
		if err := scan(&place, &week, &what, &bins); err != nil {
			return err
		}
		atPlace, inWeek := sums.ByPlace.Of(place), sums.ByWeek.Of(week)
		return unpackBins(bins, func(bin int, n int64) {
			atPlace.Count(what, bin, n)
			inWeek.Count(what, bin, n)
		})
	})
	return sums, fail("field sums", err)
}

// errBins says that a list of bins is not as packBins writes it.
var errBins = errors.New("not a list of bins with numbers")

// unpackBins calls visit for each bin in a list such as [3,10,7,2], which is 10 in bin 3 and 2 in bin 7. A page reads
// thousands of lists, for which encoding/json took ten times as long.
func unpackBins(list []byte, visit func(bin int, n int64)) error {
	if len(list) < 2 || list[0] != '[' || list[len(list)-1] != ']' {
		return errBins
	}
	const most = 1 << 53 // also what JSON numbers hold exactly
	bin, n, digits := int64(-1), int64(0), 0
	for i, c := range list[1:] {
		end := byte(',')
		if i == len(list)-2 {
			end = ']'
		}
		switch {
		case c >= '0' && c <= '9' && n < most/10:
			n, digits = 10*n+int64(c-'0'), digits+1
		case c != end || digits == 0:
			return errBins
		case bin < 0:
			bin, n, digits = n, 0, 0
		default:
			visit(int(bin), n)
			bin, n, digits = -1, 0, 0
		}
	}
	if bin >= 0 {
		return errBins
	}
	return nil
}

// textStates are the states of texts in the order of TextSum.ByState.
var textStates = [...]State{Queued, Claimed, Accepted, Delivered, Refused, Expired, Withdrawn, Unknown}

// TextSum is how many texts there were in each state, their parts, and what they cost in millionths of the currency's
// unit.
type TextSum struct {
	ByState          [len(textStates)]int64
	Segments, Micros int64
}

// Texts returns the number of texts.
func (a TextSum) Texts() int64 { return a.In(textStates[:]...) }

// In returns the number of texts in these states.
func (a TextSum) In(states ...State) (n int64) {
	for i, state := range textStates {
		if slices.Contains(states, state) {
			n += a.ByState[i]
		}
	}
	return n
}

// Plus adds two sums.
func (a TextSum) Plus(b TextSum) TextSum {
	for i := range a.ByState {
		a.ByState[i] += b.ByState[i]
	}
	return TextSum{a.ByState, a.Segments + b.Segments, a.Micros + b.Micros}
}

// into returns pointers to the numbers, in the order of textSums.
func (a *TextSum) into() (list []any) {
	for i := range a.ByState {
		list = append(list, &a.ByState[i])
	}
	return append(list, &a.Segments, &a.Micros)
}

// TextSums are the sums of texts, by place, week and kind.
type TextSums struct {
	ByPlace map[int64]TextSum // 0 = to phones without records
	ByWeek  map[report.Week]TextSum
	ByKind  map[string]TextSum // see Message.Kind
}

// TextSums returns the sums of the texts to growers of these places that were written in these weeks (UTC), both
// included. The place 0 stands for phones without records.
func (tx *Tx) TextSums(places Scope, from, to report.Week) (TextSums, error) {
	sums := TextSums{map[int64]TextSum{}, map[report.Week]TextSum{}, map[string]TextSum{}}
	a := args(ids(places), from, to)
	err := tx.each(sqlTextsByPlace, a, func(scan func(...any) error) error {
		var place int64
		var sum TextSum
		err := scan(append(args(&place), sum.into()...)...)
		sums.ByPlace[place] = sum
		return err
	})
	if err != nil {
		return sums, fail("text sums", err)
	}
	err = tx.each(sqlTextsByKind, a, func(scan func(...any) error) error {
		var week report.Week
		var kind string
		var sum TextSum
		err := scan(append(args(&week, &kind), sum.into()...)...)
		sums.ByWeek[week], sums.ByKind[kind] = sums.ByWeek[week].Plus(sum), sums.ByKind[kind].Plus(sum)
		return err
	})
	return sums, fail("text sums", err)
}
