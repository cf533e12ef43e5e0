package store

import (
	"encoding/json"
	"math"

	"rowbell/engine"
)

const (
	// A place learns only from plots that were planted at most learnDays days ago, because weeds, varieties and
	// practice change (an estimate).
	learnDays = 3 * 366
	// maxLearnPlots is the largest number of plots in one computation. The newest plots are used.
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

const sqlLearned = `UPDATE place SET weed_rate = $1, weed_clocks = $2, learned_n = $3 WHERE id = $4`

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
