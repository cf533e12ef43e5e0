package store

import (
	"errors"
	"testing"

	"rowbell/engine"
)

func learn(t *testing.T, s *Store, at int64) (changed bool) {
	t.Helper()
	l, learns, err := s.Learned(ctx, 1, at)
	ok(t, err)
	return learns && get(t, s, func(tx *Tx) (bool, error) { return tx.KeepLearned(1, l, at) })
}

// seers stores n growers who each saw weeds with one leaf, a number of days after planting. By the engine's table,
// weeds have more leaves on that day, so the weeds at this place grow slowly.
func seers(t *testing.T, s *Store, from, n int, after engine.Day) {
	t.Helper()
	for i := range n {
		p := examplePhone(from + i)
		withPlot(t, s, p)
		ledger(t, s, p, noon, see(1, engine.Sighting{On: aPlot().Planted + after, Leaves: engine.OneLeaf}))
	}
}

func placeOf(t *testing.T, s *Store) Place {
	t.Helper()
	p, _ := lookUp(t, s, func(tx *Tx) (Place, bool, error) { return tx.PlaceByName(DefaultPlace) })
	return p
}

func TestPlaceLearnsFromWhatIsSeen(t *testing.T) {
	s := open(t)
	errorIf(t, learn(t, s, noon), "learned from nothing")
	const n = 30
	seers(t, s, 100, n, 11)
	// Observations on closed plots are used too.
	ledger(t, s, "+447700900100", noon, closePlot(1))
	const later = 9 * 86400
	execSQL(t, s, "UPDATE plot SET look_at = $1 WHERE closed_day IS NULL", noon+later)
	fatalIf(t, !learn(t, s, noon), "nothing was learned")
	p := placeOf(t, s)
	errorIf(t, !(p.WeedRate < 1 && p.WeedRate >= engine.MinWeedRate) || p.LearnedN != n,
		"weed rate %g from %d, want less than 1 from %d", p.WeedRate, p.LearnedN, n)
	ok(t, s.LookAtPlaces(ctx, noon))
	wantNumber(t, s, n-1, "SELECT count(*) FROM plot WHERE look_at = $1", noon)
	equal(t, season(t, s, "+447700900101", 1).Local.WeedRate, p.WeedRate, "the season's weed rate")
	// The same observations must not change the rate again.
	execSQL(t, s, "UPDATE plot SET look_at = $1 WHERE closed_day IS NULL", noon+later)
	errorIf(t, learn(t, s, noon) || placeOf(t, s).WeedRate != p.WeedRate, "the same was learned twice")
	ok(t, s.LookAtPlaces(ctx, noon))
	wantNumber(t, s, 0, "SELECT count(*) FROM plot WHERE look_at = $1", noon)
	// Observations older than three years are not used.
	errorIf(t, !learn(t, s, noon+4*366*86400), "nothing is forgotten")
	p = placeOf(t, s)
	errorIf(t, p.WeedRate != 1 || p.LearnedN != 0, "after years: weed rate %g from %d", p.WeedRate, p.LearnedN)
}

// What growers saw is read in pages, each in its own View, so that no View lasts as long as the computation. The newest
// plots are used.
func TestLearningReadsInPages(t *testing.T) {
	pages, reads := 0, 0
	s := openNew(t, Options{OnStatement: func(query string) {
		switch query {
		case sqlLearnGrowers:
			pages++
		case sqlPlotsByID:
			reads++
		}
	}})
	const n = 2*learnPlotsPage + 1
	seers(t, s, 100, n, 11)
	l, learns, err := s.Learned(ctx, 1, noon)
	errorIf(t, l.N != n || !learns || err != nil, "learned from %d, want %d: %v", l.N, n, err)
	errorIf(t, pages != 1 || reads != 3, "%d pages of growers and %d of plots", pages, reads)
	execSQL(t, s, `WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < $1)
		INSERT INTO plot (grower_id, no, label, method, planted, puddled, seedling_age_days, seedlings_per_hill,
			row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm, tool_max_width_cm,
			since_day, closed_day)
		SELECT 1, 1, '', 1, p.planted, p.puddled, 0, 0, 25, 25, 0, 1, 0, 15, 15, p.since_day, p.since_day
		FROM n JOIN plot p ON p.id = 1`, maxLearnPlots)
	execSQL(t, s, "INSERT INTO told (plot_id, window_no, edition, kind, day) SELECT id, 1, 0, 1, planted FROM plot")
	pages, reads = 0, 0
	l, _, err = s.Learned(ctx, 1, noon)
	errorIf(t, l.N != 0 || err != nil, "learned from %d plots that are not among the newest, %v", l.N, err)
	equal(t, reads, maxLearnPlots/learnPlotsPage, "pages of plots")
}

