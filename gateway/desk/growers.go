package desk

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/store"
)

func (d *Desk) growerRoutes() []route {
	return []route{
		{"GET /desk/growers", see, nil, d.growersPage},
		{"GET /desk/growers/new", change, nil, d.newGrowerPage},
		{"POST /desk/growers/new", change, nil, d.addGrower},
		{"GET /desk/grower/{grower}", see, growerInPath, d.growerPage},
		{"GET /desk/grower/{grower}/change", change, growerInPath, d.changeGrowerPage},
		{"POST /desk/grower/{grower}/change", change, growerInPath, d.changeGrower},
		{"GET /desk/grower/{grower}/move", change, growerInPath, d.moveGrowerPage},
		{"POST /desk/grower/{grower}/move", change, growerInPath, d.moveGrower},
		{"GET /desk/grower/{grower}/erase", change, growerInPath, d.eraseGrowerPage},
		{"POST /desk/grower/{grower}/erase", change, growerInPath, d.eraseGrower},
		{"POST /desk/grower/{grower}/texts", change, growerInPath, d.setTexts},
		{"POST /desk/grower/{grower}/number", change, growerInPath, d.setNumber},
		{"GET /desk/grower/{grower}/plot", change, growerInPath, d.newPlotPage},
		{"POST /desk/grower/{grower}/plot", change, growerInPath, d.addPlot},
	}
}

// stateLabels are the states by which a list can be cut, in the words of the page.
var stateLabels = map[store.GrowerState]string{
	store.StateWindow: "window open, as told", store.StateMissed: "window missed", store.StateNoPlot: "no open plot",
	store.StateStopped: "wants no texts", store.StateUnreachable: "number not reached",
	store.StateNoNumber: "no number", store.StateSilent: "not heard of for 90 days",
}

type growersView struct {
	Query        url.Values
	Place, State field
	Several      bool // the reader has several places
	Lines        []growerRow
	Next         string // address of the next page; "": there is none
	Part         bool   // not all growers were looked at
	Filtered     bool
}

// growerRow is a grower in the list.
type growerRow struct {
	store.GrowerLine
	Plots []plotRow
	Flags []string
}

// plotRow is an open plot in the list.
type plotRow struct {
	ID   int64
	Name string
	Plan planWords
}

func (d *Desk) growersPage(r *request) error {
	q := r.URL.Query()
	f := store.GrowerFilter{Limit: pageSize, InCircle: q.Get("circle") == "any"}
	f.Circle, _ = strconv.Atoi(q.Get("circle"))
	f.NotHeardOf, _ = strconv.Atoi(q.Get("silent"))
	f.After, _ = strconv.ParseInt(q.Get("after"), 10, 64)
	f.State, _ = store.ParseGrowerState(q.Get("state")) // an unknown one selects all
	if r.may(call) {                                    // otherwise digits could be guessed one after the other
		f.Text = q.Get("q")
	}
	f.Circle, f.NotHeardOf, f.After = max(f.Circle, 0), max(f.NotHeardOf, 0), max(f.After, 0)
	scope := r.scope
	if i := slices.IndexFunc(r.places, func(p store.Place) bool { return fmt.Sprint(p.ID) == q.Get("place") }); i >= 0 {
		scope = store.Scope{r.places[i].ID}
	}
	var page store.GrowerPage
	if err := r.view(func(tx *store.Tx) (err error) {
		page, err = tx.FindGrowers(scope, f, r.now.Unix())
		return err
	}); err != nil {
		return err
	}
	all := store.GrowerFilter{Limit: f.Limit, After: f.After}
	v := growersView{Query: q, Several: len(r.places) > 1, Part: page.Part, Place: r.placeFilter(q),
		State: stateFilter(q), Filtered: f != all || len(scope) < len(r.scope)}
	for _, g := range page.Growers {
		v.Lines = append(v.Lines, r.growerRow(g))
	}
	if page.After != 0 {
		q.Set("after", fmt.Sprint(page.After))
		v.Next = "/desk/growers?" + q.Encode()
	}
	return r.page("growers", "Growers and plots", v)
}

func (r *request) placeFilter(q url.Values) field {
	pairs := []string{"", "all places"}
	for _, p := range r.places {
		pairs = append(pairs, fmt.Sprint(p.ID), p.Name)
	}
	return newForm(q).Choice("place", "Place", "", pairs...)
}

func stateFilter(q url.Values) field {
	pairs := []string{"", "any"}
	for _, s := range store.GrowerStates() {
		pairs = append(pairs, s.String(), stateLabels[s])
	}
	return newForm(q).Choice("state", "State", "", pairs...)
}

// growerRow returns a grower with what there is to know at a glance.
func (r *request) growerRow(g store.GrowerLine) growerRow {
	row := growerRow{GrowerLine: g, Flags: r.flags(g)}
	for _, p := range g.DueGrower.Plots {
		row.Plots = append(row.Plots, plotRow{p.ID, plotName(p.No, p.Season.Plot), wordsOf(p.Season, g.Today)})
	}
	return row
}

// flags says what keeps a grower from being reached.
func (r *request) flags(g store.GrowerLine) (list []string) {
	if g.StoppedAt != 0 {
		list = append(list, "wants no texts")
	}
	if g.UnreachableAt != 0 {
		list = append(list, "number not reached")
	}
	if g.UnlinkedAt != 0 {
		list = append(list, "no number")
	}
	if g.Silent(r.now.Unix()) {
		list = append(list, "not heard of since "+longDay(engine.DayOf(r.timeAt(g.SeenAt), g.Zone)))
	}
	return list
}

// plotName returns how staff call a plot.
func plotName(no int, p engine.Plot) string {
	if p.Label == "" {
		return fmt.Sprint("plot ", no)
	}
	return fmt.Sprint("plot ", no, " ", p.Label)
}

// calledBy returns the name of a grower, or the number, as the reader may see them.
func (r *request) calledBy(g store.GrowerLine) string {
	if g.Name != "" && r.may(call) {
		return g.Name
	}
	return r.number(g.Phone)
}
