package desk

import (
	"strconv"

	"rowbell/store"
)

func (d *Desk) trailRoutes() []route {
	return []route{{"GET /desk/trail", call, nil, d.trailPage}}
}

// pageSize is how many rows a list has.
const pageSize = 50

type trailView struct {
	Entries []store.TrailEntry
	Older   int64 // the id before which the next page begins; 0: there is none
}

func (d *Desk) trailPage(r *request) error {
	before, _ := strconv.ParseInt(r.FormValue("before"), 10, 64) // 0, from the newest on, if it is no number
	f := store.TrailFilter{Before: before, NoPlace: r.may(run)}
	var v trailView
	if err := r.view(func(tx *store.Tx) (err error) {
		v.Entries, err = tx.TrailEntries(r.scope, f, pageSize+1)
		return err
	}); err != nil {
		return err
	}
	if len(v.Entries) > pageSize {
		v.Entries = v.Entries[:pageSize]
		v.Older = v.Entries[pageSize-1].ID
	}
	return r.page("trail", "Trail", v)
}
