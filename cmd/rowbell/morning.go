package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/store"
)

// morningCmd is rowbell morning: it lists the plots that need somebody, as the first page of the desk does.
type morningCmd struct {
	recordsFlags
	Place   []string `help:"List only plots of this place; may be given several times." placeholder:"NAME"`
	Reason  []string `help:"List only plots with this reason; may be given several times." placeholder:"WHY"`
	Today   string   `help:"Day of the list, YYYY-MM-DD (default: today at each place)." placeholder:"DATE"`
	Limit   int      `help:"List the first N plots only; 0 lists all." placeholder:"N"`
	Numbers bool     `help:"Print phone numbers in full."`
	JSON    bool     `name:"json" xor:"form" help:"Print JSON."`
	CSV     bool     `name:"csv" xor:"form" help:"Print CSV."`
}

// Run prints the list as a table, JSON or CSV. It plans every plot, so that it needs no service.
func (c *morningCmd) Run(w *world) (err error) {
	m := morning{now: w.now().Unix(), limit: c.Limit, reasons: engine.AllReasons}
	if c.Today != "" {
		if m.today, err = plan.ParseDay("--today", c.Today); err != nil {
			return &usageError{err, "rowbell morning --help"}
		}
	}
	if c.Limit < 0 {
		return &usageError{fmt.Errorf("--limit %d is below 0", c.Limit), "rowbell morning --help"}
	}
	if len(c.Reason) > 0 {
		if m.reasons, err = parseReasons(c.Reason); err != nil {
			return &usageError{err, "rowbell morning --help"}
		}
	}
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	growers, err := m.readPlaces(w.ctx, s, c.Place)
	if err != nil {
		return err
	}
	p := w.progress("planning the plots")
	err = m.planAll(w.ctx, s, func(looked int) { p.step(looked, growers) })
	p.stop()
	if err != nil {
		return err
	}
	list := morningList{places: m.places, numbers: c.Numbers, plots: m.plots(w.ctx, s)}
	switch {
	case c.JSON:
		return list.json(w.out)
	case c.CSV:
		return list.csv(w.out)
	}
	return list.table(w.out)
}

func parseReasons(names []string) (all engine.Reasons, err error) {
	for _, name := range names {
		r, ok := engine.ParseReason(name)
		if !ok {
			return 0, fmt.Errorf("--reason %q: the reasons are %s", name, strings.ReplaceAll(
				engine.AllReasons.String(), ", ", "; "))
		}
		all |= 1 << r
	}
	return all, nil
}

// morningPage is how many growers are read at once, so that no read takes long and few are in memory.
const morningPage = 200

// morning finds the plots that need somebody. It holds only what the order depends on, because there may be a million
// plots. It plans one after the other, so that the service on the same machine keeps the other cores.
type morning struct {
	places  []placeDay
	now     int64
	today   engine.Day // 0: of now, at each place
	limit   int        // how many plots are listed; 0 = all
	reasons engine.Reasons
	keys    []morningKey
}

// placeDay is a place with the day of the list there.
type placeDay struct {
	id   int64
	name string
	day  engine.Day
}

type morningKey struct {
	store.MorningKey
	grower int64
}

// readPlaces reads the places with these names, or all without names. It returns how many growers they have.
func (m *morning) readPlaces(ctx context.Context, s *store.Store, names []string) (growers int, err error) {
	err = s.View(ctx, func(tx *store.Tx) error {
		places, err := tx.Places()
		if err != nil {
			return err
		}
		for _, name := range names {
			if !slices.ContainsFunc(places, func(p store.Place) bool { return p.Name == name }) {
				return fmt.Errorf("there is no place called %q; rowbell place lists those there are", name)
			}
		}
		for _, p := range places {
			if len(names) > 0 && !slices.Contains(names, p.Name) {
				continue
			}
			n, err := tx.GrowersAt(p.ID)
			if err != nil {
				return err
			}
			growers += int(n)
			day := m.today
			if day == 0 {
				if day, err = placeToday(p, time.Unix(m.now, 0)); err != nil {
					return err
				}
			}
			m.places = append(m.places, placeDay{p.ID, p.Name, day})
		}
		return nil
	})
	return growers, err
}

// planAll plans the plots of the places, page by page. Each page has its own View, which has ended by then. step is
// called with how many growers were looked at.
func (m *morning) planAll(ctx context.Context, s *store.Store, step func(looked int)) error {
	looked := 0
	for i := range m.places {
		for after, more := int64(0), true; more; more = after != 0 {
			var page []store.Watched
			err := s.View(ctx, func(tx *store.Tx) (err error) {
				page, after, err = tx.WatchedAt(m.places[i].id, after, morningPage, m.now, m.today)
				return err
			})
			if err == nil {
				err = m.add(page)
			}
			if err != nil {
				return err
			}
			looked += morningPage
			step(looked)
		}
	}
	return nil
}

// add plans plots and adds those that need somebody.
func (m *morning) add(page []store.Watched) error {
	for i := range page {
		w := &page[i]
		a, err := attentionOf(w)
		if err != nil {
			return err
		}
		if a.Reasons&m.reasons != 0 {
			m.keys = append(m.keys, morningKey{store.MorningKeyOf(w.PlotID, a), w.GrowerID})
		}
	}
	if m.limit > 0 && len(m.keys) >= 2*m.limit+morningPage {
		m.cut()
	}
	return nil
}

func attentionOf(w *store.Watched) (engine.Attention, error) {
	a, err := w.Attention()
	if err != nil {
		err = fmt.Errorf("plot %d of %s: %w", w.No, w.Phone, err)
	}
	return a, err
}

// cut sorts the plots and keeps those that are listed.
func (m *morning) cut() {
	slices.SortFunc(m.keys, func(a, b morningKey) int { return a.Compare(b.MorningKey) })
	if m.limit > 0 {
		m.keys = m.keys[:min(len(m.keys), m.limit)]
	}
}

// morningPlot is a plot of the list.
type morningPlot struct {
	store.Watched
	engine.Attention
	place string
}

// plots returns the plots of the list. They are read and planned anew, page by page: what was changed meanwhile is
// listed as it is now, and a plot that needs nobody any more is left out.
func (m *morning) plots(ctx context.Context, s *store.Store) iter.Seq2[morningPlot, error] {
	m.cut()
	return func(yield func(morningPlot, error) bool) {
		for page := range slices.Chunk(m.keys, morningPage) {
			plots, err := m.read(ctx, s, page)
			if err != nil {
				yield(morningPlot{}, err)
				return
			}
			for _, k := range page {
				w, ok := plots[k.PlotID]
				if !ok {
					continue
				}
				a, err := attentionOf(&w)
				if err == nil && a.Reasons&m.reasons == 0 {
					continue
				}
				if !yield(morningPlot{w, a, m.placeName(w.PlaceID)}, err) || err != nil {
					return
				}
			}
		}
	}
}

// read returns the plots of a page by their ids.
func (m *morning) read(ctx context.Context, s *store.Store, page []morningKey) (map[int64]store.Watched, error) {
	growers := make([]int64, len(page))
	for i, k := range page {
		growers[i] = k.grower
	}
	plots := map[int64]store.Watched{}
	err := s.View(ctx, func(tx *store.Tx) error {
		list, err := tx.WatchedOf(growers, m.now, m.today)
		for _, w := range list {
			plots[w.PlotID] = w
		}
		return err
	})
	return plots, err
}

func (m *morning) placeName(id int64) string {
	for _, p := range m.places {
		if p.id == id {
			return p.name
		}
	}
	return ""
}
