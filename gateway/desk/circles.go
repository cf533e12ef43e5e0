package desk

import (
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine/circle"
	"rowbell/store"
)

func (d *Desk) circleRoutes() []route {
	return []route{
		{"GET /desk/circles", see, nil, d.circles},
		{"GET /desk/circle/{circle}", see, circleInPath, d.circlePage},
		{"GET /desk/circle/{circle}/why", see, circleInPath, d.circleWhy},
		{"GET /desk/circle/{circle}/entry/{entry}", call, circleInPath, d.entryPage},
		{"POST /desk/circle/{circle}/entry/{entry}", change, circleInPath, d.takeBackEntry},
		{"POST /desk/circle/{circle}/tool", change, circleInPath, d.mendTool},
		{"POST /desk/circle/{circle}/wish", change, circleInPath, d.wish},
	}
}

type circlesView struct {
	Number, Place field
	Lines         []store.CircleLine
	Next          string // query of the next page; "" = there is none
}

// circles lists the circles in scope, by place, and finds one by its number.
func (d *Desk) circles(r *request) error {
	r.form = newForm(r.URL.Query())
	if number := r.form.text("number"); number != "" {
		id, err := r.findCircle(number)
		switch {
		case err != nil:
			return err
		case id != 0:
			return r.redirect(fmt.Sprint("/desk/circle/", id))
		}
		r.form.wrong("number", "There is no circle with this number at your places.")
	}
	scope := r.scope
	pairs := []string{"", "all places"}
	for _, p := range r.places {
		id := strconv.FormatInt(p.ID, 10)
		pairs = append(pairs, id, p.Name)
		if r.form.Get("place") == id {
			scope = store.Scope{p.ID}
		}
	}
	v := circlesView{Number: r.form.Field("number", "Number of a circle", ""),
		Place: r.form.Choice("place", "Place", "", pairs...)}
	if err := r.view(func(tx *store.Tx) (err error) {
		v.Lines, err = tx.Circles(scope, circlesAfter(r.form.Get("after")), pageSize+1, r.now.Unix())
		return err
	}); err != nil {
		return err
	}
	if len(v.Lines) > pageSize {
		v.Lines = v.Lines[:pageSize]
		last := v.Lines[pageSize-1]
		v.Next = fmt.Sprintf("?place=%s&after=%d.%d", escapePath(r.form.Get("place")), last.PlaceID, last.ID)
	}
	if !r.form.ok() {
		return r.again("circles", "Circles", v)
	}
	return r.page("circles", "Circles", v)
}

// circlesAfter reads where the list goes on: place.circle. Anything else is the beginning.
func circlesAfter(s string) (after store.CirclePage) {
	place, id, _ := strings.Cut(s, ".")
	var err1, err2 error
	after.Place, err1 = strconv.ParseInt(place, 10, 64)
	after.Circle, err2 = strconv.ParseInt(id, 10, 64)
	if err1 != nil || err2 != nil {
		return store.CirclePage{}
	}
	return after
}

// findCircle returns the id of a circle in scope by its number as staff type it; 0 if there is none.
func (r *request) findCircle(typed string) (id int64, err error) {
	number, err := strconv.Atoi(strings.ReplaceAll(typed, " ", ""))
	if err != nil || !circle.ValidNumber(number) {
		return 0, nil
	}
	err = r.view(func(tx *store.Tx) (err error) {
		id, err = tx.FindCircle(r.scope, number)
		return err
	})
	return id, err
}
