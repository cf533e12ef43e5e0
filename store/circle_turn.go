package store

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// CircleTurn is a day of a tool with a member, for a plot. If a guest has hired the tool, Plot and PlotNo are 0.
type CircleTurn struct {
	Tool, Member, Plot int64 // ids; Member is that of a circle.Member
	PlotNo             int
	Day                engine.Day
	Window             engine.Window // for which the turn was made; only its number, edition and days
	Late               bool          // the day is after the window
}

// same reports whether the row of the turn says the same.
func (t CircleTurn) same(other CircleTurn) bool { return t.stored() == other.stored() }

// stored returns what the table circle_turn has of the turn.
func (t CircleTurn) stored() CircleTurn {
	w := t.Window
	t.Window = engine.Window{Number: w.Number, Edition: w.Edition, Opens: w.Opens, Best: w.Best, Closes: w.Closes}
	t.PlotNo = 0
	return t
}

// TurnDay is a day of a tool.
type TurnDay struct {
	Tool int64      `json:"tool"`
	Day  engine.Day `json:"day"`
}

// ToldTurn is what the grower of a plot was told last of its turns. It stays when the turns are replaced.
type ToldTurn struct {
	On        engine.Day `json:"on"`
	Window    int        `json:"window"`
	Turns     []TurnDay  `json:"turns,omitempty"` // empty: that there is no turn
	FetchFrom int64      `json:"fetch,omitempty"` // circle.Members that the text named
	HandTo    int64      `json:"hand,omitempty"`
	// Agreed says that two growers exchanged their turns: a plan keeps these days, also if others would be better.
	Agreed bool `json:"agreed,omitempty"`
	// Changes are the days of texts about changed turns of this plot in the week before On. Follow sets them.
	Changes []engine.Day `json:"changes,omitempty"`
}

// has reports whether the grower was told this day of a tool.
func (t ToldTurn) has(tool int64, day engine.Day) bool {
	return slices.Contains(t.Turns, TurnDay{tool, day})
}

const (
	turnColumns = `t.tool_id, t.member_id, coalesce(t.plot_id, 0), coalesce(p.no, 0), t.day, t.window_no, t.edition,
		t.opens, t.best, t.closes, t.late`
	sqlTurns = `SELECT k.circle_id, ` + turnColumns + ` FROM circle_tool k JOIN circle_turn t ON t.tool_id = k.id
	LEFT JOIN plot p ON p.id = t.plot_id WHERE k.circle_id IN ` + idList + ` AND t.day >= $2 ORDER BY t.tool_id, t.day`
	sqlToldTurns = `SELECT d.plot_id, d.body FROM circle_told d WHERE d.plot_id IN ` + idList
)

func (t *CircleTurn) into() []any {
	w := &t.Window
	return args(&t.Tool, &t.Member, &t.Plot, &t.PlotNo, &t.Day, &w.Number, &w.Edition, &w.Opens, &w.Best, &w.Closes,
		&t.Late)
}

// turns returns the turns of circles from a day on, by tool, then by day.
func (tx *Tx) turns(from engine.Day, circles ...int64) (map[int64][]CircleTurn, error) {
	all, err := grouped(tx, sqlTurns, args(ids(circles), from), (*CircleTurn).into)
	return all, fail("turns", err)
}

// toldTurns returns what the growers of plots were told of their turns.
func (tx *Tx) toldTurns(plots []int64) (map[int64]ToldTurn, error) {
	all := map[int64]ToldTurn{}
	if len(plots) == 0 {
		return all, nil
	}
	err := tx.each(sqlToldTurns, args(ids(plots)), func(scan func(...any) error) error {
		var plot int64
		var body string
		err := scan(&plot, &body)
		var t ToldTurn
		if err == nil {
			err = json.Unmarshal([]byte(body), &t)
		}
		all[plot] = t
		return err
	})
	return all, fail("told turns", err)
}

