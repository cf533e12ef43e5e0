package store

import (
	"cmp"
	"errors"
	"slices"

	"rowbell/engine"
)

// plotRow is a row of the table plot, decoded.
type plotRow struct {
	id, growerID int64
	no           int
	plot         engine.Plot
	tool         engine.Tool
	since        engine.Day
	lookAt       int64
	closed       engine.Day // day on which the plot was closed; 0 if it is open
	announced    engine.Window
	herbicide    float64    // price of one herbicide treatment of this plot; 0 if the grower gave none
	asked        engine.Day // day of the first text that asked for a look at the weeds; 0 if there was none
}

// kindPrepare is engine.KindPrepare, for the queries.
const kindPrepare = `1`

var _ = [1]struct{}{}[engine.KindPrepare-1] // compiles only if kindPrepare is right

const plotColumns = `p.id, p.grower_id, p.no, p.label, p.method, p.planted, p.puddled, p.seedling_age_days,
	p.seedlings_per_hill, p.row_spacing_cm, p.hill_spacing_cm, p.area_m2, p.flood, p.duration_days,
	p.tool_width_cm, p.tool_max_width_cm, p.since_day, coalesce(p.look_at, 0), p.soil, p.inflow_ls,
	coalesce(p.closed_day, 0),
	p.announced_no, p.announced_edition, p.announced_opens, p.announced_best, p.announced_closes, p.herbicide, p.deep,
	(SELECT coalesce(min(a.day), 0) FROM told a WHERE a.plot_id = p.id AND a.kind = ` + kindPrepare + `)`

// into returns pointers to the fields, in the order of plotColumns.
func (r *plotRow) into() []any {
	p, w := &r.plot, &r.announced
	return args(&r.id, &r.growerID, &r.no, &p.Label, &p.Method, &p.Planted, &p.Puddled, &p.SeedlingAgeDays,
		&p.SeedlingsPerHill, &p.RowSpacingCM, &p.HillSpacingCM, &p.AreaM2, &p.Flood, &p.DurationDays,
		&r.tool.WidthCM, &r.tool.MaxWidthCM, &r.since, &r.lookAt, &p.Soil, &p.InflowLS, &r.closed,
		&w.Number, &w.Edition, &w.Opens, &w.Best, &w.Closes, &r.herbicide, &p.Deep, &r.asked)
}

// plotValues returns the grower's answers about a plot, in the order of the columns in sqlAddPlot and sqlChangePlot.
func plotValues(p engine.Plot, t engine.Tool) []any {
	return args(p.Label, p.Method, p.Planted, p.Puddled, p.SeedlingAgeDays, p.SeedlingsPerHill, p.RowSpacingCM,
		p.HillSpacingCM, p.AreaM2, p.Flood, p.DurationDays, t.WidthCM, t.MaxWidthCM, p.Soil, p.InflowLS,
		p.Deep)
}

const sqlOpenPlots = `SELECT ` + plotColumns + ` FROM plot p
	WHERE p.grower_id = ` + asID + ` AND p.closed_day IS NULL ORDER BY p.no`

// open returns the open plots. They are read from the database only once.
func (l *Ledger) open() ([]plotRow, error) {
	if l.plotsRead || !l.Known() {
		return l.plots, nil
	}
	plots, err := l.tx.plotRows(sqlOpenPlots, l.id)
	l.plots, l.plotsRead = plots, err == nil
	return l.plots, err
}

func (l *Ledger) find(no int) (*plotRow, error) {
	plots, err := l.open()
	if err != nil {
		return nil, err
	}
	for i := range plots {
		if plots[i].no == no {
			return &plots[i], nil
		}
	}
	return nil, ErrNoPlot
}

// Plots returns the numbers of the open plots in ascending order.
func (l *Ledger) Plots() ([]int, error) {
	plots, err := l.open()
	var nos []int
	for _, r := range plots {
		nos = append(nos, r.no)
	}
	return nos, err
}

// PlotID returns the id of an open plot, for use in Message.PlotIDs.
func (l *Ledger) PlotID(no int) (int64, error) {
	r, err := l.find(no)
	if err != nil {
		return 0, err
	}
	return r.id, nil
}

const maxPlots = 9

const sqlAddPlot = `INSERT INTO plot (label, method, planted, puddled, seedling_age_days,
		seedlings_per_hill, row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days,
		tool_width_cm, tool_max_width_cm, soil, inflow_ls, deep, grower_id, no, since_day, look_at)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)`

// AddPlot opens a plot with the lowest free number. It returns ErrUnknown if the phone has no records, and
// ErrFull if nine plots are open.
func (l *Ledger) AddPlot(p engine.Plot, t engine.Tool) (no int, err error) {
	plots, err := l.open()
	switch {
	case err != nil:
		return 0, err
	case !l.Known():
		return 0, ErrUnknown
	case len(plots) >= maxPlots:
		return 0, ErrFull
	}
	if err := cmp.Or(p.Validate(), t.Validate()); err != nil {
		return 0, err
	}
	no, err = l.insertPlot(plotRow{plot: p, tool: t, since: l.Today()})
	return no, fail("add plot", err)
}

