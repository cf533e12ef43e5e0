package store

const (
	sqlHalveHours = `UPDATE pass SET hours = hours / 2 WHERE plot_id = $1`
	sqlCopyPasses = `INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left)
	SELECT $1, x.day, x.seq, x.means, x.way, x.hours, x.people, x.weeds_left FROM pass x WHERE x.plot_id = $2`
	sqlCopySightings = `INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen, water)
	SELECT $1, x.day, x.seq, x.leaves, x.amount, x.rows_seen, x.water FROM sighting x WHERE x.plot_id = $2`
	sqlCopyTold = `INSERT INTO told (plot_id, window_no, edition, kind, day)
	SELECT $1, t.window_no, t.edition, t.kind, t.day FROM told t WHERE t.plot_id = $2`
)

// SplitPlot makes two plots of one, each with half of its area and of the
// hours that its passes took, and all that was seen of it and told. The first
// keeps the number. ErrFull where nine plots are open already.
func (l *Ledger) SplitPlot(no int, labelA, labelB string) (noB int, err error) {
	r, err := l.find(no)
	switch {
	case err != nil:
		return 0, err
	case len(l.plots) >= maxPlots:
		return 0, ErrFull
	}
	half := *r // adding a plot moves the rows
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
	if err := l.do(sqlHalveHours, half.id); err != nil {
		return 0, fail("split plot", err)
	}
	for _, query := range []string{sqlCopyPasses, sqlCopySightings, sqlCopyTold} {
		if err := l.do(query, idB, half.id); err != nil {
			return 0, fail("split plot", err)
		}
	}
	if half.announced.Exists() {
		if err := l.tx.Announce(idB, half.announced); err != nil {
			return 0, err
		}
	}
	if err := l.TellHerbicide(noB, half.herbicide/2); err != nil {
		return 0, err
	}
	if err := l.TellHerbicide(no, half.herbicide/2); err != nil {
		return 0, err
	}
	l.forgetHistory()
	half.plot.Label = labelA
	return noB, l.changePlot(no, half.plot, half.tool)
}
