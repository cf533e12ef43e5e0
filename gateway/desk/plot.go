package desk

import (
	"errors"
	"fmt"
	"html/template"
	"strings"

	"rowbell/engine"
	"rowbell/engine/picture"
	"rowbell/store"
)

func (d *Desk) plotRoutes() []route {
	return []route{
		{"GET /desk/plot/{plot}", see, plotInPath, d.plotPage},
		{"GET /desk/plot/{plot}/change", change, plotInPath, d.changePlotPage},
		{"POST /desk/plot/{plot}/change", change, plotInPath, d.changePlot},
		{"GET /desk/plot/{plot}/replant", change, plotInPath, d.replantPage},
		{"POST /desk/plot/{plot}/replant", change, plotInPath, d.replant},
		{"GET /desk/plot/{plot}/close", change, plotInPath, d.closePlotPage},
		{"POST /desk/plot/{plot}/close", change, plotInPath, d.closePlot},
		{"GET /desk/plot/{plot}/pass", change, plotInPath, d.passPage},
		{"POST /desk/plot/{plot}/pass", change, plotInPath, d.logPass},
		{"GET /desk/plot/{plot}/pass/{pass}", change, plotInPath, d.passEntryPage},
		{"POST /desk/plot/{plot}/pass/{pass}", change, plotInPath, d.correctPass},
		{"POST /desk/plot/{plot}/pass/{pass}/remove", change, plotInPath, d.removePass},
		{"GET /desk/plot/{plot}/sighting", change, plotInPath, d.sightingPage},
		{"POST /desk/plot/{plot}/sighting", change, plotInPath, d.logSighting},
		{"GET /desk/plot/{plot}/sighting/{sighting}", change, plotInPath, d.sightingEntryPage},
		{"POST /desk/plot/{plot}/sighting/{sighting}", change, plotInPath, d.correctSighting},
		{"POST /desk/plot/{plot}/sighting/{sighting}/remove", change, plotInPath, d.removeSighting},
	}
}

func (r *request) plotPath() string { return fmt.Sprint("/desk/plot/", r.plot.ID) }

func (r *request) plotTitle() string { return plotName(r.plot.No, r.plot.Season.Plot) }

// openPlot opens the records for a change of the plot of the path. It returns store.ErrNoPlot if the plot is closed.
func (r *request) openPlot(tx *store.Tx) (*store.Ledger, error) {
	l, err := r.ledger(tx)
	if err != nil {
		return nil, err
	}
	if id, err := l.PlotID(r.plot.No); err != nil || id != r.plot.ID {
		return nil, store.ErrNoPlot
	}
	return l, nil
}

// changed answers after a change of a plot, whose error is err.
func (r *request) changed(err error, note string) error {
	switch {
	case errors.Is(err, store.ErrNoPlot):
		return r.to(r.plotPath(), "The plot is closed, so nothing was changed.")
	case errors.Is(err, store.ErrNoPass), errors.Is(err, store.ErrNoSighting):
		return r.to(r.plotPath(), "Somebody changed this meanwhile, so nothing was changed. Look at it anew.")
	case err != nil:
		return err
	}
	return r.to(r.plotPath(), note)
}

type plotView struct {
	Grower  store.GrowerLine
	Called  string
	Sheet   store.PlotSheet
	Plan    planWords
	Why     []string
	Facts   []fact
	Picture template.HTML
	Events  []event
	Here    string
	Open    bool
}

// fact is a value with its name.
type fact struct{ Name, Value string }

func (d *Desk) plotPage(r *request) error {
	v := plotView{Grower: r.grower, Called: r.calledBy(r.grower), Sheet: r.plot, Here: r.plotPath(),
		Facts: factsOf(r.plot.Season), Open: r.plot.Closed == 0}
	today := r.grower.Today
	if !v.Open {
		today = min(today, r.plot.Closed)
		v.Plan = planWords{engine.Closed, "closed on " + longDay(r.plot.Closed)}
	} else {
		v.Plan = wordsOf(r.plot.Season, today)
	}
	if plan, err := r.plot.Season.Plan(today); err == nil && v.Open {
		v.Why = whyOf(plan, r.plot.Season)
	}
	var svg strings.Builder
	if err := picture.Season(&svg, r.plot.Season, today, picture.Options{Title: r.plotTitle()}); err == nil {
		v.Picture = template.HTML(svg.String()) // picture escapes what growers typed
	}
	if err := r.view(func(tx *store.Tx) (err error) {
		v.Events, err = r.events(tx)
		return err
	}); err != nil {
		return err
	}
	return r.page("plot", v.Called+": "+r.plotTitle(), v)
}