// insertPlot inserts r as an open plot with the lowest free number.
func (l *Ledger) insertPlot(r plotRow) (no int, err error) {
	for no = 1; no <= len(l.plots) && l.plots[no-1].no == no; no++ {
	}
	return no, l.insertPlotAs(no, r)
}

// insertPlotAs inserts r as an open plot with this number, which must be free.
func (l *Ledger) insertPlotAs(no int, r plotRow) (err error) {
	r.growerID, r.no, r.lookAt = l.id, no, 0
	if !l.stopped {
		r.lookAt = l.now
	}
	r.id, _, err = l.tx.insert(sqlAddPlot, append(plotValues(r.plot, r.tool), l.id, no, int64(r.since),
		orNull(r.lookAt))...)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(l.plots, func(p plotRow) bool { return p.no > no })
	if at < 0 {
		at = len(l.plots)
	}
	l.plots = slices.Insert(l.plots, at, r)
	return errors.Join(l.attendSoon(), l.tx.planSoon(l.circleID, l.now))
}

const (
	sqlChangePlot = `UPDATE plot SET label = $1, method = $2, planted = $3, puddled = $4, seedling_age_days = $5,
		seedlings_per_hill = $6, row_spacing_cm = $7, hill_spacing_cm = $8, area_m2 = $9, flood = $10,
		duration_days = $11, tool_width_cm = $12, tool_max_width_cm = $13, soil = $14, inflow_ls = $15,
		deep = $16
	WHERE id = $17`
	sqlForgetTold = `DELETE FROM told WHERE plot_id = $1`
)

// ChangePlot corrects the grower's answers about a plot. A new planting day or method moves every weeding window, so
// reminders of the old windows no longer count. Season returns the soil of the place if the grower gave none, and a
// caller may pass this soil back: then no soil is stored.
func (l *Ledger) ChangePlot(no int, p engine.Plot, t engine.Tool) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := cmp.Or(p.Validate(), t.Validate()); err != nil {
		return err
	}
	p = l.withoutPlaceSoil(r, p)
	return errors.Join(l.correctedPlot(r, correctedPlot, p, t), l.changePlot(no, p, t))
}

// withoutPlaceSoil returns p without the soil that Season took from the place because the grower gave none.
func (l *Ledger) withoutPlaceSoil(r *plotRow, p engine.Plot) engine.Plot {
	if r.plot.Soil == engine.SoilUnknown && p.Soil == l.place.Soil {
		p.Soil = engine.SoilUnknown
	}
	return p
}

func (l *Ledger) changePlot(no int, p engine.Plot, t engine.Tool) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := l.do(sqlChangePlot, append(plotValues(p, t), r.id)...); err != nil {
		return fail("change plot", err)
	}
	if p.Planted != r.plot.Planted || p.Method != r.plot.Method {
		if err := l.do(sqlForgetTold, r.id); err != nil {
			return fail("change plot", err)
		}
		r.asked = 0
	}
	moves := movesWindows(r.plot, p) || t != r.tool
	r.plot, r.tool = p, t
	return l.changed(r, moves)
}

// movesWindows reports whether a change of a plot from a to b may move a weeding window. The name, the size, the soil
// and the water inflow move none.
func movesWindows(a, b engine.Plot) bool {
	a.Label, a.AreaM2, a.Soil, a.InflowLS = b.Label, b.AreaM2, b.Soil, b.InflowLS
	return a != b
}

const sqlClosePlot = `UPDATE plot SET closed_day = $1, look_at = NULL WHERE id = $2`

// ClosePlot ends the season of a plot when the grower asks for it. The number of the plot becomes free.
func (l *Ledger) ClosePlot(no int) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := l.do(sqlClosePlot, int64(l.Today()), r.id); err != nil {
		return fail("close plot", err)
	}
	id := r.id
	l.plots = slices.DeleteFunc(l.plots, func(r plotRow) bool { return r.id == id })
	// A call about this plot that reached nobody no longer counts for the grower's other plots.
	return fail("close plot", errors.Join(l.withdraw(id), l.do(sqlDropAttention, ids([]int64{id})),
		l.do(sqlAttendSoon, l.id), l.tx.planSoon(l.circleID, l.now)))
}

// withdraw withdraws the waiting texts about a plot, because the plot has changed.
func (l *Ledger) withdraw(plotID int64) error {
	again := int64(0)
	if !l.stopped {
		again = l.Today().At(l.MorningHour(), l.Zone()).Unix()
	}
	return l.tx.withdrawOfPlot(plotID, l.now, l.Zone(), again)
}

