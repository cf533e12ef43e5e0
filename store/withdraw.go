package store

import (
	"rowbell/engine"
	"time"
)

// sqlPendingOfPhone and sqlPendingOfPlot select texts that may still be sent. If a phone wants no more texts, texts
// that a network is sending are selected too. If a plot has changed, such texts are not selected, because most
// likely they will reach the grower. If such a try fails, sqlLastTry prevents a further try.
const (
	sqlPendingOfPhone = `SELECT m.id, m.kind, m.created_at, m.doubt FROM message m
	WHERE m.phone = ` + asText + ` AND m.claim_at IS NOT NULL`
	sqlPendingOfPlot = `SELECT m.id, m.kind, m.created_at, m.doubt FROM message_plot mp
		JOIN message m ON m.id = mp.message_id
	WHERE mp.plot_id = ` + asID + ` AND m.state = 'queued'`
	sqlWaitsOfPlot = `SELECT 1 FROM message_plot mp JOIN message m ON m.id = mp.message_id
	WHERE mp.plot_id = ` + asID + ` AND m.claim_at IS NOT NULL LIMIT 1`
	sqlLastTry = `UPDATE message SET useful_until = min(useful_until, max(due_at, $1 - 1))
		WHERE state = 'claimed' AND id IN
	(SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id = $2)`
	// If a network may have taken a text, the text ends as unknown instead of withdrawn.
	sqlWithdraw = `UPDATE message SET state = CASE WHEN $1 THEN 'unknown' ELSE 'withdrawn' END,
		claim_at = NULL, held = 0, ended_at = $2 WHERE id = $3`
	// If a text was not sent, sqlUntell deletes the record of its reminder, so that the grower may get another
	// reminder of the same window.
	sqlUntell = `DELETE FROM told WHERE day = $1 AND kind = $2 AND plot_id IN
	(SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $3)`
	sqlLookAgain = `UPDATE plot SET look_at = $1 WHERE closed_day IS NULL AND id <> $2 AND id IN
	(SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $3)`
)

// Supersede withdraws the waiting texts about a plot, because there is newer information. The withdrawn texts
// count as not sent. If a withdrawn text was also about other plots, the bell (the reminder job) looks at the
// other plots at the instant again (the morning of this day), as if no reminder had been sent today.
func (tx *Tx) Supersede(plotID, now int64, zone *time.Location, again int64) error {
	return fail("supersede", tx.withdrawOfPlot(plotID, now, zone, again))
}

// withdrawOfPlot withdraws the waiting texts about a plot. If a withdrawn text was also about other plots, the
// bell (the reminder job) next looks at the other plots at the instant again. If again is 0, these plots are not
// changed.
func (tx *Tx) withdrawOfPlot(plotID, now int64, zone *time.Location, again int64) error {
	// Usually no text about the plot waits, and then nothing needs to be written.
	if waits, err := tx.one(sqlWaitsOfPlot, args(plotID), new(int64)); err != nil || !waits {
		return err
	}
	if err := tx.do(sqlLastTry, now, plotID); err != nil {
		return err
	}
	list, err := tx.withdraw(sqlPendingOfPlot, args(plotID), now, zone)
	if err != nil || again == 0 {
		return err
	}
	return tx.lookAgain(list, again, plotID)
}

// lookAgain makes the bell (the reminder job) look again at the plots of these texts. The argument at is the time of
// the look, in Unix seconds. The plot whose id is the argument but is left out.
func (tx *Tx) lookAgain(list []Message, at, but int64) error {
	for _, m := range list {
		if err := tx.do(sqlLookAgain, at, but, m.ID); err != nil {
			return err
		}
	}
	return nil
}

// withdraw withdraws the texts that a query selects. A text that surely did not go out (MaybeSent is false) is treated
// as if its reminder had never been written: the grower may get that reminder again, and a weeding window that only
// this text announced may move again. For a text that a network may have taken, both records stay.
func (tx *Tx) withdraw(pending string, of []any, now int64, zone *time.Location) ([]Message, error) {
	list, err := rows(tx, pending, of, func(m *Message) []any {
		return args(&m.ID, (*kindColumn)(m), &m.CreatedAt, &m.MaybeSent)
	})
	if err != nil {
		return nil, err
	}
	for _, m := range list {
		if err := tx.do(sqlWithdraw, m.MaybeSent, now, m.ID); err != nil {
			return nil, err
		}
		if m.Reminder == 0 || m.MaybeSent {
			continue
		}
		err := tx.do(sqlUntell, engine.DayOf(time.Unix(m.CreatedAt, 0), zone), m.Reminder, m.ID)
		if err == nil && m.Reminder.Announces() {
			err = tx.do(sqlUnannounce, m.ID)
		}
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}
