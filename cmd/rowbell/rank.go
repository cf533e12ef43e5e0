package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/store"
)

// rankCmd is rowbell rank: it lists open plots, the one where waiting may cost most first.
type rankCmd struct {
	recordsFlags
	Place string `default:"default" help:"Place whose plots are listed." placeholder:"NAME"`
	Today string `help:"Day of the list, YYYY-MM-DD (default: today at the place)." placeholder:"DATE"`
	Limit int    `help:"List the first N plots only; 0 lists all." placeholder:"N"`
	JSON  bool   `name:"json" xor:"form" help:"Print JSON."`
	CSV   bool   `name:"csv" xor:"form" help:"Print CSV."`
}

// Run prints the ranked plots as a table, JSON or CSV.
func (c *rankCmd) Run(w *world) error {
	var today engine.Day
	if c.Today != "" {
		var err error
		if today, err = plan.ParseDay("--today", c.Today); err != nil {
			return &usageError{err, "rowbell rank --help"}
		}
	}
	if c.Limit < 0 {
		return &usageError{fmt.Errorf("--limit %d is below 0", c.Limit), "rowbell rank --help"}
	}
	var growers []store.DueGrower
	err := c.view(w.ctx, func(tx *store.Tx) error {
		place, ok, err := tx.PlaceByName(c.Place)
		if err == nil && !ok {
			err = fmt.Errorf("there is no place called %q; rowbell place lists those there are", c.Place)
		}
		if err != nil {
			return err
		}
		if today == 0 {
			if today, err = placeToday(place, w.now()); err != nil {
				return err
			}
		}
		growers, err = tx.OpenPlots(c.Place, 0)
		return err
	})
	if err != nil {
		return err
	}
	p := w.progress("planning the plots")
	list, err := rankPlots(growers, today, p.step)
	p.stop()
	if err != nil {
		return err
	}
	if c.Limit > 0 {
		list = list[:min(len(list), c.Limit)]
	}
	switch {
	case c.JSON:
		return rankJSON(w.out, c.Place, today, list)
	case c.CSV:
		return rankCSV(w.out, list)
	}
	return rankTable(w.out, c.Place, today, list)
}

// rankedPlot is an open plot with its full plan.
type rankedPlot struct {
	phone store.Phone
	no    int
	label string
	engine.Full
}

// rankPlots sorts the plots by risk level, score and end of the window, so that waiting costs most in the first. It
// calls step before each grower.
func rankPlots(growers []store.DueGrower, today engine.Day, step func(done, total int)) ([]rankedPlot, error) {
	var list []rankedPlot
	for i, g := range growers {
		step(i, len(growers))
		for _, p := range g.Plots {
			full, err := p.Season.Full(today)
			if err != nil {
				return nil, fmt.Errorf("plot %d of %s: %w", p.No, g.Phone, err)
			}
			list = append(list, rankedPlot{g.Phone, p.No, p.Season.Plot.Label, full})
		}
	}
	slices.SortStableFunc(list, compareRanks)
	return list, nil
}

func compareRanks(a, b rankedPlot) int {
	return cmp.Or(
		cmp.Compare(b.Risk.Level, a.Risk.Level),
		cmp.Compare(b.Risk.Score, a.Risk.Score),
		cmp.Compare(rankCloses(a), rankCloses(b)),
		cmp.Compare(a.phone, b.phone),
		cmp.Compare(a.no, b.no),
	)
}

// rankCloses returns the last day of the next window. Without a window it returns a day after all others, so that the
// plot ranks below plots of the same risk with a window.
func rankCloses(p rankedPlot) engine.Day {
	if !p.Next.Exists() {
		return engine.Date(engine.MaxYear+1, time.January, 1)
	}
	return p.Next.Closes
}

// name returns the number of the plot and its label.
func (p rankedPlot) name() string {
	if p.label == "" {
		return strconv.Itoa(p.no)
	}
	return fmt.Sprintf("%d %s", p.no, p.label)
}