// plotsOf returns the plots of turns.
func plotsOf(turns []CircleTurn) (plots []int64) {
	for _, t := range turns {
		if t.Plot != 0 && !slices.Contains(plots, t.Plot) {
			plots = append(plots, t.Plot)
		}
	}
	return plots
}

// heldTurn is a run of days of a tool, with its plot.
type heldTurn struct {
	circle.HeldTurn
	plot int64 // 0 for a guest
}

// heldTurns joins turns of one circle, by tool and day, to runs of days. Runs that end before the day from are left
// out, but who had the tool before, and who has it next, is seen from all turns.
func heldTurns(turns []CircleTurn, told map[int64]ToldTurn, from engine.Day) []heldTurn {
	var runs []heldTurn
	for i, t := range turns {
		isTold := t.Plot == 0 || told[t.Plot].has(t.Tool, t.Day)
		if i > 0 {
			last, was := &runs[len(runs)-1], turns[i-1]
			if was.Tool == t.Tool && was.Member == t.Member && was.Plot == t.Plot && was.Day+1 == t.Day {
				last.To, last.Late, last.Told = t.Day, last.Late || t.Late, last.Told && isTold
				continue
			}
		}
		runs = append(runs, heldTurn{circle.HeldTurn{Tool: t.Tool, Member: t.Member, PlotNo: t.PlotNo, From: t.Day,
			To: t.Day, Window: t.Window, Late: t.Late, Told: isTold}, t.Plot})
	}
	for i := 1; i < len(runs); i++ {
		a, b := &runs[i-1], &runs[i]
		if a.Tool == b.Tool && b.From-a.To <= circle.HoldDays {
			a.HandTo, b.FetchFrom = b.Member, a.Member
		}
	}
	runs = slices.DeleteFunc(runs, func(t heldTurn) bool { return t.To < from })
	slices.SortStableFunc(runs, func(a, b heldTurn) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Tool, b.Tool))
	})
	return runs
}

const (
	sqlDropTurn = `DELETE FROM circle_turn WHERE tool_id = $1 AND day = $2`
	sqlPutTurn  = `INSERT INTO circle_turn (tool_id, day, member_id, plot_id, window_no, edition, opens, best, closes,
		late)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
	ON CONFLICT (tool_id, day) DO UPDATE SET member_id = excluded.member_id, plot_id = excluded.plot_id,
		window_no = excluded.window_no, edition = excluded.edition, opens = excluded.opens, best = excluded.best,
		closes = excluded.closes, late = excluded.late`
	replaceToldTurn = `ON CONFLICT (plot_id) DO UPDATE SET body = excluded.body`
	sqlPutToldTurn  = `INSERT INTO circle_told (plot_id, body) VALUES ($1, $2) ` + replaceToldTurn
)

func (tx *Tx) putTurn(t CircleTurn) error {
	w := t.Window
	return tx.do(sqlPutTurn, t.Tool, t.Day, t.Member, orNull(t.Plot), w.Number, w.Edition, w.Opens, w.Best, w.Closes,
		t.Late)
}

func (tx *Tx) dropTurn(t CircleTurn) error { return tx.do(sqlDropTurn, t.Tool, t.Day) }

func (tx *Tx) putToldTurn(plot int64, t ToldTurn) error {
	return tx.do(sqlPutToldTurn, plot, t.body())
}

// body returns what the table circle_told has of what was told.
func (t ToldTurn) body() string {
	b, _ := json.Marshal(t) // numbers can always be encoded
	return string(b)
}

// changesKept is for how many days the days of texts about changed turns are kept.
const changesKept = 7

// Follow sets Changes: of what was told before, which may be nil, and if change is true, also the day of this text,
// which is about a changed turn. Days that were agreed stay so as long as they are the same.
func (t *ToldTurn) Follow(before *ToldTurn, change bool) {
	t.Changes = nil
	if before != nil {
		t.Agreed = before.Agreed && t.Window == before.Window &&
			!slices.ContainsFunc(before.Turns, func(d TurnDay) bool { return d.Day >= t.On && !t.has(d.Tool, d.Day) })
		for _, d := range before.Changes {
			if d > t.On-changesKept {
				t.Changes = append(t.Changes, d)
			}
		}
	}
	if change {
		t.Changes = append(t.Changes, t.On)
	}
}

