package store

import (
	"encoding/json"
	"math"
	"slices"

	"rowbell/engine"
)

const (
	// A place learns only from plots that were planted at most learnDays days ago, because weeds, varieties and
	// practice change (an estimate).
	learnDays = 3 * 366
	// maxLearnPlots is the largest number of plots in one computation, so that its transaction stays short. The newest
	// plots are used.
	maxLearnPlots = 2000
	// A new weed rate is stored only if it differs from the stored rate by at least this fraction, so that a few more
	// reports do not change the dates. Learned rates are multiples of 0.02 (1/engine.RateSteps): near the rate 1, one
	// step (2 %) is too small, and two steps (4 %) are enough.
	learnStep = 0.035
	// The same holds if the shares of the weed clocks differ by this much in all.
	learnShare = 0.1
	// A place learns only if at least learnGrowers growers reported. From each grower, only the newest learnEach
	// observations are used. So no single grower can change the dates of a place.
	learnGrowers = 5
	learnEach    = 3
)

const (
	sqlLearnPlots = `SELECT ` + plotColumns + ` FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE g.place_id = $1 AND p.planted > $2 AND (
		EXISTS (SELECT 1 FROM sighting x WHERE x.plot_id = p.id AND x.leaves > 0)
		OR EXISTS (SELECT 1 FROM told t WHERE t.plot_id = p.id))
	ORDER BY p.id DESC LIMIT $3`
	sqlLearned = `UPDATE place SET weed_rate = $1, weed_clocks = $2, learned_n = $3 WHERE id = $4`
)

// Learned computes what a place learns about its weeds from what growers saw there in the last three years, on open and
// closed plots. The observations are compared with the clocks of the engine's table, not with what was learned before,
// because otherwise each run would add to the result of the last run. If Learning is switched off for the place,
// Learned returns false. For an unknown id, it returns ErrNoPlace. It can take seconds, so call it in a View.
func (tx *Tx) Learned(placeID int64, now int64) (l engine.Learned, learns bool, err error) {
	l, learns, err = tx.learned(placeID, now)
	return l, learns, fail("learn", err)
}

func (tx *Tx) learned(placeID, now int64) (engine.Learned, bool, error) {
	place, err := tx.placeByID(placeID)
	if err != nil || !place.Learning {
		return engine.Learned{}, false, err
	}
	today := place.today(now)
	plots, err := tx.plotRows(sqlLearnPlots, placeID, int64(today)-learnDays, maxLearnPlots)
	if err != nil {
		return engine.Learned{}, false, err
	}
	seasons := make([]engine.Season, len(plots))
	if err := tx.seasons(plots, func(i int) (*engine.Season, *readyPlace) { return &seasons[i], place }); err != nil {
		return engine.Learned{}, false, err
	}
	told, err := tx.readTold(idsOf(plots))
	if err != nil {
		return engine.Learned{}, false, err
	}
	counts := tally(plots, seasons, told)
	return counts.Learned(), true, nil
}

func (tx *Tx) placeByID(id int64) (*readyPlace, error) {
	places, err := tx.placesByID([]int64{id})
	if err == nil && places[id] == nil {
		err = ErrNoPlace
	}
	return places[id], err
}

// KeepLearned stores what a place has learned. If the mean rate changed by at least learnStep, or the shares of the
// clocks by at least learnShare, the new rates are stored, changed is true, and the bell (the reminder job) looks at
// once at all plots that it watches at the place. Otherwise only the number of observations is stored.
func (tx *Tx) KeepLearned(placeID int64, l engine.Learned, now int64) (changed bool, err error) {
	changed, err = tx.keepLearned(placeID, l, now)
	return changed, fail("keep learned", err)
}

func (tx *Tx) keepLearned(placeID int64, l engine.Learned, now int64) (bool, error) {
	place, err := tx.placeByID(placeID)
	if err != nil || !place.Learning {
		return false, err
	}
	moved := math.Abs(l.Rate-place.WeedRate) >= learnStep*place.WeedRate ||
		l.Clocks.Differ(place.WeedClocks) >= learnShare
	if !moved && l.N == place.LearnedN {
		return false, nil
	}
	rate, clocks := place.WeedRate, place.row.weedClocks
	if moved {
		rate, clocks = l.Rate, "[]"
		if l.N > 0 {
			b, err := json.Marshal(l.Clocks)
			if err != nil {
				return false, err
			}
			clocks = string(b)
		}
	}
	if err := tx.do(sqlLearned, rate, clocks, l.N, placeID); err != nil || !moved {
		return false, err
	}
	return true, tx.LookAtPlace(placeID, now)
}

// tally counts what growers saw on plots, and who was asked and did not say. The newest plots must be first in the
// list.
func tally(plots []plotRow, seasons []engine.Season, told map[int64][]engine.Told) (t engine.Tally) {
	used, counted := map[int64]int{}, map[int64]bool{} // observations of each grower; growers who gave a leaf count
	for i := range seasons {
		grower := plots[i].growerID
		for _, o := range slices.Backward(engine.Observe(seasons[i], told[plots[i].id])) {
			if used[grower] == learnEach {
				break
			}
			used[grower]++
			if o.Counted() {
				counted[grower] = true
			}
			t.Add(o)
		}
	}
	if len(counted) < learnGrowers {
		return engine.Tally{}
	}
	return t
}
