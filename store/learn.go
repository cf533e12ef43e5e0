package store

import (
	"math"
	"slices"

	"rowbell/engine"
)

const (
	// learnDays is how far back a place learns, in days: weeds, varieties and practice change
	// (judgement).
	learnDays = 3 * 366
	// maxLearnPlots bounds the work of one transaction; the newest plots count.
	maxLearnPlots = 2000
	// learnStep is the smallest relative change of the weed rate that moves dates: two steps of the scale
	// of learned rates, so that a fluctuating count of sightings moves no dates.
	learnStep = 0.035
	// A place learns from learnGrowers growers or more, and from the newest learnEach observations of
	// each, so that nobody moves a place's dates alone.
	learnGrowers = 5
	learnEach    = 3
)

const (
	sqlLearnPlots = `SELECT ` + plotColumns + ` FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE g.place_id = $1 AND p.planted > $2 AND EXISTS
		(SELECT 1 FROM sighting x WHERE x.plot_id = p.id AND x.leaves > 0)
	ORDER BY p.id DESC LIMIT $3`
	sqlLearned = `UPDATE place SET weed_rate = $1, learned_n = $2 WHERE id = $3`
)

// LearnPlace sets a place's weed rate from what growers saw there in the last three years, on open and
// closed plots. Observations are compared with the table's rate, never with the learned one, so that
// learning cannot feed on itself. If the rate changed, the bell looks from now on at the plots that it
// watches there. A place with Learning off does not change. It returns ErrNoPlace for an unknown id.
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
	l := tally(plots, seasons).Learned()
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
	return true, tx.LookAtPlace(placeID, now)
}

// tally counts what growers saw, newest plots first.
func tally(plots []plotRow, seasons []engine.Season) (t engine.Tally) {
	told := map[int64]int{} // observations by grower
	for i := range seasons {
		for _, o := range slices.Backward(engine.Observe(seasons[i])) {
			grower := plots[i].growerID
			if told[grower] == learnEach {
				break
			}
			told[grower]++
			t.Add(o)
		}
	}
	if len(told) < learnGrowers {
		return engine.Tally{}
	}
	return t
}

// LookAtPlace has the bell look from now on at the plots that it watches at a place: their windows may
// have moved.
func (tx *Tx) LookAtPlace(placeID, now int64) error {
	_, err := tx.exec(sqlLookAtPlace, now, math.MaxInt32, placeID)
	return fail("look at place", err)
}
