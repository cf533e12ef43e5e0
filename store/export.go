package store

import (
	"database/sql"
	"encoding/json"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

const (
	sqlExportGrowers = `SELECT g.id, g.phone, g.name, g.note, g.language, coalesce(g.stopped_at, 0), g.consent_at,
		t.body, g.consent_channel, g.household
	FROM grower g LEFT JOIN consent_text t ON t.version = g.consent_text
	WHERE g.place_id = ` + asID + ` AND g.id > $2 AND g.unlinked_at IS NULL ORDER BY g.id LIMIT CAST($3 AS BIGINT)`
	sqlExportPlots = `SELECT ` + plotColumns + ` FROM plot p WHERE p.grower_id IN ` + idList + `
	ORDER BY p.grower_id, p.id`
	sqlExportTexts = `SELECT ` + messageColumns + ` FROM message WHERE grower_id IN ` + idList + `
	ORDER BY grower_id, id`
)

// exported is a grower of a page of an export.
type exported struct {
	id    int64
	phone string
	importState
}

func (tx *Tx) exportPage(placeID, after int64, limit int) (page []exported, list []int64, last int64, err error) {
	places, err := tx.placesByID([]int64{placeID})
	switch {
	case err != nil:
		return nil, nil, 0, err
	case places[placeID] == nil:
		return nil, nil, 0, ErrNoPlace
	}
	err = tx.each(sqlExportGrowers, args(placeID, after, limit), func(scan func(...any) error) error {
		var body sql.NullString
		var home string
		x := exported{importState: importState{place: places[placeID]}}
		err := scan(&x.id, &x.phone, &x.name, &x.note, &x.language, &x.stoppedAt, &x.consentAt, &body,
			&x.channel, &home)
		if err == nil && home != "" {
			err = json.Unmarshal([]byte(home), &x.household)
		}
		x.body, x.importState.id = body.String, x.id
		page, list = append(page, x), append(list, x.id)
		return err
	})
	if n := len(list); n == limit && n > 0 {
		last = list[n-1]
	}
	return page, list, last, err
}

// ExportGrowers returns growers of a place in the form of a file that can be imported: a row for each grower or, with
// plots, a row for each open plot and for each grower without one. It looks at the growers whose ids follow the id
// after, at most limit of them; the next page follows the id last, and 0 means that there is none. Growers without a
// phone number are left out.
func (tx *Tx) ExportGrowers(placeID, after int64, limit int, plots bool) (
	list []growercsv.Values, last int64, err error,
) {
	page, growers, last, err := tx.exportPage(placeID, after, limit)
	var open map[int64][]plotRow
	if err == nil && plots && len(growers) > 0 {
		open, err = tx.plotsOf(sqlOpenPlotsOf, growers)
	}
	for _, x := range page {
		for i := range open[x.id] {
			list = append(list, x.values(x.phone, &open[x.id][i]))
		}
		if len(open[x.id]) == 0 {
			list = append(list, x.values(x.phone, nil))
		}
	}
	return list, last, fail("export", err)
}

func (tx *Tx) plotsOf(query string, growers []int64) (map[int64][]plotRow, error) {
	rows, err := tx.plotRows(query, ids(growers))
	of := map[int64][]plotRow{}
	for _, r := range rows {
		of[r.growerID] = append(of[r.growerID], r)
	}
	return of, err
}

// ExportedPass is a pass (a weeding) with its plot, which may be closed.
type ExportedPass struct {
	Phone    Phone
	No       int
	Label    string
	Planted  engine.Day
	ClosedOn engine.Day // 0: the plot is open
	engine.Pass
}

// ExportPasses returns the passes on all plots of a page of growers, see ExportGrowers.
func (tx *Tx) ExportPasses(placeID, after int64, limit int) (list []ExportedPass, last int64, err error) {
	page, growers, last, err := tx.exportPage(placeID, after, limit)
	if err != nil || len(growers) == 0 {
		return nil, last, fail("export", err)
	}
	plots, err := tx.plotsOf(sqlExportPlots, growers)
	if err != nil {
		return nil, 0, fail("export", err)
	}
	var all []int64
	for _, rows := range plots {
		for _, r := range rows {
			all = append(all, r.id)
		}
	}
	h, err := tx.history(sqlHistoryOf, ids(all))
	if err != nil {
		return nil, 0, fail("export", err)
	}
	for _, x := range page {
		for _, r := range plots[x.id] {
			for _, pass := range h.passes[r.id] {
				list = append(list, ExportedPass{Phone(x.phone), r.no, r.plot.Label, r.plot.Planted, r.closed, pass})
			}
		}
	}
	return list, last, nil
}

// ExportTexts returns the texts to a page of growers, see ExportGrowers.
func (tx *Tx) ExportTexts(placeID, after int64, limit int) (list []Message, last int64, err error) {
	_, growers, last, err := tx.exportPage(placeID, after, limit)
	if err == nil && len(growers) > 0 {
		list, err = tx.messages(sqlExportTexts, ids(growers))
	}
	return list, last, fail("export", err)
}
