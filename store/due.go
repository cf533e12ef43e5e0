package store

import (
	"slices"
	"time"

	"rowbell/engine"
)

// DueGrower is a grower who has plots that the bell (the reminder job) should look at.
type DueGrower struct {
	ID          int64
	Phone       Phone
	Language    string
	Zone        *time.Location
	MorningHour int
	Circle      int64     // in which the grower is a member or asked to be one; 0: none
	Plots       []DuePlot // all due plots of the grower, ordered by plot number

	seenAt int64
	asOf   int64 // see Rounds
}

// DuePlot is a plot at which the bell (the reminder job) should look.
type DuePlot struct {
	ID     int64
	No     int
	LookAt int64 // when the plot became due, in Unix seconds: a morning, or when the grower changed the plot
	Season engine.Season
	Told   []engine.Told // all reminders that were sent about this plot, ordered by day
	Turns  []PlotTurn    // turns with tools of the grower's circle, from today on, ordered by day
	// ToldTurn is what the grower was told last, if the plot has turns; nil: nothing.
	ToldTurn *ToldTurn
}

const growerColumns = `g.id, g.phone, g.language, g.place_id, g.household, g.has_hours, g.seen_at,
	coalesce(g.circle_id, 0)`

const (
	dueGrowers = `SELECT ` + growerColumns + ` FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE NOT p.grower_id IN ` + idList + ` AND p.look_at <= $2 AND g.stopped_at IS NULL AND g.unlinked_at IS NULL`
	sqlDueGrowers = dueGrowers + ` ORDER BY p.look_at, p.id LIMIT CAST($3 AS BIGINT)`
	sqlDueShare   = dueGrowers + ` AND p.grower_id % $3 = $4 ORDER BY p.look_at, p.id LIMIT CAST($5 AS BIGINT)`
	sqlDuePlots   = `SELECT ` + plotColumns + ` FROM plot p
	WHERE p.grower_id IN ` + idList + ` AND p.look_at <= $2 ORDER BY p.grower_id, p.no`
	sqlDueTold = `SELECT t.plot_id, t.window_no, t.edition, t.kind, t.day FROM told t
	WHERE t.plot_id IN ` + idList + ` ORDER BY t.plot_id, t.day, t.window_no, t.edition, t.kind`
)

// DueGrowers returns at most limit growers who want texts and have due plots, each with all due plots. A plot is due
// from its LookAt on, until WriteRounds sets a later instant. The grower whose plot has been due longest is first. The
// number of queries does not depend on the number of growers. The growers of the list but are left out. Of several
// processes each first gets its share, so that they seldom plan the same growers, and then what others left over.
func (tx *Tx) DueGrowers(now int64, limit int, but ...DueGrower) ([]DueGrower, error) {
	var r roll
	var err error
	if share := tx.s.share.Load(); share != nil && share.of > 1 {
		r, err = tx.roll(sqlDueShare, ids(growerIDs(but)), now, share.of, share.number, limit)
	}
	if err == nil && len(r.growers) == 0 {
		r, err = tx.roll(sqlDueGrowers, ids(growerIDs(but)), now, limit)
	}
	if err == nil {
		err = tx.fillDue(&r, now)
	}
	return r.growers, fail("due", err)
}

// fillDue adds the due plots of r's growers, with the reminders that were sent about them.
func (tx *Tx) fillDue(r *roll, now int64) error {
	if len(r.growers) == 0 {
		return nil
	}
	if err := tx.fill(r, sqlDuePlots, args(ids(r.ids), now)); err != nil {
		return err
	}
	if err := tx.fillTold(r); err != nil {
		return err
	}
	return tx.fillTurns(r, now)
}

func growerIDs(growers []DueGrower) []int64 {
	list := make([]int64, len(growers))
	for i := range growers {
		list[i] = growers[i].ID
	}
	return list
}

