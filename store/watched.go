package store

import (
	"slices"
	"time"

	"rowbell/engine"
)

// Watched is an open plot with all from which the engine says whether staff should call or visit its grower.
type Watched struct {
	PlotID, GrowerID, PlaceID int64
	Phone                     Phone
	No                        int
	Today                     engine.Day // at the place of the grower
	Season                    engine.Season
	Heard                     engine.Heard
}

// Attention returns what staff should know of the plot.
func (w *Watched) Attention() (engine.Attention, error) { return w.Season.Attention(w.Today, w.Heard) }

const (
	sqlTroubleOf = `SELECT t.grower_id, t.kind, t.day FROM trouble t WHERE t.grower_id IN ` + idList
	sqlContactOf = `SELECT c.plot_id, c.id, c.what, c.day, c.window_no, c.reasons FROM contact c
	WHERE c.plot_id IN ` + idList + ` AND c.day > $2 ORDER BY c.plot_id, c.id`
)

// WatchedAt looks at the growers of a place whose ids follow the id after, at most limit of them, and returns their
// open plots, as WatchedOf does. The next page follows the id last; 0 means that there is none.
func (tx *Tx) WatchedAt(placeID, after int64, limit int, now int64, today engine.Day,
) (list []Watched, last int64, err error) {
	r, err := tx.roll(sqlGrowersOfPlace, placeID, after, limit)
	if n := len(r.ids); n == limit {
		last = r.ids[n-1]
	}
	if err == nil {
		list, err = tx.watched(&r, r.dayAt(now, today))
	}
	return list, last, fail("watched plots", err)
}

const sqlGrowerOfPlot = `SELECT p.grower_id FROM plot p WHERE p.id = ` + asID + ` AND p.closed_day IS NULL`

// WatchedPlot returns an open plot; false if there is none with this id, or its grower has no number.
func (tx *Tx) WatchedPlot(plotID, now int64) (w Watched, open bool, err error) {
	var grower int64
	if open, err = tx.one(sqlGrowerOfPlot, args(plotID), &grower); err != nil || !open {
		return w, false, fail("watched plot", err)
	}
	list, err := tx.WatchedOf([]int64{grower}, now, 0)
	i := slices.IndexFunc(list, func(w Watched) bool { return w.PlotID == plotID })
	if err != nil || i < 0 {
		return w, false, err
	}
	return list[i], true, nil
}

func dayIn(zone *time.Location, at int64) engine.Day { return engine.DayOf(time.Unix(at, 0), zone) }

// WatchedOf returns the open plots of the growers with these ids, for the day that is today at their places at now.
// today is another day, or 0.
func (tx *Tx) WatchedOf(growerIDs []int64, now int64, today engine.Day) ([]Watched, error) {
	r, err := tx.roll(sqlGrowersByID, ids(growerIDs))
	if err != nil {
		return nil, fail("watched plots", err)
	}
	list, err := tx.watched(&r, r.dayAt(now, today))
	return list, fail("watched plots", err)
}

// dayAt returns a function that returns the day today or, if that is 0, the day of now at the place of a grower.
func (r *roll) dayAt(now int64, today engine.Day) func(i int) engine.Day {
	return func(i int) engine.Day {
		if today != 0 {
			return today
		}
		return dayIn(r.growers[i].Zone, now)
	}
}

// watched reads the open plots of growers, ordered as these are. today returns the day of the grower with an index.
func (tx *Tx) watched(r *roll, today func(i int) engine.Day) (list []Watched, err error) {
	if len(r.growers) == 0 {
		return nil, nil
	}
	if err := tx.fill(r, sqlOpenPlotsOf, args(ids(r.ids))); err != nil {
		return nil, err
	}
	if err := tx.fillTold(r); err != nil {
		return nil, err
	}
	for i := range r.growers {
		g := &r.growers[i]
		for j := range g.Plots {
			p := &g.Plots[j]
			w := Watched{PlotID: p.ID, GrowerID: g.ID, PlaceID: r.placeOf[i], Phone: g.Phone, No: p.No,
				Today: today(i), Season: p.Season}
			w.Heard.Told, w.Heard.On = p.Told, dayIn(g.Zone, g.seenAt)
			list = append(list, w)
		}
	}
	return list, tx.fillHeard(r, list)
}

// fillHeard adds what the growers said of their tools, and what staff did.
func (tx *Tx) fillHeard(r *roll, list []Watched) error {
	if len(list) == 0 {
		return nil
	}
	type trouble struct {
		kind engine.Trouble
		on   engine.Day
	}
	troubles, err := grouped(tx, sqlTroubleOf, args(ids(r.ids)), func(t *trouble) []any { return args(&t.kind, &t.on) })
	if err != nil {
		return err
	}
	plots, earliest := make([]int64, len(list)), list[0].Today
	for i := range list {
		plots[i], earliest = list[i].PlotID, min(earliest, list[i].Today)
	}
	contacts, err := grouped(tx, sqlContactOf, args(ids(plots), earliest-engine.AttentionDays),
		func(c *heardContact) []any { return args(&c.id, &c.what, &c.on, &c.window, &c.reasons) })
	if err != nil {
		return err
	}
	// A grower who was called in vain was so about all plots, until staff reached the grower about one of them.
	last := map[int64]heardContact{} // by grower
	for i := range list {
		w := &list[i]
		for _, t := range troubles[w.GrowerID] {
			if t.on <= w.Today {
				w.Heard.Trouble, w.Heard.TroubleOn = t.kind, t.on
			}
		}
		for _, c := range contacts[w.PlotID] {
			if c.on > w.Today {
				continue
			}
			if c.id > last[w.GrowerID].id {
				last[w.GrowerID] = c
			}
			if c.what != NotReached {
				w.Heard.Reached = append(w.Heard.Reached, engine.Reached{On: c.on, Window: c.window,
					Reasons: c.reasons})
			}
		}
	}
	for i := range list {
		if c := last[list[i].GrowerID]; c.what == NotReached {
			list[i].Heard.TriedOn = c.on
		}
	}
	return nil
}