// whyWords says which rule set the days of a window.
var whyWords = map[engine.Why]string{
	engine.WhyWeedClock: "The days follow from the warmth since puddling, by which weeds grow.",
	engine.WhyRegrowth:  "The days follow from the warmth since the last weeding, by which weeds grow again.",
	engine.WhyManyLeft:  "The last weeding left many weeds, so the next one comes soon.",
	engine.WhySeen:      "The days follow from the leaves that the grower saw.",
	engine.WhySeenBig:   "The grower saw weeds that are too big for the tool.",
	engine.WhyHandDates: "These are the usual days for weeding by hand.",
	engine.WhyAnchored:  "The sown rice stands firm enough for the tool then.",
}

// whyOf says which rule set the days of the window, and what else bears on them.
func whyOf(p engine.Plan, s engine.Season) (list []string) {
	w := p.Next
	if w.Exists() {
		why := whyWords[w.Why]
		if w.SeenOn != 0 {
			why += " The weeds were last seen on " + longDay(w.SeenOn) + "."
		}
		list = append(list, why)
		if w.Guess() {
			list = append(list, "They are a guess: a look at the weeds would make them sure.")
		}
		if s.Announced.Exists() && s.Announced.Number == w.Number {
			list = append(list, "The grower was told "+shortDay(s.Announced.Opens)+" to "+
				shortDay(s.Announced.Closes)+".")
		}
		if p.Moved.Exists() {
			list = append(list, "By what is known now the days would be "+shortDay(p.Moved.Opens)+" to "+
				shortDay(p.Moved.Closes)+"; a text will say so.")
		}
	}
	if p.Fit.Hand() && s.Plot.Method != engine.Broadcast {
		list = append(list, "No tool goes between these rows.")
	}
	if p.Weeded > 0 {
		list = append(list, fmt.Sprintf("%.0f %% of the plot is weeded in this window; the rest is due.", 100*p.Weeded))
	}
	if d := p.Closure.LastToolDay; d != 0 {
		list = append(list, "The tool can be used until "+longDay(d)+" ("+p.Closure.Why.String()+").")
	}
	return list
}

// factsOf lists what the grower told about a plot.
func factsOf(s engine.Season) []fact {
	p := s.Plot
	list := []fact{{"Planting", p.Method.String() + " on " + longDay(p.Planted)}}
	add := func(name, value string, told bool) {
		if told {
			list = append(list, fact{name, value})
		}
	}
	add("Puddled", longDay(p.Puddled), p.Puddled != 0)
	add("Seedlings", plural(p.SeedlingAgeDays, "day", "days")+" old", p.SeedlingAgeDays != 0)
	add("Seedlings a hill", fmt.Sprint(p.SeedlingsPerHill), p.SeedlingsPerHill != 0)
	add("Planted deep", "yes", p.Deep)
	add("From row to row", showCM(p.RowSpacingCM), p.RowSpacingCM != 0)
	add("From plant to plant", showCM(p.HillSpacingCM), p.HillSpacingCM != 0)
	add("Size", number(p.AreaM2)+" m²", p.AreaM2 != 0)
	add("Variety", plural(p.DurationDays, "day", "days"), p.DurationDays != 0)
	add("Water", p.Flood.String(), p.Flood != engine.FloodUnknown)
	add("Soil", p.Soil.String(), p.Soil != engine.SoilUnknown)
	add("Tool", toolWords(s.Tool), true)
	return list
}

func toolWords(t engine.Tool) string {
	switch {
	case t.None():
		return "none"
	case t.MaxWidthCM != 0:
		return number(t.WidthCM) + " to " + showCM(t.MaxWidthCM) + " wide"
	}
	return showCM(t.WidthCM) + " wide"
}

func (d *Desk) closePlotPage(r *request) error {
	return r.page("plot-close", "Close "+r.plotTitle(), r.plotForm())
}

func (d *Desk) closePlot(r *request) error {
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.ClosePlot(r.plot.No),
			tx.Trail(r.about(r.entry("closed a plot", r.plotTitle(), "open", "closed"))))
	}), "The plot is closed. Its records stay.")
}
