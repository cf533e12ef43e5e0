package season

import (
	"context"
	"slices"

	"rowbell/engine"
	"rowbell/store"
)

// records is all that is stored about a grower.
type records struct {
	grower   int64
	language string
	plots    []store.PlotSheet // by number
	consents []store.PersonConsent
}

// readRecords reads what is stored about a grower.
func readRecords(ctx context.Context, s *store.Store, g *grower, now int64) (r records, err error) {
	err = s.View(ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(g.phone, now)
		if err != nil || !l.Known() {
			return err
		}
		r.grower, r.language = l.GrowerID(), l.Language()
		if r.consents, err = tx.Consents(r.grower); err != nil {
			return err
		}
		heads, err := tx.PlotsOf(r.grower)
		for _, h := range heads {
			if err != nil {
				return err
			}
			var sheet store.PlotSheet
			sheet, err = tx.PlotSheet(h.ID)
			r.plots = append(r.plots, sheet)
		}
		return err
	})
	slices.SortFunc(r.plots, func(a, b store.PlotSheet) int { return a.No - b.No })
	return r, err
}

// stoppedAt reports whether the grower wanted no texts at an instant.
func (r *records) stoppedAt(at int64) (stopped bool) {
	for _, c := range r.consents {
		if int64(c.At) <= at && (c.What == "stopped" || c.What == "started") {
			stopped = c.What == "stopped"
		}
	}
	return stopped
}

// teller tells the season of a plot again, day by day, from its records.
type teller struct {
	sheet     *store.PlotSheet
	plot      *plot // of the grower; nil if the grower has none with this number
	told      []engine.Told
	announced engine.Window
	asked     engine.Day
	sightings int // how many were known yesterday evening
}

// until returns the season as it was known on the morning of a day: what was told on the day itself came later. It must
// be called for each day in turn. A sighting that moves windows ends the announced one, as it did when it was told.
func (t *teller) until(d engine.Day, r *records) engine.Season {
	s := t.sheet.Season
	s.Passes = t.passes(d)
	sightings := slices.IndexFunc(s.Sightings, func(x engine.Sighting) bool { return x.On >= d })
	if sightings >= 0 {
		s.Sightings = s.Sightings[:sightings]
	}
	if slices.ContainsFunc(s.Sightings[t.sightings:], engine.Sighting.MovesWindows) {
		t.announced = engine.Window{}
	}
	t.sightings = len(s.Sightings)
	s.Announced, s.AskedOn = t.announced, t.asked
	s.Home.Worked = workedElsewhere(r, t.sheet, d)
	return s
}

// passes returns the passes that were known on the morning of a day. The records have each as it was told last, and
// none that was undone: what was told when is known from the grower.
func (t *teller) passes(d engine.Day) (list []engine.Pass) {
	for i, p := range t.sheet.Season.Passes {
		known := p.On < d
		if t.plot != nil && i < len(t.plot.passes) && t.plot.passes[i].On == p.On {
			then, before := t.plot.passes[i].onMorning(d)
			p.Left, p.Hours, p.People, known = then.Left, then.Hours, then.People, before
		}
		if known {
			list = append(list, p)
		}
	}
	if t.plot == nil {
		return list
	}
	for _, l := range t.plot.undone {
		if p, known := l.onMorning(d); known {
			list = append(list, p)
		}
	}
	slices.SortStableFunc(list, func(a, b engine.Pass) int { return int(a.On - b.On) })
	return list
}

// workedElsewhere returns the passes with hours on the grower's other plots before a day.
func workedElsewhere(r *records, but *store.PlotSheet, d engine.Day) (list []engine.Worked) {
	type worked struct {
		on engine.Day
		engine.Worked
	}
	var all []worked
	for i := range r.plots {
		other := &r.plots[i]
		for _, p := range other.Season.Passes {
			if other == but || p.On >= d || p.Hours == 0 {
				continue
			}
			on := other.Season.Plot
			all = append(all, worked{p.On, engine.Worked{With: p.With, Way: p.Way, AreaM2: on.AreaM2,
				RowCM: on.RowSpacingCM, HillCM: on.HillSpacingCM, PersonHours: p.Hours * float64(max(1, p.People))}})
		}
	}
	slices.SortStableFunc(all, func(a, b worked) int { return int(a.on - b.on) })
	for _, x := range all {
		list = append(list, x.Worked)
	}
	return list
}

// note records a reminder as the records do: one row for a kind, window and edition, with its last day.
func (t *teller) note(r engine.Reminder) {
	news := engine.Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: r.On}
	t.told = slices.DeleteFunc(t.told, func(x engine.Told) bool {
		return x.Kind == news.Kind && x.Window == news.Window && x.Edition == news.Edition
	})
	t.told = append(t.told, news)
	if r.Tells() {
		t.announced = r.Window
	}
	if r.Kind == engine.KindPrepare && t.asked == 0 {
		t.asked = r.On
	}
}
