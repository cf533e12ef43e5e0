package desk

import (
	"errors"
	"fmt"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/store"
)

// plotForm has the fields with lists of the forms about a plot.
type plotForm struct {
	Called, Here                string
	Method, Flood, Soil, Deep   field
	Replant                     bool
	Passes, Sightings           int // of the season, which leave it when the plot was planted again
	Part, With, Left            field
	Leaves, Amount, Rows, Water field
	Entry                       string // of a pass or sighting that is corrected; "": a new one
}

func (r *request) plotForm() plotForm {
	v := plotForm{Called: r.calledBy(r.grower), Here: r.plotPath(), Passes: len(r.plot.Season.Passes),
		Sightings: len(r.plot.Season.Sightings)}
	if r.plot.ID == 0 {
		v.Here = r.growerPath()
	}
	choice := r.form.Choice
	v.Method = choice("method", "How it was planted", "", numbered(1, "seedlings in lines", "seed in lines",
		"scattered, without rows")...)
	v.Flood = choice("flood", "Water", "", numbered(0, "not told", "always stands", "only wet", "comes and goes")...)
	v.Soil = choice("soil", "Soil", "", numbered(0, "not told", "heavy, clay", "medium, loam", "light, sand")...)
	v.Deep = choice("deep", "Planted deep", "Deeper than the white of the stem.", numbered(0, "no", "yes")...)
	v.With = choice("with", "How it was weeded", "", "0", "with the tool, way not told",
		"1", "with the tool, along the rows", "3", "with the tool, along and across",
		"2", "with the tool, across the rows", "hand", "by hand")
	v.Part = choice("part", "How much of the plot", "On that day.", partPairs()...)
	v.Left = choice("left", "Weeds left in the rows", "", numbered(0, "not told", "few", "some", "many")...)
	v.Leaves = choice("leaves", "Leaves of most weeds", "", numbered(0, "not told", "one", "two or three",
		"four or more", "no weeds yet")...)
	v.Amount = choice("amount", "How many weeds", "", numbered(0, "not told", "few", "some", "many")...)
	v.Rows = choice("rows", "The rows", "", numbered(0, "not told", "open", "closed")...)
	v.Water = choice("water", "Water on the plot", "", numbered(0, "not told", "dry or cracked", "mud without water",
		"two fingers deep", "a hand deep")...)
	return v
}

// plotValues returns what a plot's form begins with.
func plotValues(s engine.Season) *form {
	p := s.Plot
	days := func(d engine.Day) string {
		if d == 0 {
			return ""
		}
		return d.String()
	}
	told := func(x float64) string {
		if x == 0 {
			return ""
		}
		return number(x)
	}
	tool := told(s.Tool.WidthCM)
	if s.Tool.MaxWidthCM != 0 {
		tool += "-" + number(s.Tool.MaxWidthCM)
	}
	deep := "0"
	if p.Deep {
		deep = "1"
	}
	return filled("label", p.Label, "method", fmt.Sprint(uint8(p.Method)), "planted", days(p.Planted),
		"puddled", days(p.Puddled), "age", told(float64(p.SeedlingAgeDays)), "hill", told(p.HillSpacingCM),
		"seedlings", told(float64(p.SeedlingsPerHill)), "row", told(p.RowSpacingCM), "deep", deep,
		"area", told(p.AreaM2), "flood", fmt.Sprint(uint8(p.Flood)), "soil", fmt.Sprint(uint8(p.Soil)),
		"duration", told(float64(p.DurationDays)), "tool", tool)
}

// readPlot reads the form of a plot, which stood before as in was. A value that was not touched is not read again: it
// may be out of what the form takes today.
func (r *request) readPlot(was engine.Season) (engine.Plot, engine.Tool) {
	p, t, before := was.Plot, was.Tool, plotValues(was)
	touched := func(name string) bool { return r.form.text(name) != before.text(name) }
	today := r.grower.Today
	p.Label = r.readLabel(was)
	p.Method = engine.Method(1 + max(0, r.chosen("method", 4)-1))
	if touched("planted") || p.Planted == 0 {
		p.Planted = r.typedPastDay("planted", today, answer.PlantedReach)
	}
	if touched("puddled") {
		p.Puddled = 0
		if r.form.text("puddled") != "" {
			p.Puddled = r.typedPastDay("puddled", today, answer.PlantedReach)
		}
	}
	if touched("age") {
		p.SeedlingAgeDays = r.typedWhole("age", engine.MinSeedlingAgeDays, engine.MaxSeedlingAgeDays)
	}
	if touched("seedlings") {
		p.SeedlingsPerHill = r.typedWhole("seedlings", 1, engine.MaxSeedlingsPerHill)
	}
	if touched("duration") {
		p.DurationDays = r.typedWhole("duration", engine.MinDurationDays, engine.MaxDurationDays)
	}
	if touched("row") {
		p.RowSpacingCM = r.typedLength("row", answer.RowSpacing)
	}
	if touched("hill") {
		p.HillSpacingCM = r.typedLength("hill", answer.HillSpacing)
	}
	if touched("area") {
		p.AreaM2 = r.typedArea("area")
	}
	if touched("tool") {
		t = r.typedTool("tool", p.RowSpacingCM)
	}
	p.Flood, p.Soil = engine.Flood(r.chosen("flood", 4)), engine.Soil(r.chosen("soil", 4))
	p.Deep = r.chosen("deep", 2) == 1
	if p.Method == engine.Broadcast {
		p.RowSpacingCM, p.HillSpacingCM = 0, 0
	} else if p.RowSpacingCM == 0 {
		r.form.wrong("row", "Without the distance of the rows no tool can be chosen. Ask for it, or measure it.")
	}
	if r.form.ok() {
		r.plotTogether(p, t)
	}
	return p, t
}

