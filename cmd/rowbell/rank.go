package main

import (
	"cmp"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"text/tabwriter"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// rankCmd is rowbell rank: the field worker's list of open plots, where there
// is most to lose first.
type rankCmd struct {
	recordsFlags
	Place string `default:"default" help:"Place whose plots are listed." placeholder:"NAME"`
	Today string `help:"Day of the list, YYYY-MM-DD; without it the place's own." placeholder:"DATE"`
	Limit int    `help:"List the first N plots only; 0 lists all." placeholder:"N"`
	JSON  bool   `name:"json" xor:"form" help:"Print JSON."`
	CSV   bool   `name:"csv" xor:"form" help:"Print CSV."`
}

// Run prints the list.
func (c *rankCmd) Run(w *world) error {
	var today engine.Day
	if c.Today != "" {
		var err error
		if today, err = planDay("--today", c.Today); err != nil {
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
	list, err := rankPlots(growers, today)
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

// placeToday is the day at a place.
func placeToday(p store.Place, now time.Time) (engine.Day, error) {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		return 0, err
	}
	return engine.DayOf(now, zone), nil
}

// rankedPlot is an open plot with all that the engine says of it.
type rankedPlot struct {
	phone store.Phone
	no    int
	label string
	engine.Full
}

// rankPlots puts the plots where waiting costs most first: by the level of
// risk, within it by the score; of equals the one whose window closes soonest.
func rankPlots(growers []store.DueGrower, today engine.Day) ([]rankedPlot, error) {
	var list []rankedPlot
	for _, g := range growers {
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

// rankCloses is the day that orders equals; plots without a window come last.
func rankCloses(p rankedPlot) engine.Day {
	if !p.Next.Exists() {
		return engine.Date(engine.MaxYear+1, time.January, 1)
	}
	return p.Next.Closes
}

// name is what the plot is called beside its number.
func (p rankedPlot) name() string {
	if p.label == "" {
		return strconv.Itoa(p.no)
	}
	return fmt.Sprintf("%d %s", p.no, p.label)
}

// hours are the person-hours of the next weeding; false where the area is not
// told, or nothing is left to weed.
func (p rankedPlot) hours() (float64, bool) {
	h := p.Work.Total()
	return h, h > 0 && p.Next.Exists()
}

// wet says whether the next weeding needs water on the plot.
func (p rankedPlot) wet() bool {
	return p.Next.Exists() && p.Next.With == engine.ByTool && p.State != engine.Missed
}

func rankTable(w io.Writer, place string, today engine.Day, list []rankedPlot) error {
	if len(list) == 0 {
		_, err := fmt.Fprintf(w, "No open plots at %s.\n", place)
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "Plots of %s on %s, where there is most to lose first\n\n", place, planDate(today))
	fmt.Fprintln(t, "Rank\tPhone\tPlot\tState\tCloses\tRisk\tLoss\tHours\tWater")
	for i, p := range list {
		closes, hours := "-", "-"
		if p.Next.Exists() {
			closes = planShort(p.Next.Closes)
		}
		if h, ok := p.hours(); ok {
			hours = planFigures(h)
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", i+1, p.phone, p.name(), p.State, closes, p.Risk.Level,
			planPercents(p.Risk.LowPct, p.Risk.HighPct), hours, rankWater(p))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\nLoss: of the harvest, if the weeds were left for good; %s.\nHours: of one person, about. Water: to let in for the next pass, about.\n", planRiskNote)
	return err
}

// rankWater is what to let in for the next pass.
func rankWater(p rankedPlot) string {
	switch {
	case !p.wet():
		return "-"
	case p.Water.BringMM < planEnoughMM:
		return "enough"
	case p.Water.M3 > 0:
		return planFigures(p.Water.M3) + " m3"
	}
	return planDepth(p.Water.BringMM)
}

// The JSON of rowbell rank: names are stable and carry their unit; what is not
// known is left out.
type rankOut struct {
	On    string        `json:"on"`
	Place string        `json:"place"`
	Note  string        `json:"note"`
	Plots []rankPlotOut `json:"plots"`
}

type rankPlotOut struct {
	Rank     int      `json:"rank"`
	Phone    string   `json:"phone"` // masked
	Plot     int      `json:"plot"`
	Label    string   `json:"label,omitempty"`
	State    string   `json:"state"`
	Opens    string   `json:"window_opens,omitempty"`
	Closes   string   `json:"window_closes,omitempty"`
	Level    string   `json:"risk_level"`
	LowPct   float64  `json:"loss_low_pct"`
	HighPct  float64  `json:"loss_high_pct"`
	Score    float64  `json:"score"`
	Hours    *float64 `json:"work_hours,omitempty"`
	WaterOn  string   `json:"bring_on,omitempty"`
	BringMM  *float64 `json:"bring_mm,omitempty"`
	BringM3  *float64 `json:"bring_m3,omitempty"`
	Critical bool     `json:"critical"`
}

func rankRow(i int, p rankedPlot) rankPlotOut {
	out := rankPlotOut{Rank: i + 1, Phone: p.phone.String(), Plot: p.no, Label: p.label, State: p.State.String(),
		Level: p.Risk.Level.String(), LowPct: planRound(p.Risk.LowPct), HighPct: planRound(p.Risk.HighPct), Score: planRound(p.Risk.Score), Critical: p.Risk.Critical}
	if p.Next.Exists() {
		out.Opens, out.Closes = p.Next.Opens.String(), p.Next.Closes.String()
	}
	if h, ok := p.hours(); ok {
		out.Hours = planKnown(h)
	}
	if p.wet() {
		out.WaterOn, out.BringMM = p.Water.On.String(), planKnown(p.Water.BringMM)
		if p.Work.HandHours > 0 { // the area is told
			out.BringM3 = planKnown(p.Water.M3)
		}
	}
	return out
}

func rankJSON(w io.Writer, place string, today engine.Day, list []rankedPlot) error {
	out := rankOut{On: today.String(), Place: place, Note: planRiskNote, Plots: []rankPlotOut{}}
	for i, p := range list {
		out.Plots = append(out.Plots, rankRow(i, p))
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(out)
}

// rankCSV has the columns of the JSON; what is not known is empty.
func rankCSV(w io.Writer, list []rankedPlot) error {
	number := func(x *float64) string {
		if x == nil {
			return ""
		}
		return strconv.FormatFloat(*x, 'f', -1, 64)
	}
	records := [][]string{{"rank", "phone", "plot", "label", "state", "window_opens", "window_closes", "risk_level", "loss_low_pct", "loss_high_pct", "score",
		"work_hours", "bring_on", "bring_mm", "bring_m3", "critical"}}
	for i, p := range list {
		r := rankRow(i, p)
		records = append(records, []string{strconv.Itoa(r.Rank), r.Phone, strconv.Itoa(r.Plot), r.Label, r.State, r.Opens, r.Closes, r.Level,
			number(&r.LowPct), number(&r.HighPct), number(&r.Score), number(r.Hours), r.WaterOn, number(r.BringMM), number(r.BringM3), strconv.FormatBool(r.Critical)})
	}
	out := csv.NewWriter(w)
	return errors.Join(out.WriteAll(records), out.Error())
}
