package main

import (
	"fmt"
	"io"
	"iter"
	"strconv"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
)

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

// rankList is the list that the command prints, plot by plot.
type rankList struct {
	place string
	today engine.Day
	plots iter.Seq2[rankedPlot, error]
}

// rankRows is how many rows of the table have aligned columns. They are in memory until they are aligned.
const rankRows = 5000

func (l rankList) table(w io.Writer) error {
	rank := 0
	var rows plan.Section
	// The heading is written with the first rows, and the notes with the last ones.
	flush := func(notes ...plan.Section) error {
		var head plan.Section
		if rank <= rankRows {
			head.Line(fmt.Sprintf("Plots of %s on %s, where there is most to lose first", l.place, plan.Date(l.today)))
			notes = append([]plan.Section{head, rows}, notes...)
		} else {
			notes = append([]plan.Section{rows}, notes...)
		}
		return plan.Table(w, notes...)
	}
	for p, err := range l.plots {
		if err != nil {
			return err
		}
		if rank > 0 && rank%rankRows == 0 {
			if err := flush(); err != nil {
				return err
			}
			rows = plan.Section{}
		}
		if rank == 0 {
			rows.Line("Rank\tPhone\tPlot\tState\tCloses\tRisk\tLoss\tHours\tWater")
		}
		rank++
		rows.Line(p.row(rank))
	}
	if rank == 0 {
		_, err := fmt.Fprintf(w, "No open plots at %s.\n", l.place)
		return err
	}
	var notes plan.Section
	notes.Line("Loss: of the harvest, if the weeds were left for good; " + plan.RiskNote + ".")
	notes.Line("Hours: of one person, about. Water: to let in for the next pass, about.")
	return flush(notes)
}

// row returns the plot as a row of the table.
func (p rankedPlot) row(rank int) string {
	closes, hours := "-", "-"
	if p.Next.Exists() {
		closes = plan.ShortDate(p.Next.Closes)
	}
	if h, ok := p.hours(); ok {
		hours = plan.Figures(h)
	}
	return fmt.Sprintf("%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s", rank, p.phone, p.name(), p.State, closes,
		p.Risk.Level, plan.Percents(p.Risk.LowPct, p.Risk.HighPct), hours, rankWater(p))
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

// objects returns the objects for JSON and CSV.
func (l rankList) objects() iter.Seq2[plan.Object, error] {
	return func(yield func(plan.Object, error) bool) {
		rank := 0
		for p, err := range l.plots {
			rank++
			var o plan.Object
			if err == nil {
				o = p.object(rank)
			}
			if !yield(o, err) {
				return
			}
		}
	}
}

func (l rankList) json(w io.Writer) error {
	var o plan.Object
	o.Put("on", l.today, "place", l.place, "note", plan.RiskNote)
	return plan.JSONList(w, o, "plots", l.objects())
}

func (l rankList) csv(w io.Writer) error {
	return plan.CSV(w, rankedPlot{}.object(0), l.objects())
}