// PlotTurn is consecutive days of one tool at a plot, as its grower is told of them.
type PlotTurn struct {
	Tool     int64
	ToolName string // "" = the tool is called by its number ToolNo
	ToolNo   int    // among the tools of the circle, from 1; 0: it is the only one
	From, To engine.Day
	Window   engine.Window // as in CircleTurn
	Late     bool
	Told     bool          // the grower was told all of these days
	Fetch    circle.Member // who has the tool before; the zero value: it is where it is kept
	Hand     circle.Member // who has it next; the zero value: nobody yet
}

// sqlTurnsOfPlots reads all turns of the tools that these plots have from a day on, those of others too, and those of
// the circle.HoldDays before.
const sqlTurnsOfPlots = `SELECT k.circle_id, ` + turnColumns + `, k.name,
		(SELECT CASE WHEN count(*) = 1 THEN 0 ELSE sum(CASE WHEN y.id <= k.id THEN 1 ELSE 0 END) END
			FROM circle_tool y WHERE y.circle_id = k.circle_id AND y.removed_day IS NULL)
	FROM circle_tool k JOIN circle_turn t ON t.tool_id = k.id LEFT JOIN plot p ON p.id = t.plot_id
	WHERE k.id IN (SELECT x.tool_id FROM circle_turn x WHERE x.plot_id IN ` + idList + ` AND x.day >= $2)
		AND t.day >= $2 - 14
	ORDER BY t.tool_id, t.day`

var _ = [1]struct{}{}[circle.HoldDays-14] // compiles only if the query is right

// fillTurns adds the turns of the due plots of growers who are in circles.
func (tx *Tx) fillTurns(r *roll, now int64) error {
	var plots []int64
	var from engine.Day
	for _, g := range r.growers {
		if g.Circle == 0 {
			continue
		}
		if today := engine.DayOf(time.Unix(now, 0), g.Zone); len(plots) == 0 || today < from {
			from = today
		}
		for _, p := range g.Plots {
			plots = append(plots, p.ID)
		}
	}
	if len(plots) == 0 {
		return nil
	}
	type named struct {
		CircleTurn
		name string
		no   int
	}
	rows, err := grouped(tx, sqlTurnsOfPlots, args(ids(plots), from), func(t *named) []any {
		return append(t.into(), &t.name, &t.no)
	})
	if err != nil || len(rows) == 0 {
		return fail("turns", err)
	}
	people, err := tx.peopleOf(slices.Collect(maps.Keys(rows))...)
	if err != nil {
		return err
	}
	told, err := tx.toldTurns(plots)
	if err != nil {
		return err
	}
	of := map[int64][]PlotTurn{}
	for id, list := range rows {
		c := openCircle{people: people[id]}
		turns, tools := make([]CircleTurn, len(list)), map[int64]named{}
		for i, t := range list {
			turns[i], tools[t.Tool] = t.CircleTurn, t
		}
		for _, h := range heldTurns(turns, told, from) {
			of[h.plot] = append(of[h.plot], PlotTurn{Tool: h.Tool, ToolName: tools[h.Tool].name,
				ToolNo: tools[h.Tool].no, From: h.From, To: h.To, Window: h.Window, Late: h.Late, Told: h.Told,
				Fetch: c.member(h.FetchFrom, now), Hand: c.member(h.HandTo, now)})
		}
	}
	for i := range r.growers {
		for j := range r.growers[i].Plots {
			p := &r.growers[i].Plots[j]
			if t, known := told[p.ID]; known {
				p.ToldTurn = &t
			}
			p.Turns = of[p.ID]
		}
	}
	return nil
}
