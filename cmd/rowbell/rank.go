package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
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
func (c *rankCmd) Run(w *world) (err error) {
	var today engine.Day
	if c.Today != "" {
		if today, err = plan.ParseDay("--today", c.Today); err != nil {
			return &usageError{err, "rowbell rank --help"}
		}
	}
	if c.Limit < 0 {
		return &usageError{fmt.Errorf("--limit %d is below 0", c.Limit), "rowbell rank --help"}
	}
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	var place store.Place
	growers := int64(0)
	if err := s.View(w.ctx, func(tx *store.Tx) (err error) {
		var ok bool
		if place, ok, err = tx.PlaceByName(c.Place); err == nil && !ok {
			err = fmt.Errorf("there is no place called %q; rowbell place lists those there are", c.Place)
		}
		if err == nil {
			growers, err = tx.GrowersAt(place.ID)
		}
		return err
	}); err != nil {
		return err
	}
	if today == 0 {
		if today, err = placeToday(place, w.now()); err != nil {
			return err
		}
	}
	p := w.progress("planning the plots")
	r := ranking{today: today, limit: c.Limit}
	err = eachOpenPlots(w.ctx, s, place.ID, func(page []store.DueGrower, looked int) error {
		p.step(looked, int(growers))
		return r.add(page)
	})
	p.stop()
	if err != nil {
		return err
	}
	list := rankList{place: c.Place, today: today, plots: r.plots(w.ctx, s)}
	switch {
	case c.JSON:
		return list.json(w.out)
	case c.CSV:
		return list.csv(w.out)
	}
	return list.table(w.out)
}

// rankPage is how many growers are read at once, so that no read takes long and few are in memory.
const rankPage = 200

// eachOpenPlots calls visit with the growers of a place who have open plots, page by page. Each page has its own View,
// which has ended by then. looked is how many growers were looked at before.
func eachOpenPlots(ctx context.Context, s *store.Store, placeID int64,
	visit func(page []store.DueGrower, looked int) error,
) error {
	for looked, after := 0, int64(0); ; looked += rankPage {
		var page []store.DueGrower
		err := s.View(ctx, func(tx *store.Tx) (err error) {
			page, after, err = tx.OpenPlots(placeID, after, rankPage)
			return err
		})
		if err == nil {
			err = visit(page, looked)
		}
		if err != nil || after == 0 {
			return err
		}
	}
}

// ranking finds the plots where waiting may cost most. It holds only what the order depends on, because there may be a
// million plots. It plans one after the other, so that the service on the same machine keeps the other cores.
type ranking struct {
	today engine.Day
	limit int // how many plots are listed; 0 = all
	keys  []rankKey
}

// rankKey is the place of a plot in the order.
type rankKey struct {
	score  float64
	grower int64
	closes int32 // last day of the next window
	level  engine.Level
	no     uint8
}

// add plans the open plots of the growers and adds them.
func (r *ranking) add(growers []store.DueGrower) error {
	for _, g := range growers {
		for _, p := range g.Plots {
			full, err := planOf(g, p, r.today)
			if err != nil {
				return err
			}
			r.keys = append(r.keys, rankKey{score: full.Risk.Score, grower: g.ID, closes: int32(full.closes()),
				level: full.Risk.Level, no: uint8(p.No)})
		}
	}
	if r.limit > 0 && len(r.keys) >= 2*r.limit+rankPage {
		r.cut()
	}
	return nil
}

// cut sorts the plots and keeps those that are listed.
func (r *ranking) cut() {
	slices.SortFunc(r.keys, compareRanks)
	if r.limit > 0 {
		r.keys = r.keys[:min(len(r.keys), r.limit)]
	}
}

// compareRanks sorts plots by risk level, score and end of the window, so that waiting costs most in the first. Of
// equal plots, that of the grower who registered first is first.
func compareRanks(a, b rankKey) int {
	return cmp.Or(
		cmp.Compare(b.level, a.level),
		cmp.Compare(b.score, a.score),
		cmp.Compare(a.closes, b.closes),
		cmp.Compare(a.grower, b.grower),
		cmp.Compare(a.no, b.no),
	)
}

// plots returns the ranked plots. They are read and planned anew, page by page: what was changed meanwhile is listed as
// it is now, and a plot that was closed is left out.
func (r *ranking) plots(ctx context.Context, s *store.Store) iter.Seq2[rankedPlot, error] {
	r.cut()
	return func(yield func(rankedPlot, error) bool) {
		for page := range slices.Chunk(r.keys, rankPage) {
			growers := map[int64]store.DueGrower{}
			err := s.View(ctx, func(tx *store.Tx) error {
				list, err := tx.OpenPlotsOf(growersOf(page))
				for _, g := range list {
					growers[g.ID] = g
				}
				return err
			})
			if err != nil {
				yield(rankedPlot{}, err)
				return
			}
			for _, k := range page {
				g := growers[k.grower]
				i := slices.IndexFunc(g.Plots, func(p store.DuePlot) bool { return p.No == int(k.no) })
				if i < 0 {
					continue
				}
				if p, err := planOf(g, g.Plots[i], r.today); !yield(p, err) || err != nil {
					return
				}
			}
		}
	}
}

func growersOf(keys []rankKey) (list []int64) {
	for _, k := range keys {
		list = append(list, k.grower)
	}
	return list
}

// rankedPlot is an open plot with its full plan.
type rankedPlot struct {
	phone store.Phone
	no    int
	label string
	engine.Full
}

func planOf(g store.DueGrower, p store.DuePlot, today engine.Day) (rankedPlot, error) {
	full, err := p.Season.Full(today)
	if err != nil {
		return rankedPlot{}, fmt.Errorf("plot %d of %s: %w", p.No, g.Phone, err)
	}
	return rankedPlot{g.Phone, p.No, p.Season.Plot.Label, full}, nil
}

// closes returns the last day of the next window. Without a window it returns a day after all others, so that the plot
// ranks below plots of the same risk with a window.
func (p rankedPlot) closes() engine.Day {
	if !p.Next.Exists() {
		return engine.Date(engine.MaxYear+1, time.January, 1)
	}
	return p.Next.Closes
}