// hours returns the person-hours of the next weeding; false if the area is unknown or nothing is left to weed.
func (p rankedPlot) hours() (float64, bool) {
	h := p.Work.Total()
	return h, h > 0 && p.Next.Exists()
}

// wet reports whether the next weeding is with the tool, which needs water.
func (p rankedPlot) wet() bool {
	return p.Next.Exists() && p.Next.With == engine.ByTool && p.State != engine.Missed
}

func rankTable(w io.Writer, place string, today engine.Day, list []rankedPlot) error {
	if len(list) == 0 {
		_, err := fmt.Fprintf(w, "No open plots at %s.\n", place)
		return err
	}
	var head, rows, notes plan.Section
	head.Line(fmt.Sprintf("Plots of %s on %s, where there is most to lose first", place, plan.Date(today)))
	rows.Line("Rank\tPhone\tPlot\tState\tCloses\tRisk\tLoss\tHours\tWater")
	for i, p := range list {
		closes, hours := "-", "-"
		if p.Next.Exists() {
			closes = plan.ShortDate(p.Next.Closes)
		}
		if h, ok := p.hours(); ok {
			hours = plan.Figures(h)
		}
		rows.Line(fmt.Sprintf("%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s", i+1, p.phone, p.name(), p.State, closes,
			p.Risk.Level, plan.Percents(p.Risk.LowPct, p.Risk.HighPct), hours, rankWater(p)))
	}
	notes.Line("Loss: of the harvest, if the weeds were left for good; " + plan.RiskNote + ".")
	notes.Line("Hours: of one person, about. Water: to let in for the next pass, about.")
	return plan.Table(w, head, rows, notes)
}

// rankWater says how much water to let in for the next pass.
func rankWater(p rankedPlot) string {
	if !p.wet() {
		return "-"
	}
	switch p.Water.Advice(p.Next) {
	case engine.WaterAsk:
		return "not told"
	case engine.WaterRight:
		return "enough"
	case engine.WaterLower, engine.WaterWait:
		return "too deep"
	}
	if p.Water.M3 > 0 {
		return plan.Figures(p.Water.M3) + " m3"
	}
	return plan.Depth(p.Water.BringMM)
}

// object returns the plot for JSON and CSV; an unknown value is nil. The names of members do not change between
// versions and end with the unit.
func (p rankedPlot) object(rank int) (o plan.Object) {
	var label, opens, closes, hours, bringOn, bringMM, bringM3 any
	if p.label != "" {
		label = p.label
	}
	if p.Next.Exists() {
		opens, closes = p.Next.Opens, p.Next.Closes
	}
	if h, ok := p.hours(); ok {
		hours = plan.Round(h)
	}
	if p.wet() && p.Water.Known {
		bringOn, bringMM = p.Water.On, plan.Round(p.Water.BringMM)
		if p.Work.HandHours > 0 { // the engine computes hours only if the area is known
			bringM3 = plan.Round(p.Water.M3)
		}
	}
	o.Put("rank", rank, "phone", p.phone, "plot", p.no, "label", label, "state", p.State, "window_opens", opens,
		"window_closes", closes,
		"risk_level", p.Risk.Level, "loss_low_pct", plan.Round(p.Risk.LowPct),
		"loss_high_pct", plan.Round(p.Risk.HighPct), "score", plan.Round(p.Risk.Score), "work_hours", hours,
		"bring_on", bringOn, "bring_mm", bringMM, "bring_m3", bringM3, "critical", p.Risk.Critical)
	return o
}

func rankJSON(w io.Writer, place string, today engine.Day, list []rankedPlot) error {
	plots := []plan.Object{}
	for i, p := range list {
		plots = append(plots, p.object(i+1).Known())
	}
	var o plan.Object
	o.Put("on", today, "place", place, "note", plan.RiskNote, "plots", plots)
	return plan.JSON(w, o)
}

func rankCSV(w io.Writer, list []rankedPlot) error {
	var plots []plan.Object
	for i, p := range list {
		plots = append(plots, p.object(i+1))
	}
	return plan.CSV(w, rankedPlot{}.object(0), plots)
}