// roll is a list of distinct growers, with the data that one query reads for all of these growers.
type roll struct {
	growers []DueGrower
	ids     []int64
	at      map[int64]int // the index in growers of each grower id
	placeOf []int64
	home    []engine.Household // households, without the field Worked
	paced   []int64            // ids of growers who logged hours of work
}

// roll reads the growers that a query selects, in the order of the query.
func (tx *Tx) roll(query string, a ...any) (roll, error) {
	r := roll{at: map[int64]int{}}
	err := tx.each(query, a, func(scan func(...any) error) error {
		var g DueGrower
		var place int64
		var household string
		var hasHours bool
		err := scan(&g.ID, &g.Phone, &g.Language, &place, &household, &hasHours, &g.seenAt, &g.Circle)
		if err != nil {
			return err
		}
		if _, ok := r.at[g.ID]; ok {
			return nil // the row is another plot of a grower who is already in the list
		}
		home, err := readHousehold(household)
		if err != nil {
			return err
		}
		r.at[g.ID] = len(r.growers)
		r.growers, r.ids = append(r.growers, g), append(r.ids, g.ID)
		r.placeOf, r.home = append(r.placeOf, place), append(r.home, home)
		if hasHours {
			r.paced = append(r.paced, g.ID)
		}
		return nil
	})
	return r, err
}

// fill adds the growers' places to r, and the plots that a query selects, with their seasons.
func (tx *Tx) fill(r *roll, plotsQuery string, a []any) error {
	places, err := tx.placesByID(r.placeOf)
	if err != nil {
		return err
	}
	plots, err := tx.plotRows(plotsQuery, a...)
	if err != nil {
		return err
	}
	list := make([]DuePlot, len(plots))
	if err := tx.seasons(plots, func(i int) (*engine.Season, *readyPlace) {
		return &list[i].Season, places[r.placeOf[r.at[plots[i].growerID]]]
	}); err != nil {
		return err
	}
	worked := map[int64][]workedRow{}
	if len(r.paced) > 0 {
		if worked, err = tx.readWorked(r.paced...); err != nil {
			return err
		}
	}
	for i := range r.growers {
		p := places[r.placeOf[i]]
		r.growers[i].Zone, r.growers[i].MorningHour = p.loc, p.MorningHour
	}
	for i := range plots {
		p, d := &plots[i], &list[i]
		g := r.at[p.growerID]
		d.ID, d.No, d.LookAt = p.id, p.no, p.lookAt
		d.Season.Home = r.home[g]
		d.Season.Home.Herbicide = p.herbicide
		d.Season.Home.Worked = workedElsewhere(worked[p.growerID], p.id)
		// Rows are ordered by grower, so the plots of one grower are adjacent.
		first := i - len(r.growers[g].Plots)
		r.growers[g].Plots = list[first : i+1 : i+1]
	}
	return nil
}

// fillTold adds the reminders that were sent about each plot.
func (tx *Tx) fillTold(r *roll) error {
	var plots []int64
	for _, g := range r.growers {
		for _, p := range g.Plots {
			plots = append(plots, p.ID)
		}
	}
	told, err := tx.readTold(ids(plots))
	for i := range r.growers {
		for j := range r.growers[i].Plots {
			p := &r.growers[i].Plots[j]
			p.Told = told[p.ID]
		}
	}
	return err
}

// placesByID reads the places with the ids in list. An id may be in list more than once.
func (tx *Tx) placesByID(list []int64) (map[int64]*readyPlace, error) {
	list = slices.Compact(slices.Sorted(slices.Values(list)))
	places := map[int64]*readyPlace{}
	ready, err := tx.readyPlaces(sqlPlacesByID, ids(list))
	for _, p := range ready {
		places[p.ID] = p
	}
	return places, err
}

// readTold returns the reminders that were sent about plots. The keys of the map are plot ids.
func (tx *Tx) readTold(plots string) (map[int64][]engine.Told, error) {
	return grouped(tx, sqlDueTold, args(plots), func(t *engine.Told) []any {
		return args(&t.Window, &t.Edition, &t.Kind, &t.On)
	})
}
