package store

import (
	"math"
	"slices"

	"rowbell/engine"
)

const (
	// learnDays is how far back a place learns: weeds, rice and ways change.
	learnDays = 3 * 366
	// maxLearnPlots bounds the work of one transaction: the newest plots count.
	maxLearnPlots = 2000
	// learnStep is the least change of a rate for which dates are moved: two
	// steps of what can be learned, so that a count that wavers moves nothing.
	learnStep = 0.035
	// learnGrowers is how many growers must have told of leaves before a place
	// believes them, and learnEach how many observations of one grower count,
	// the newest: nobody moves a place alone.
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

// tally counts what growers saw, the newest plots first.
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

// LookAtPlace has the bell look again, from now on, at the plots of a place
// that are watched: its windows may have moved.
func (tx *Tx) LookAtPlace(placeID, now int64) error {
	_, err := tx.exec(sqlLookAtPlace, now, math.MaxInt32, placeID)
	return fail("look at place", err)
}
