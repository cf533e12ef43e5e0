package store

import (
	"cmp"
	"context"
	"slices"

	"rowbell/engine"
)

const (
	sqlLearnGrowers = `SELECT g.id FROM grower g WHERE g.place_id = ` + asID + ` AND g.id > $2
	ORDER BY g.id LIMIT CAST($3 AS BIGINT)`
	sqlLearnPlots = `SELECT p.id FROM plot p WHERE p.grower_id IN ` + idList + ` AND p.planted > $2 AND (
		EXISTS (SELECT 1 FROM sighting x WHERE x.plot_id = p.id AND x.leaves > 0)
		OR EXISTS (SELECT 1 FROM told t WHERE t.plot_id = p.id))`
)

const (
	learnGrowersPage = 500 // growers of a place whose plots are looked at in one View
	learnPlotsPage   = 50  // plots that are read in one View
)

// Learned computes what a place learns about its weeds from what growers saw there in the last three years, on open and
// closed plots. The observations are compared with the clocks of the engine's table, not with what was learned before,
// because otherwise each run would add to the result of the last run. If Learning is switched off for the place,
// Learned returns false. For an unknown id, it returns ErrNoPlace.
//
// It can take seconds. It reads in pages, each in its own View, and computes between them, so that it delays neither
// the writer nor the reuse of the write-ahead log.
func (s *Store) Learned(ctx context.Context, placeID, now int64) (l engine.Learned, learns bool, err error) {
	var place *readyPlace
	err = s.View(ctx, func(tx *Tx) (err error) {
		place, err = tx.placeByID(placeID)
		return err
	})
	if err != nil || !place.Learning {
		return l, false, fail("learn", err)
	}
	plots, err := s.learnPlots(ctx, placeID, int64(place.today(now))-learnDays)
	if err != nil {
		return l, false, fail("learn", err)
	}
	t := newTally()
	for page := range slices.Chunk(plots, learnPlotsPage) {
		var seen seenPlots
		err := s.View(ctx, func(tx *Tx) (err error) {
			seen, err = tx.seenPlots(page, place)
			return err
		})
		if err != nil {
			return l, false, fail("learn", err)
		}
		t.add(seen)
	}
	return t.learned(), true, nil
}

// learnPlots returns the ids of the newest plots of a place that were planted after a day and from which it can learn,
// at most maxLearnPlots, the newest first.
func (s *Store) learnPlots(ctx context.Context, placeID, after int64) (newest []int64, err error) {
	for last := int64(0); ; {
		var growers, plots []int64
		err := s.View(ctx, func(tx *Tx) (err error) {
			if growers, err = column[int64](tx, sqlLearnGrowers, args(placeID, last, learnGrowersPage)); err == nil {
				plots, err = column[int64](tx, sqlLearnPlots, args(ids(growers), after))
			}
			return err
		})
		if err != nil {
			return nil, err
		}
		newest = append(newest, plots...)
		slices.SortFunc(newest, func(a, b int64) int { return cmp.Compare(b, a) })
		newest = newest[:min(len(newest), maxLearnPlots)]
		if len(growers) < learnGrowersPage {
			return newest, nil
		}
		last = growers[len(growers)-1]
	}
}

// seenPlots are plots with all that a place learns from.
type seenPlots struct {
	plots   []plotRow
	seasons []engine.Season
	told    map[int64][]engine.Told
}

func (tx *Tx) seenPlots(list []int64, place *readyPlace) (p seenPlots, err error) {
	if p.plots, err = tx.plotRows(sqlPlotsByID, ids(list)); err != nil {
		return p, err
	}
	slices.Reverse(p.plots) // the newest first
	p.seasons = make([]engine.Season, len(p.plots))
	err = tx.seasons(p.plots, func(i int) (*engine.Season, *readyPlace) { return &p.seasons[i], place })
	if err == nil {
		p.told, err = tx.readTold(idsOf(p.plots))
	}
	return p, err
}

// tally counts what growers saw on plots, and who was asked and did not say.
type tally struct {
	engine.Tally
	used    map[int64]int  // observations of each grower
	counted map[int64]bool // growers who gave a leaf count
}

func newTally() *tally { return &tally{used: map[int64]int{}, counted: map[int64]bool{}} }

// add counts plots. The newest plots must be added first.
func (t *tally) add(p seenPlots) {
	for i := range p.seasons {
		grower := p.plots[i].growerID
		for _, o := range slices.Backward(engine.Observe(p.seasons[i], p.told[p.plots[i].id])) {
			if t.used[grower] == learnEach {
				break
			}
			t.used[grower]++
			if o.Counted() {
				t.counted[grower] = true
			}
			t.Add(o)
		}
	}
}

func (t *tally) learned() engine.Learned {
	if len(t.counted) < learnGrowers {
		return (&engine.Tally{}).Learned()
	}
	return t.Learned()
}
