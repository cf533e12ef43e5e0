package main

import (
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/gateway/desk/say"
	"rowbell/store"
)

// name returns the number of the plot and its label.
func (p morningPlot) name() string {
	if p.Season.Plot.Label == "" {
		return strconv.Itoa(p.No)
	}
	return fmt.Sprintf("%d %s", p.No, p.Season.Plot.Label)
}

// hours returns the person-hours of the next weeding; false if the area is unknown.
func (p morningPlot) hours() (float64, bool) {
	h := p.Work.Total()
	return h, h > 0
}

// wet reports whether the next weeding is with the tool, which needs water.
func (p morningPlot) wet() bool { return p.Next.With == engine.ByTool && p.State != engine.Missed }

// morningList is the list that the command prints, plot by plot.
type morningList struct {
	places  []placeDay
	numbers bool // phone numbers are printed in full
	plots   iter.Seq2[morningPlot, error]
}

func (l morningList) phone(p store.Phone) string {
	if l.numbers {
		return p.E164()
	}
	return p.String()
}

// of names the place of the list; "" for several places.
func (l morningList) of() string {
	if len(l.places) == 1 {
		return l.places[0].name
	}
	return ""
}

// title is the heading of the table. Where the places have different days, it names none.
func (l morningList) title() string {
	title := "Whom to call or visit"
	if of := l.of(); of != "" {
		title += " at " + of
	}
	for i, p := range l.places {
		switch {
		case p.day != l.places[0].day:
			return title
		case i == len(l.places)-1:
			title += " on " + plan.Date(p.day)
		}
	}
	return title
}

// morningRows is how many rows of the table have aligned columns. They are in memory until they are aligned.
const morningRows = 5000

func (l morningList) table(w io.Writer) error {
	rank := 0
	var rows plan.Section
	// The heading is written with the first rows, and the notes with the last ones.
	flush := func(notes ...plan.Section) error {
		sections := append([]plan.Section{rows}, notes...)
		if rank <= morningRows {
			var head plan.Section
			head.Line(l.title())
			sections = append([]plan.Section{head}, sections...)
		}
		return plan.Table(w, sections...)
	}
	for p, err := range l.plots {
		if err != nil {
			return err
		}
		if rank > 0 && rank%morningRows == 0 {
			if err := flush(); err != nil {
				return err
			}
			rows = plan.Section{}
		}
		if rank == 0 {
			rows.Line("Rank\tPhone\tPlace\tPlot\tCloses\tSaves\tHours\tWater\tWhy")
		}
		rank++
		rows.Line(l.row(p, rank))
	}
	if rank == 0 {
		_, err := fmt.Fprintln(w, l.title()+": nobody.")
		return err
	}
	var notes plan.Section
	notes.Line("Saves: what a visit can still save, in % of the harvest; it orders the list and is no promise.")
	notes.Line("Hours: of one person, about. Water: to let in for the next pass, about.")
	return flush(notes)
}

// row returns a plot as a row of the table.
func (l morningList) row(p morningPlot, rank int) string {
	hours := "-"
	if h, ok := p.hours(); ok {
		hours = plan.Figures(h)
	}
	why := strings.Join(say.Why(p.Attention), "; ")
	if p.Later {
		why += "; not reached today"
	}
	return fmt.Sprintf("%d\t%s\t%s\t%s\t%s\t%.0f\t%s\t%s\t%s", rank, l.phone(p.Phone), p.place, p.name(),
		plan.ShortDate(p.Next.Closes), p.Score, hours, p.water(), why)
}

// water says how much water to let in for the next pass.
func (p morningPlot) water() string {
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

// object returns a plot for JSON and CSV; an unknown value is nil. The names of members do not change between versions
// and end with the unit.
func (l morningList) object(p morningPlot, rank int) (o plan.Object) {
	var label, hours, bringOn, bringMM, bringM3 any
	if p.Season.Plot.Label != "" {
		label = p.Season.Plot.Label
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
	o.Put("rank", rank, "phone", l.phone(p.Phone), "place", p.place, "plot", p.No, "label", label,
		"reasons", p.Reasons.String(), "why", strings.Join(say.Why(p.Attention), "; "), "say", say.What(p.Attention),
		"not_reached_today", p.Later, "state", p.State, "window_opens", p.Next.Opens, "window_closes", p.Next.Closes,
		"saves_pct", plan.Round(p.Score), "risk_level", p.Risk.Level, "loss_low_pct", plan.Round(p.Risk.LowPct),
		"loss_high_pct", plan.Round(p.Risk.HighPct), "work_hours", hours, "bring_on", bringOn, "bring_mm", bringMM,
		"bring_m3", bringM3)
	return o
}

// objects returns the objects for JSON and CSV.
func (l morningList) objects() iter.Seq2[plan.Object, error] {
	return func(yield func(plan.Object, error) bool) {
		rank := 0
		for p, err := range l.plots {
			rank++
			var o plan.Object
			if err == nil {
				o = l.object(p, rank)
			}
			if !yield(o, err) {
				return
			}
		}
	}
}

func (l morningList) json(w io.Writer) error {
	var o plan.Object
	var names []string
	for _, p := range l.places {
		names = append(names, p.name)
	}
	o.Put("on", l.places[0].day, "places", names, "note", plan.RiskNote)
	return plan.JSONList(w, o, "plots", l.objects())
}

func (l morningList) csv(w io.Writer) error {
	return plan.CSV(w, l.object(morningPlot{}, 0), l.objects())
}
