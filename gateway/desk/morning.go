package desk

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/gateway/desk/say"
	"rowbell/store"
)

func (d *Desk) morningRoutes() []route {
	return []route{
		{"GET /desk/{$}", see, nil, d.morning},
		{"GET /desk/plot/{plot}/contact", change, watchedInPath, d.contactPage},
		{"POST /desk/plot/{plot}/contact", change, watchedInPath, d.contact},
		{"POST /desk/plot/{plot}/contact/back", change, watchedInPath, d.takeBack},
	}
}

// watchedInPath loads the open plot whose id is {plot}, with what staff should know of it.
func watchedInPath(r *request) error {
	id, err := r.idInPath("plot")
	if err != nil {
		return err
	}
	var open bool
	err = r.view(func(tx *store.Tx) (err error) {
		r.watched, open, err = tx.WatchedPlot(id, r.now.Unix())
		return err
	})
	if err == nil && !(open && r.scope.Has(r.watched.PlaceID)) {
		err = errNotFound
	}
	return err
}

// morningView is the list of the morning.
type morningView struct {
	All     morningCount
	Reasons []morningCount
	Places  []morningCount // empty if the reader has one place
	Plots   []morningLine
	Asked   string // the reason that was chosen; "" for all
	More    string // path of the next page; "" if there is none
	Place   store.Place
	Later   bool // this is not the first page
	Reached []reachedLine
}

// reachedLine is a plot about which staff reached the grower today, which may be taken back.
type reachedLine struct {
	store.ReachedLately
	Person string // what staff call the grower; "" if they gave no name
}

// Name returns the number of the plot and its label.
func (l reachedLine) Name() string { return morningName(l.No, l.Label) }

// reachedShown is how many plots the page has from which a contact may be taken back.
const reachedShown = 10

// morningCount is a number of plots that is a link to them.
type morningCount struct {
	Label, Path string
	N           int
	Current     bool
}

// morningLine is a plot that needs somebody.
type morningLine struct {
	store.Watched
	engine.Attention
	Place  string // "" if the reader has one place
	Person string // what staff call the grower; "" if they gave no name, or for a reader who may not see names
}

// Name returns the number of the plot and its label.
func (l morningLine) Name() string { return morningName(l.No, l.Season.Plot.Label) }

func morningName(no int, label string) string {
	return strings.TrimSpace("Plot " + strconv.Itoa(no) + " " + label)
}

// Why returns the reasons in few words.
func (l morningLine) Why() string { return strings.Join(say.Why(l.Attention), "; ") }

// Say returns what to say to the grower.
func (l morningLine) Say() string { return say.What(l.Attention) }

// morning shows whom to call or visit: counts as links, and a page of plots. The plots that are shown are planned anew,
// so that what the page says of them is true now.
func (d *Desk) morning(r *request) error {
	q := r.URL.Query()
	reasons := engine.AllReasons
	v := morningView{}
	if reason, ok := engine.ParseReason(q.Get("why")); ok {
		reasons, v.Asked = 1<<reason, say.Label(reason)
	}
	scope := r.scope
	for _, p := range r.places {
		if len(r.places) > 1 && strconv.FormatInt(p.ID, 10) == q.Get("place") {
			scope, v.Place = store.Scope{p.ID}, p
		}
	}
	after, err := morningKey(q.Get("after"))
	if err != nil {
		return errNotFound
	}
	v.Later = after != nil
	var rows []store.MorningRow
	err = r.view(func(tx *store.Tx) error {
		counts, err := tx.MorningCounts(scope)
		if err != nil {
			return err
		}
		v.counts(r, q, counts)
		if rows, err = tx.Morning(scope, reasons, after, pageSize+1); err != nil {
			return err
		}
		v.Plots, err = r.plan(tx, rows[:min(len(rows), pageSize)], reasons)
		if err == nil && r.may(change) && !v.Later {
			v.Reached, err = r.reachedToday(tx, scope)
		}
		return err
	})
	if err != nil {
		return err
	}
	if len(rows) > pageSize {
		v.More = morningPath(q, "after", morningText(rows[pageSize-1].MorningKey))
	}
	return r.page("morning", "This morning", v)
}

