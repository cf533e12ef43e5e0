package store

import "rowbell/engine"

// The columns before_no to before_closes store the previously announced window of the plot, so that sqlUnannounce can
// restore that window if the text which announces the new one is not sent.
const (
	sqlAnnounce = `UPDATE plot SET announced_no = CAST(value->>1 AS BIGINT),
		announced_edition = CAST(value->>2 AS BIGINT), announced_opens = CAST(value->>3 AS BIGINT),
		announced_best = CAST(value->>4 AS BIGINT), announced_closes = CAST(value->>5 AS BIGINT),
		before_no = announced_no, before_edition = announced_edition, before_opens = announced_opens,
		before_best = announced_best, before_closes = announced_closes
	FROM jsonb_each($1) WHERE plot.id = CAST(value->>0 AS BIGINT)`
	sqlUnannounce = `UPDATE plot SET announced_no = before_no, announced_edition = before_edition,
		announced_opens = before_opens, announced_best = before_best, announced_closes = before_closes
	WHERE id IN (SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $1)
		AND NOT EXISTS (SELECT 1 FROM message_plot later WHERE later.plot_id = plot.id AND later.message_id > $1)`
)

// announce records the weeding window that a plot's grower knows. Screens and texts show these days until a text of
// kind "moved" is written, or a report of the grower moves the window (see Ledger.changed). WriteRounds does the same
// for each text and plot. If the text is not sent, the previously announced window is restored.
func (tx *Tx) announce(plotID int64, w engine.Window) error {
	var rows packed
	rows.addWindow(plotID, w)
	return rows.write(tx, sqlAnnounce)
}

// addWindow adds a row for sqlAnnounce.
func (p *packed) addWindow(plotID int64, w engine.Window) {
	p.add(plotID, int64(w.Number), int64(w.Edition), int64(w.Opens), int64(w.Best), int64(w.Closes))
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