// readLabel reads the name of a plot, which no other plot of the grower may have.
func (r *request) readLabel(was engine.Season) string {
	entry := r.form.text("label")
	if entry == "" || entry == was.Plot.Label {
		return entry
	}
	name, refused := answer.Name(entry)
	name = plain(r, "label", name, refused)
	for _, p := range r.grower.Plots {
		if p.ID != r.plot.ID && strings.EqualFold(p.Season.Plot.Label, name) {
			r.form.wrong("label", "Another plot of this grower has that name.")
		}
	}
	return name
}

// plotTogether marks what does not go together.
func (r *request) plotTogether(p engine.Plot, t engine.Tool) {
	switch {
	case p.Puddled > p.Planted:
		r.form.wrong("puddled", "That is after planting.")
	case p.Validate() != nil:
		r.form.wrong("planted", strings.TrimPrefix(p.Validate().Error(), "engine: "))
	case t.Validate() != nil:
		r.form.wrong("tool", strings.TrimPrefix(t.Validate().Error(), "engine: "))
	}
}

func (d *Desk) newPlotPage(r *request) error {
	r.form = filled("method", "1", "flood", "0", "soil", "0", "deep", "0")
	return r.page("plot-form", "Add a plot of "+r.calledBy(r.grower), r.plotForm())
}

func (d *Desk) addPlot(r *request) error {
	title := "Add a plot of " + r.calledBy(r.grower)
	p, t := r.readPlot(engine.Season{})
	if !r.form.ok() {
		return r.again("plot-form", title, r.plotForm())
	}
	var id int64
	err := r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		if err != nil {
			return err
		}
		no, err := l.AddPlot(p, t)
		if err != nil {
			return err
		}
		if id, err = l.PlotID(no); err != nil {
			return err
		}
		e := r.about(r.entry("added a plot", plotName(no, p), "", p.Method.String()+" "+p.Planted.String()))
		e.PlotID = id
		return tx.Trail(e)
	})
	if errors.Is(err, store.ErrFull) {
		r.form.wrong("label", "Nine plots are open. Close one first.")
		return r.again("plot-form", title, r.plotForm())
	}
	if err != nil {
		return err
	}
	return r.to(fmt.Sprint("/desk/plot/", id), "Added.")
}

func (d *Desk) changePlotPage(r *request) error {
	r.form = plotValues(r.told())
	return r.page("plot-form", "Correct "+r.plotTitle(), r.plotForm())
}

// told returns the season of the plot as the grower told it: its soil may be that of the place.
func (r *request) told() engine.Season { return r.plot.Season }

func (d *Desk) changePlot(r *request) error {
	p, t := r.readPlot(r.told())
	if !r.form.ok() {
		return r.again("plot-form", "Correct "+r.plotTitle(), r.plotForm())
	}
	was := r.plot.Season
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		old, now := plotDifference(was, p, t)
		if now == "" && old == "" {
			return nil
		}
		return errors.Join(l.ChangePlot(r.plot.No, p, t),
			tx.Trail(r.about(r.entry("corrected a plot", r.plotTitle(), old, now))))
	}), "Corrected.")
}

// plotDifference says in words what a correction changes.
func plotDifference(was engine.Season, p engine.Plot, t engine.Tool) (old, now string) {
	before, after := plotValues(was), plotValues(engine.Season{Plot: p, Tool: t})
	var a, b []string
	for _, name := range []string{"label", "method", "planted", "puddled", "age", "seedlings", "row", "hill", "area",
		"flood", "soil", "duration", "tool", "deep"} {
		if x, y := before.Get(name), after.Get(name); x != y {
			a, b = append(a, name+" "+orDash(x)), append(b, name+" "+orDash(y))
		}
	}
	return strings.Join(a, ", "), strings.Join(b, ", ")
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func (d *Desk) replantPage(r *request) error {
	r.form = plotValues(r.told())
	r.form.Set("planted", "")
	r.form.Set("puddled", "")
	v := r.plotForm()
	v.Replant = true
	return r.page("plot-form", "Planted again: "+r.plotTitle(), v)
}

// replant stores that the plot was planted again. The tool stays.
func (d *Desk) replant(r *request) error {
	was := r.told()
	was.Plot.Planted, was.Plot.Puddled = 0, 0
	p, _ := r.readPlot(was)
	if r.form.ok() && p.Planted <= r.plot.Season.Plot.Planted {
		r.form.wrong("planted", "That is not after the former planting of "+longDay(r.plot.Season.Plot.Planted)+".")
	}
	if !r.form.ok() {
		v := r.plotForm()
		v.Replant = true
		return r.again("plot-form", "Planted again: "+r.plotTitle(), v)
	}
	return r.changed(r.write(func(tx *store.Tx) error {
		l, err := r.openPlot(tx)
		if err != nil {
			return err
		}
		return errors.Join(l.Replant(r.plot.No, p), tx.Trail(r.about(r.entry("stored a new planting", r.plotTitle(),
			r.plot.Season.Plot.Planted.String(), p.Planted.String()))))
	}), "Stored. What was logged of the former planting has left the season.")
}
