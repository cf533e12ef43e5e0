package store

import (
	"context"
	"math"
	"slices"

	"rowbell/engine"
	"rowbell/engine/report"
)

const (
	// Plots that were planted longer before the last count keep their sums. Most rice is harvested within 200 days, and
	// what is logged of a plot is logged while it grows (judgement).
	reportPlotDays = 200
	// Texts that were written longer before the last count keep their sums. A text ends within endedWithin.
	reportTextDays = endedWithin/secondsADay + 14
)

const (
	sqlLastPlot    = `SELECT coalesce(max(id), 0) FROM plot`
	sqlReportPlots = `SELECT p.id, g.place_id, p.planted, EXISTS (SELECT 1 FROM pass x WHERE x.plot_id = p.id)
	FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE p.id > $1 AND p.id <= $2 AND p.planted >= $3 ORDER BY p.id`
	// Week 0 began three days before 1 January 1970, which is 259200 seconds; a week has 604800.
	sqlReportTexts = `SELECT coalesce(g.place_id, 0), (x.created_at + 259200) / 604800, x.kind, x.state, count(*),
		sum(x.charge_segments), sum(x.charge_micros), min(x.id), max(x.created_at)
	FROM (SELECT m.id, m.grower_id, m.created_at, m.kind, m.state, m.charge_segments, m.charge_micros
		FROM message m WHERE m.id < $1 ORDER BY m.id DESC LIMIT CAST($2 AS BIGINT)) x
	LEFT JOIN grower g ON g.id = x.grower_id GROUP BY 1, 2, 3, 4`
)

// CountReport counts the sums of the season report anew: of the plots that were planted in the months before, and of
// the texts of the last weeks, and at the first time of all. Older sums stay as they are, also when the records from
// which they came are erased.
//
// It can take minutes. It reads in pages, each in its own View, computes between them, and writes only the sums that
// have changed, as background work. It calls pause after each page, with the number of rows looked at so far: a caller
// that waits there leaves the processor to others. nil means no pause.
func (s *Store) CountReport(ctx context.Context, now int64, pause func(looked int64)) (ReportCounted, error) {
	if pause == nil {
		pause = func(int64) {}
	}
	c := reportCount{s: s, ctx: ctx, pause: pause, done: ReportCounted{At: now}, field: report.Field{},
		texts: map[textKey]TextSum{}, month: math.MinInt32, week: math.MinInt32}
	err := c.begin()
	if err == nil {
		err = c.countPlots()
	}
	if err == nil {
		err = c.countTexts()
	}
	if err == nil {
		err = c.write()
	}
	return c.done, fail("count report", err)
}

// reportCount is one count while it goes on.
type reportCount struct {
	s      *Store
	ctx    context.Context
	pause  func(looked int64)
	done   ReportCounted
	month  report.Month // sums of earlier months of planting stay
	week   report.Week  // sums of texts of earlier weeks stay
	places map[int64]*readyPlace
	field  report.Field
	texts  map[textKey]TextSum
}

// begin reads the places and when the last count was.
func (c *reportCount) begin() error {
	return c.s.View(c.ctx, func(tx *Tx) error {
		last, known, err := tx.ReportCounted()
		if err != nil {
			return err
		}
		if known {
			since := min(last.At, c.done.At)
			c.month = report.MonthOf(engine.Day(dayOf(since)) - reportPlotDays)
			c.week = report.WeekOf(engine.Day(dayOf(since)) - reportTextDays)
		}
		places, err := tx.readyPlaces(sqlPlaces)
		c.places = map[int64]*readyPlace{}
		for _, p := range places {
			c.places[p.ID] = p
		}
		return err
	})
}

// reportPlot is a plot with what must be known of it to see whether its weedings are to be looked at.
type reportPlot struct {
	id, place int64
	planted   engine.Day
	weeded    bool
}

func (c *reportCount) countPlots() error {
	first := int64(math.MinInt32)
	if c.month > math.MinInt32 {
		first = int64(c.month.First())
	}
	for from, last := int64(0), int64(1); from < last; from += countPage {
		var plots []reportPlot
		err := c.s.View(c.ctx, func(tx *Tx) (err error) {
			if _, err = tx.one(sqlLastPlot, nil, &last); err == nil {
				plots, err = rows(tx, sqlReportPlots, args(from, from+countPage, first), func(p *reportPlot) []any {
					return args(&p.id, &p.place, &p.planted, &p.weeded)
				})
			}
			return err
		})
		if err != nil {
			return err
		}
		c.done.Rows += int64(len(plots))
		weeded := slices.DeleteFunc(slices.Clone(plots), func(p reportPlot) bool { return !p.weeded })
		for _, p := range plots {
			if !p.weeded {
				c.field.Add(p.place, p.planted, nil)
			}
		}
		for page := range slices.Chunk(weeded, learnPlotsPage) {
			if err := c.countWeedings(page); err != nil {
				return err
			}
			c.pause(c.done.Rows)
		}
		c.pause(c.done.Rows)
	}
	return nil
}

// countWeedings reads plots with passes, and adds their weedings. What has changed since the plots were listed is
// counted as it is now; a plot that is gone is not counted.
func (c *reportCount) countWeedings(list []reportPlot) error {
	places := map[int64]*readyPlace{}
	list64 := make([]int64, len(list))
	for i, p := range list {
		list64[i], places[p.id] = p.id, c.places[p.place]
	}
	var plots []plotRow
	var seasons []engine.Season
	err := c.s.View(c.ctx, func(tx *Tx) (err error) {
		if plots, err = tx.plotRows(sqlPlotsByID, ids(list64)); err != nil {
			return err
		}
		plots = slices.DeleteFunc(plots, func(r plotRow) bool { return places[r.id] == nil }) // of a new place
		seasons = make([]engine.Season, len(plots))
		return tx.seasons(plots, func(i int) (*engine.Season, *readyPlace) { return &seasons[i], places[plots[i].id] })
	})
	for i := range seasons {
		place := places[plots[i].id]
		weedings, refused := seasons[i].Weedings(place.today(c.done.At))
		if refused != nil {
			c.done.Skipped++
			continue
		}
		c.field.Add(place.ID, seasons[i].Plot.Planted, weedings)
	}
	return err
}

// countTexts counts the texts from the newest to those that were written before the first week.
func (c *reportCount) countTexts() error {
	oldest := int64(math.MinInt64)
	if c.week > math.MinInt32 {
		oldest = int64(c.week.Monday()) * secondsADay
	}
	count := Count{size: countPage, at: position{id: math.MaxInt64}}
	before := c.done.Rows
	count.parts = []countPart{func(tx *Tx, at *position, size int64) (looked int64, err error) {
		newest := int64(0)
		err = tx.each(sqlReportTexts, args(at.id, size), func(scan func(...any) error) error {
			var k textKey
			var state State
			var sum TextSum
			var n, first, written int64
			err := scan(&k.place, &k.week, &k.kind, &state, &n, &sum.Segments, &sum.Micros, &first, &written)
			if i := slices.Index(textStates[:], state); i >= 0 && k.week >= c.week {
				sum.ByState[i] = n
				c.texts[k] = c.texts[k].Plus(sum)
			}
			looked, at.id, newest = looked+n, min(at.id, first), max(newest, written)
			return err
		})
		at.ended = looked < size || newest < oldest
		return looked, err
	}}
	for ended := false; !ended; {
		err := c.s.View(c.ctx, func(tx *Tx) (err error) {
			ended, err = count.Page(tx)
			return err
		})
		if err != nil {
			return err
		}
		c.done.Rows = before + count.Looked
		c.pause(c.done.Rows)
	}
	return nil
}