// plan plans plots of the list anew. A plot that needs nobody any more is left out.
func (r *request) plan(tx *store.Tx, rows []store.MorningRow, reasons engine.Reasons) ([]morningLine, error) {
	growers := make([]int64, len(rows))
	for i, row := range rows {
		growers[i] = row.GrowerID
	}
	list, err := tx.WatchedOf(growers, r.now.Unix(), 0)
	if err != nil {
		return nil, err
	}
	var names map[int64]string
	if r.may(call) {
		if names, err = tx.GrowerNames(growers); err != nil {
			return nil, err
		}
	}
	plots := map[int64]store.Watched{}
	for _, w := range list {
		plots[w.PlotID] = w
	}
	var lines []morningLine
	for _, row := range rows {
		w, open := plots[row.PlotID]
		if !open || !r.scope.Has(w.PlaceID) {
			continue
		}
		a, err := w.Attention()
		if err != nil || a.Reasons&reasons == 0 { // the log of upkeep names plots that cannot be planned
			continue
		}
		line := morningLine{Watched: w, Attention: a, Person: names[w.GrowerID]}
		if len(r.places) > 1 {
			line.Place = r.placeName(w.PlaceID)
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// reachedToday returns about which plots of the scope staff last reached growers today.
func (r *request) reachedToday(tx *store.Tx, scope store.Scope) (lines []reachedLine, err error) {
	list, err := tx.ReachedLately(scope, r.now.Add(-24*time.Hour).Unix(), reachedShown)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	growers := make([]int64, len(list))
	for i, c := range list {
		growers[i] = c.GrowerID
	}
	names, err := tx.GrowerNames(growers)
	for _, c := range list {
		if c.On == engine.DayOf(r.now, r.zone(c.PlaceID)) {
			lines = append(lines, reachedLine{c, names[c.GrowerID]})
		}
	}
	return lines, err
}

// counts fills in the counts with their links.
func (v *morningView) counts(r *request, q url.Values, c store.MorningCounts) {
	v.All = morningCount{"All", morningPath(q, "why", ""), c.All, v.Asked == ""}
	for _, reason := range engine.AllReasons.List() {
		if n := c.Of[reason]; n > 0 || q.Get("why") == reason.String() {
			v.Reasons = append(v.Reasons, morningCount{say.Label(reason), morningPath(q, "why", reason.String()), n,
				q.Get("why") == reason.String()})
		}
	}
	if len(r.places) < 2 {
		return
	}
	v.Places = []morningCount{{Label: "All places", Path: morningPath(q, "place", ""), Current: v.Place.ID == 0}}
	for _, p := range r.places {
		v.Places = append(v.Places, morningCount{Label: p.Name, Path: morningPath(q, "place",
			strconv.FormatInt(p.ID, 10)), Current: p.ID == v.Place.ID})
	}
}

// morningPath returns the path of the list with one value of its query changed. Only the next page has a key.
func morningPath(q url.Values, name, value string) string {
	next := url.Values{}
	for _, n := range []string{"why", "place"} {
		if q.Get(n) != "" {
			next.Set(n, q.Get(n))
		}
	}
	if next.Set(name, value); value == "" {
		next.Del(name)
	}
	if len(next) == 0 {
		return "/desk/"
	}
	return "/desk/?" + next.Encode()
}

// morningText writes a key of the list for a path; morningKey reads it.
func morningText(k store.MorningKey) string {
	later := int64(0)
	if k.Later {
		later = 1
	}
	return strconv.FormatInt(later, 10) + "." + strconv.FormatInt(k.Rank, 10) + "." + strconv.FormatInt(k.PlotID, 10)
}

// morningKey reads a key; it returns nil for "".
func morningKey(text string) (*store.MorningKey, error) {
	if text == "" {
		return nil, nil
	}
	parts := strings.Split(text, ".")
	if len(parts) != 3 || parts[0] != "0" && parts[0] != "1" {
		return nil, strconv.ErrSyntax
	}
	rank, err := strconv.ParseInt(parts[1], 10, 64)
	if err != nil {
		return nil, err
	}
	plot, err := strconv.ParseInt(parts[2], 10, 64)
	if err != nil {
		return nil, err
	}
	return &store.MorningKey{Later: parts[0] == "1", Rank: rank, PlotID: plot}, nil
}

// Back returns the page of the desk from which the reader came.
func (v *view) Back() string { return inside(v.r.FormValue("back"), "/desk/") }