const (
	sqlLook = `UPDATE plot SET look_at = $1 WHERE id = $2 AND closed_day IS NULL`
	// A screen has just shown the new days to the grower, so the announced window is cleared.
	sqlForget = `UPDATE plot SET announced_no = 0, announced_edition = 0, announced_opens = 0, announced_best = 0,
		announced_closes = 0 WHERE id = $1`
)

// changed must be called after every change of a plot's season. It withdraws the waiting texts about the plot, and
// makes the bell (the reminder job) look at the plot, and plan the turns of the grower's circle, at once. If moves is
// true, the change may have moved a weeding window, so the announced window is cleared. Such a change is a sighting of
// weed leaves or of the rows, another planting day, or another tool.
func (l *Ledger) changed(r *plotRow, moves bool) error {
	err := l.withdraw(r.id)
	if err == nil && moves && r.announced.Exists() {
		err = l.do(sqlForget, r.id)
		r.announced = engine.Window{}
	}
	if err == nil && !l.stopped && !l.looksSoon(r) {
		err = l.do(sqlLook, l.now, r.id)
		r.lookAt = l.now
	}
	if err == nil {
		err = errors.Join(l.attendSoon(), l.tx.planSoon(l.circleID, l.now))
	}
	return fail("look again", err)
}

// attendSoon marks that the list of the morning must follow a change, if the bell does not mark it: it does not look at
// the plots of a grower who stopped texts, and a change in the second of the morning looks like the morning's own look.
func (l *Ledger) attendSoon() error {
	if !l.stopped && l.now != l.Today().At(l.MorningHour(), l.Zone()).Unix() {
		return nil
	}
	return l.do(sqlAttendSoon, l.id)
}

// looksSoon reports whether the bell looks at a plot as soon as if look_at were now. The bell leaves out until tomorrow
// what was changed after the morning, so look_at must be on the same side of the morning as now.
func (l *Ledger) looksSoon(r *plotRow) bool {
	morning := l.Today().At(l.MorningHour(), l.Zone()).Unix()
	return r.lookAt != 0 && r.lookAt <= l.now && (r.lookAt > morning) == (l.now > morning)
}

const sqlHerbicide = `UPDATE plot SET herbicide = $1 WHERE id = $2`

// TellHerbicide stores the grower's price for one herbicide treatment of this plot; 0 means no price.
func (l *Ledger) TellHerbicide(no int, price float64) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := (engine.Household{Herbicide: price}).Validate(); err != nil {
		return err
	}
	r.herbicide = price
	return fail("tell herbicide", l.do(sqlHerbicide, price, r.id))
}

const (
	sqlHalveHours = `UPDATE pass SET hours = hours / 2 WHERE plot_id = $1`
	sqlCopyPasses = `INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left, share)
	SELECT $1, x.day, x.seq, x.means, x.way, x.hours, x.people, x.weeds_left, x.share FROM pass x WHERE x.plot_id = $2`
	sqlCopySightings = `INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen, water)
	SELECT $1, x.day, x.seq, x.leaves, x.amount, x.rows_seen, x.water FROM sighting x WHERE x.plot_id = $2`
	sqlCopyTold = `INSERT INTO told (plot_id, window_no, edition, kind, day)
	SELECT $1, t.window_no, t.edition, t.kind, t.day FROM told t WHERE t.plot_id = $2`
)

// SplitPlot divides a plot into two. Each half gets half of the area, of the herbicide price and of the hours of each
// pass (weeding), and all sightings and reminders. The first half keeps the plot number, and noB is the number of the
// second half. SplitPlot returns ErrFull if nine plots are open.
func (l *Ledger) SplitPlot(no int, labelA, labelB string) (noB int, err error) {
	r, err := l.find(no)
	switch {
	case err != nil:
		return 0, err
	case len(l.plots) >= maxPlots:
		return 0, ErrFull
	}
	half := *r // a copy, because adding a plot moves the rows of l.plots in memory
	half.plot.AreaM2 /= 2
	b := half
	b.plot.Label = labelB
	if noB, err = l.insertPlot(b); err != nil {
		return 0, fail("split plot", err)
	}
	idB, err := l.PlotID(noB)
	if err != nil {
		return 0, err
	}
	err = errors.Join(
		l.do(sqlHalveHours, half.id),
		l.do(sqlCopyPasses, idB, half.id),
		l.do(sqlCopySightings, idB, half.id),
		l.do(sqlCopyTold, idB, half.id),
		l.TellHerbicide(noB, half.herbicide/2),
		l.TellHerbicide(no, half.herbicide/2),
	)
	if err == nil && half.announced.Exists() {
		err = l.tx.announce(idB, half.announced)
	}
	if err != nil {
		return 0, fail("split plot", err)
	}
	l.forgetHistory()
	half.plot.Label = labelA
	return noB, l.changePlot(no, half.plot, half.tool)
}
