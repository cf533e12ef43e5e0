package store

import (
	"time"

	"rowbell/engine"
)

// DueGrower is a grower with plots that the bell should look at.
type DueGrower struct {
	ID          int64
	Phone       Phone
	Language    string
	Zone        *time.Location
	MorningHour int
	Plots       []DuePlot // by number; all of the grower's that are due
}

// DuePlot is one of them.
type DuePlot struct {
	ID     int64
	No     int
	LookAt int64 // the instant it was due: a morning, or when the grower changed it
	Season engine.Season
	Told   []engine.Told // all that was told of this plot, in order of day
}

const (
	sqlDueGrowers = `SELECT g.id, g.phone, g.language, g.place_id FROM plot p JOIN grower g ON g.id = p.grower_id
	WHERE p.look_at <= $1 AND g.stopped_at IS NULL ORDER BY p.look_at, p.id LIMIT $2`
	sqlDuePlots = `SELECT ` + plotColumns + ` FROM plot p
	WHERE p.grower_id IN ` + idList + ` AND p.look_at <= $2 ORDER BY p.grower_id, p.no`
	sqlDuePasses = `SELECT ` + passColumns + ` FROM pass x
	WHERE x.plot_id IN ` + idList + ` ORDER BY x.plot_id, x.day, x.seq`
	sqlDueSightings = `SELECT ` + sightingColumns + ` FROM sighting x
	WHERE x.plot_id IN ` + idList + ` ORDER BY x.plot_id, x.day, x.seq`
	sqlDueTold = `SELECT t.plot_id, t.window_no, t.edition, t.kind, t.day FROM told t
	WHERE t.plot_id IN ` + idList + ` ORDER BY t.plot_id, t.day, t.window_no, t.edition, t.kind`
)

// DueGrowers returns growers, who want texts, with plots whose look is due:
// the longest waiting first, up to limit growers, each with all of their due
// plots. It is a handful of queries however many they are. A plot stays due
// until SetLook postpones it.
func (tx *Tx) DueGrowers(now int64, limit int) ([]DueGrower, error) {
	list, err := tx.dueGrowers(now, limit)
	return list, fail("due", err)
}

func (tx *Tx) dueGrowers(now int64, limit int) ([]DueGrower, error) {
	var growers []DueGrower
	var growerIDs, placeIDs []int64
	at := map[int64]int{} // grower id -> index
	var placeOf []int64
	err := tx.each(sqlDueGrowers, args(now, limit), func(scan func(...any) error) error {
		var g DueGrower
		var place int64
		var phone string
		if err := scan(&g.ID, &phone, &g.Language, &place); err != nil {
			return err
		}
		if _, ok := at[g.ID]; ok {
			return nil // another plot of the same grower
		}
		g.Phone = Phone(phone)
		at[g.ID] = len(growers)
		growers, growerIDs, placeOf = append(growers, g), append(growerIDs, g.ID), append(placeOf, place)
		return nil
	})
	if err != nil || len(growers) == 0 {
		return nil, err
	}
	seen := map[int64]bool{}
	for _, id := range placeOf {
		if !seen[id] {
			seen[id] = true
			placeIDs = append(placeIDs, id)
		}
	}
	places, err := tx.placesByID(placeIDs)
	if err != nil {
		return nil, err
	}
	plots, err := tx.duePlots(growerIDs, now)
	if err != nil {
		return nil, err
	}
	plotIDs := make([]int64, len(plots))
	for i, r := range plots {
		plotIDs[i] = r.id
	}
	list := ids(plotIDs)
	passes, err := tx.readPasses(sqlDuePasses, args(list))
	if err != nil {
		return nil, err
	}
	sightings, err := tx.readSightings(sqlDueSightings, args(list))
	if err != nil {
		return nil, err
	}
	told, err := tx.readTold(list)
	if err != nil {
		return nil, err
	}
	for i := range growers {
		p := places[placeOf[i]]
		growers[i].Zone, growers[i].MorningHour = p.loc, p.MorningHour
	}
	for i := range plots {
		r := &plots[i]
		g := at[r.growerID]
		d := DuePlot{ID: r.id, No: r.no, LookAt: r.lookAt, Season: season(r, places[placeOf[g]]), Told: told[r.id]}
		d.Season.Passes, d.Season.Sightings = passes[r.id], sightings[r.id]
		growers[g].Plots = append(growers[g].Plots, d)
	}
	return growers, nil
}

func (tx *Tx) placesByID(list []int64) (map[int64]*readyPlace, error) {
	places := map[int64]*readyPlace{}
	err := tx.each(sqlPlacesByID, args(ids(list)), func(scan func(...any) error) error {
		var row placeRow
		if err := scan(row.into()...); err != nil {
			return err
		}
		p, err := tx.s.places.place(row)
		places[row.id] = p
		return err
	})
	return places, err
}

func (tx *Tx) duePlots(growers []int64, now int64) ([]plotRow, error) {
	var plots []plotRow
	err := tx.each(sqlDuePlots, args(ids(growers), now), func(scan func(...any) error) error {
		var r plotRow
		err := r.scan(scan)
		plots = append(plots, r)
		return err
	})
	return plots, err
}

func (tx *Tx) readTold(plots string) (map[int64][]engine.Told, error) {
	told := map[int64][]engine.Told{}
	err := tx.each(sqlDueTold, args(plots), func(scan func(...any) error) error {
		var plot, window, edition, kind, day int64
		err := scan(&plot, &window, &edition, &kind, &day)
		told[plot] = append(told[plot], engine.Told{Kind: engine.Kind(kind), Window: int(window), Edition: int(edition), On: engine.Day(day)})
		return err
	})
	return told, err
}

const (
	// Only a plot that is still watched: it may have been closed, or its
	// grower may have stopped, since it was read.
	sqlSetLook = `UPDATE plot SET look_at = $1 WHERE id = $2 AND look_at IS NOT NULL`
	sqlTell    = `INSERT INTO told (plot_id, window_no, edition, kind, day) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (plot_id, window_no, edition, kind) DO UPDATE SET day = excluded.day WHERE told.day < excluded.day`
)

// SetLook has the bell look at a plot next at this instant; 0 is never.
func (tx *Tx) SetLook(plotID, at int64) error {
	_, err := tx.exec(sqlSetLook, orNull(at), plotID)
	return fail("set look", err)
}

// Tell notes what a plot's grower is told. It is not fresh if that was said
// before, on that day or a later one.
func (tx *Tx) Tell(plotID int64, t engine.Told) (fresh bool, err error) {
	n, err := tx.exec(sqlTell, plotID, t.Window, t.Edition, int64(t.Kind), int64(t.On))
	return n > 0, fail("tell", err)
}
