package store

import (
	"math"

	"rowbell/engine"
)

const (
	// learnDays is how far back a place learns: weeds, rice and ways change.
	learnDays = 3 * 366
	// maxLearnPlots bounds the work of one transaction: the newest plots count.
	maxLearnPlots = 2000
	// learnStep is the least change of a rate for which dates are moved.
	learnStep = 0.005
)

const (
	sqlLearnPlots = `SELECT ` + plotColumns + ` FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE g.place_id = $1 AND p.planted > $2 AND EXISTS
		(SELECT 1 FROM sighting x WHERE x.plot_id = p.id AND x.leaves > 0)
	ORDER BY p.id DESC LIMIT $3`
	sqlLearned = `UPDATE place SET weed_rate = $1, learned_n = $2 WHERE id = $3`
)

// LearnPlace sets the weed clock of a place to what growers saw there in the
// last three years, on plots open and closed. Where the rate is another it is
// kept, and the bell looks again, from now on, at the plots that are watched.
// A place that does not learn is left as it is. ErrNoPlace for an id that is
// none.
func (tx *Tx) LearnPlace(placeID int64, now int64) (changed bool, err error) {
	changed, err = tx.learnPlace(placeID, now)
	return changed, fail("learn place", err)
}

func (tx *Tx) learnPlace(placeID, now int64) (bool, error) {
	places, err := tx.placesByID([]int64{placeID})
	if err != nil {
		return false, err
	}
	place, ok := places[placeID]
	switch {
	case !ok:
		return false, ErrNoPlace
	case !place.Learning:
		return false, nil
	}
	today := place.today(now)
	plots, err := tx.plotRows(sqlLearnPlots, args(placeID, int64(today)-learnDays, maxLearnPlots))
	if err != nil {
		return false, err
	}
	seasons := make([]engine.Season, len(plots))
	if err := tx.seasons(plots, func(i int) (*engine.Season, *readyPlace) { return &seasons[i], place }); err != nil {
		return false, err
	}
	var t engine.Tally
	for i := range seasons {
		for _, o := range engine.Observe(seasons[i]) {
			t.Add(o)
		}
	}
	l := t.Learned()
	moved := math.Abs(l.Rate-place.WeedRate) >= learnStep*place.WeedRate
	if !moved && l.N == place.LearnedN {
		return false, nil
	}
	rate := place.WeedRate
	if moved {
		rate = l.Rate
	}
	if _, err := tx.exec(sqlLearned, rate, l.N, placeID); err != nil || !moved {
		return false, err
	}
	_, err = tx.exec(sqlLookAtPlace, now, math.MaxInt32, placeID)
	return true, err
}