// Growers who were asked and did not say that their weeds were too big say that their weeds were smaller.
func TestSilenceOfThoseWhoWereAskedCounts(t *testing.T) {
	rate := func(silent int) float64 {
		s := open(t)
		for i := range 30 + silent {
			p := examplePhone(100 + i)
			withPlot(t, s, p)
			day := aPlot().Planted + 15
			if i < 30 {
				ledger(t, s, p, noon, see(1, engine.Sighting{On: day, Leaves: engine.FourPlus}))
			}
			execSQL(t, s, `INSERT INTO told (plot_id, window_no, edition, kind, day)
				SELECT max(id), 1, 0, $1, $2 FROM plot`, int(engine.KindOpen), int(day))
		}
		learn(t, s, noon)
		p := placeOf(t, s)
		errorIf(t, p.LearnedN != 30, "learned from %d plots, want the 30 with a leaf count", p.LearnedN)
		return p.WeedRate
	}
	with, without := rate(90), rate(0)
	errorIf(t, with >= without, "weed rate %g with silent growers, %g without", with, without)
}

func TestPlaceThatDoesNotLearn(t *testing.T) {
	s := open(t)
	seers(t, s, 100, 30, 11)
	p := defaultPlace()
	p.Learning = false
	putPlace(t, s, p)
	errorIf(t, learn(t, s, noon) || placeOf(t, s).WeedRate != 1 || placeOf(t, s).LearnedN != 0,
		"it learned all the same: %+v", placeOf(t, s))
}

func TestLearningStaysAtItsPlace(t *testing.T) {
	s := open(t)
	seers(t, s, 100, 30, 11)
	execSQL(t, s, "UPDATE grower SET place_id = $1", anotherPlace(t, s, "hills", "UTC"))
	errorIf(t, learn(t, s, noon), "a place learned from another's growers")
	_, _, err := s.Learned(ctx, noSuch, noon)
	wantErr(t, err, ErrNoPlace, "of nowhere")
	err = s.InTx(ctx, func(tx *Tx) error { return second(tx.KeepLearned(noSuch, engine.Learned{}, noon)) })
	wantErr(t, err, ErrNoPlace, "of nowhere")
}

// One grower cannot change the rate of a place, no matter how many observations this grower reports.
func TestOneGrowerDoesNotMoveAPlace(t *testing.T) {
	s := open(t)
	seers(t, s, 100, learnGrowers-1, 11)
	fatalIf(t, learn(t, s, noon), "learned from %d growers", learnGrowers-1)
	honest := open(t)
	seers(t, honest, 100, 20, 11)
	learn(t, honest, noon)
	before := placeOf(t, honest).WeedRate
	ledger(t, honest, ana, noon, consent)
	for range 40 {
		ledger(t, honest, ana, noon, func(l *Ledger) error {
			no, err := l.AddPlot(aPlot(), aTool())
			lie := engine.Sighting{On: aPlot().Planted + 6, Leaves: engine.TwoThree}
			return errors.Join(err, l.See(no, lie), l.ClosePlot(no))
		})
	}
	learn(t, honest, noon)
	after := placeOf(t, honest)
	errorIf(t, after.LearnedN != 20+learnEach || after.WeedRate-before > 0.1,
		"forty plots of one grower moved the rate from %g to %g, from %d", before, after.WeedRate, after.LearnedN)
}
