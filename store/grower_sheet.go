package store

import (
	"errors"

	"rowbell/engine"
)

// PlotSheet is all that staff see of a plot, which may be closed.
type PlotSheet struct {
	ID, GrowerID int64
	No           int
	Since        engine.Day // registered, or planted again
	Closed       engine.Day // 0: open
	LookAt       int64      // next look of the bell, in Unix seconds; 0: never
	Season       engine.Season
	Told         []engine.Told      // ordered by day
	Corrections  []PersonCorrection // oldest first
	Texts        []Message          // about this plot, oldest first
}

const (
	sqlPlotByID    = `SELECT ` + plotColumns + ` FROM plot p WHERE p.id = ` + asID
	sqlHomeOf      = `SELECT place_id, household, has_hours FROM grower WHERE id = ` + asID
	sqlTextsOfPlot = `SELECT ` + messageColumns + ` FROM message
	WHERE id IN (SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id = ` + asID + `) ORDER BY id`
	sqlPlotsOfGrower = `SELECT ` + plotColumns + ` FROM plot p WHERE p.grower_id = ` + asID + `
	ORDER BY p.closed_day IS NOT NULL, p.closed_day DESC, p.no, p.id LIMIT 60`
)

// PlotSheet returns a plot by its id; ErrNoPlot if there is none.
func (tx *Tx) PlotSheet(plotID int64) (s PlotSheet, err error) {
	plots, err := tx.plotRows(sqlPlotByID, plotID)
	switch {
	case err != nil:
		return s, err
	case len(plots) == 0:
		return s, ErrNoPlot
	}
	r := &plots[0]
	s = PlotSheet{ID: r.id, GrowerID: r.growerID, No: r.no, Since: r.since, Closed: r.closed, LookAt: r.lookAt}
	list := idsOf(plots)
	told, err := tx.readTold(list)
	corrections, err2 := tx.readCorrections(list)
	texts, err3 := tx.messages(sqlTextsOfPlot, plotID)
	if err := errors.Join(err, err2, err3, tx.seasonOf(&s.Season, r)); err != nil {
		return s, fail("plot", err)
	}
	s.Told, s.Corrections, s.Texts = told[r.id], corrections[r.id], texts
	return s, nil
}

// seasonOf fills in the season of a plot, with the household.
func (tx *Tx) seasonOf(s *engine.Season, r *plotRow) error {
	var place int64
	var household string
	var hasHours bool
	if _, err := tx.one(sqlHomeOf, args(r.growerID), &place, &household, &hasHours); err != nil {
		return err
	}
	places, err := tx.placesByID([]int64{place})
	if err != nil {
		return err
	}
	err = tx.seasons([]plotRow{*r}, func(int) (*engine.Season, *readyPlace) { return s, places[place] })
	if err != nil {
		return err
	}
	if s.Home, err = readHousehold(household); err != nil {
		return err
	}
	s.Home.Herbicide = r.herbicide
	if !hasHours {
		return nil
	}
	worked, err := tx.readWorked(r.growerID)
	s.Home.Worked = workedElsewhere(worked[r.growerID], r.id)
	return err
}

// PlotHead is a plot in the list of a grower's plots.
type PlotHead struct {
	ID     int64
	No     int
	Plot   engine.Plot
	Tool   engine.Tool
	Closed engine.Day // 0: open
}

// PlotsOf returns the plots of a grower, at most sixty: the open ones by number, and then the closed ones, the last
// first.
func (tx *Tx) PlotsOf(growerID int64) ([]PlotHead, error) {
	plots, err := tx.plotRows(sqlPlotsOfGrower, growerID)
	var list []PlotHead
	for _, r := range plots {
		list = append(list, PlotHead{r.id, r.no, r.plot, r.tool, r.closed})
	}
	return list, err
}

const sqlPlotPlace = `SELECT p.grower_id, g.place_id FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE p.id = ` + asID

// PlaceOfPlot returns the grower of a plot, and the id of the grower's place; ErrNoPlot if there is no such plot.
func (tx *Tx) PlaceOfPlot(plotID int64) (growerID, placeID int64, err error) {
	known, err := tx.one(sqlPlotPlace, args(plotID), &growerID, &placeID)
	if err == nil && !known {
		return 0, 0, ErrNoPlot
	}
	return growerID, placeID, fail("place of a plot", err)
}

// Consents returns the decisions of a grower about consent, language and texts, oldest first.
func (tx *Tx) Consents(growerID int64) ([]PersonConsent, error) {
	list, err := rows(tx, sqlPersonConsent, args(growerID), func(c *PersonConsent) []any {
		return args(&c.At, &c.What, &c.TextVersion, &c.Text, &c.Language, &c.Channel)
	})
	return list, fail("consents", err)
}
