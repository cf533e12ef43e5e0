package store

import "rowbell/engine"

const sqlTell = `INSERT INTO told (plot_id, window_no, edition, kind, day) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (plot_id, window_no, edition, kind) DO UPDATE SET day = excluded.day WHERE told.day < excluded.day`

// Tell records that a plot's grower was reminded of a weeding window. A sighting of weeds gives the window a new
// edition, and reminders of the old edition no longer count. The result fresh is false if the same reminder was
// already recorded for that day or a later day.
func (tx *Tx) Tell(plotID int64, t engine.Told) (fresh bool, err error) {
	n, err := tx.exec(sqlTell, plotID, t.Window, t.Edition, t.Kind, t.On)
	return n > 0, fail("tell", err)
}

// The columns before_no to before_closes store the previously announced window of the plot, so that sqlUnannounce can
// restore that window if the text which announces the new one is not sent.
const (
	sqlAnnounce = `UPDATE plot SET announced_no = $1, announced_edition = $2, announced_opens = $3,
		announced_best = $4, announced_closes = $5,
		before_no = announced_no, before_edition = announced_edition, before_opens = announced_opens,
		before_best = announced_best, before_closes = announced_closes
	WHERE id = $6`
	sqlUnannounce = `UPDATE plot SET announced_no = before_no, announced_edition = before_edition,
		announced_opens = before_opens, announced_best = before_best, announced_closes = before_closes
	WHERE id IN (SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $1)
		AND NOT EXISTS (SELECT 1 FROM message_plot later WHERE later.plot_id = plot.id AND later.message_id > $1)`
)

// Announce records the weeding window that a text tells a plot's grower. Screens and texts show these days until a
// text of kind "moved" is written, or a report of the grower moves the window (see Ledger.changed). Call Announce once
// for each text and plot, in the transaction that writes the text. If the text is not sent, the previously announced
// window is restored.
func (tx *Tx) Announce(plotID int64, w engine.Window) error {
	return fail("announce", tx.do(sqlAnnounce, w.Number, w.Edition, w.Opens, w.Best, w.Closes, plotID))
}

const (
	sqlNotTold = `SELECT kind FROM message WHERE id = $1 AND state IN ('refused', 'expired')`
	// sqlUntellKind leaves earlier texts of the kind, which the grower got.
	sqlUntellKind = `DELETE FROM told WHERE kind = $1 AND plot_id IN (SELECT mp.plot_id FROM message_plot mp
		WHERE mp.message_id = $2)
		AND NOT EXISTS (SELECT 1 FROM told x
			WHERE x.plot_id = told.plot_id AND x.kind = told.kind AND x.day > told.day)`
)

// notTold restores the previously announced window if a text ended as refused or expired, because its grower never
// read it. If the text had the kind "moved", another such text may be written for the same window. A text that asked
// for a look counts as not sent, so that its grower is not taken for one who never looks.
func (tx *Tx) notTold(message int64) error {
	var name string
	ended, err := tx.one(sqlNotTold, args(message), &name)
	kind, _ := engine.ParseKind(name)
	if kind == engine.KindPrepare && ended && err == nil {
		return tx.do(sqlUntellKind, kind, message)
	}
	if err != nil || !ended || !kind.Announces() {
		return err
	}
	if err := tx.do(sqlUnannounce, message); err != nil || kind != engine.KindMoved {
		return err
	}
	return tx.do(sqlUntellKind, kind, message)
}
