package store

import (
	"errors"
	"time"

	"rowbell/engine"
)

// The first two queries select texts that may still be sent. sqlPendingOfPhone includes texts that a network is
// sending, because the phone wants no more texts: such a text ends as unknown until the result of its try comes, which
// may never come. sqlPendingOfPlot does not, because such texts will most likely arrive; sqlLastTry prevents a further
// try of them.
const (
	maybeSent         = `m.doubt = 1 OR m.state = 'claimed' AND m.begun = 1`
	sqlPendingOfPhone = `SELECT m.id, m.kind, m.created_at, ` + maybeSent + ` FROM message m
	WHERE m.phone = ` + asText + ` AND m.claim_at IS NOT NULL`
	sqlPendingOfPlot = `SELECT m.id, m.kind, m.created_at, m.doubt FROM message_plot mp
		JOIN message m ON m.id = mp.message_id
	WHERE mp.plot_id = ` + asID + ` AND m.state = 'queued'`
	sqlWaitsOfPlot = `SELECT 1 FROM message_plot mp JOIN message m ON m.id = mp.message_id
	WHERE mp.plot_id = ` + asID + ` AND (m.claim_at IS NOT NULL OR m.undecided = 1) LIMIT 1`
	sqlLastTry = `UPDATE message SET useful_until = min(useful_until, max(due_at, $1 - 1))
		WHERE state = 'claimed' AND id IN
	(SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id = $2)`
	// A text that is not wanted any more is not sent again, so the operator has nothing to decide.
	sqlDecidedOfPlot = `UPDATE message SET undecided = 0 WHERE undecided = 1 AND id IN
	(SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id = $1)`
	sqlDecidedOfPhone = `UPDATE message SET undecided = 0 WHERE undecided = 1 AND phone = $1`
	// If a network may have taken a text, the text ends as unknown instead of withdrawn.
	sqlWithdraw = `UPDATE message SET state = CASE WHEN $1 = 1 THEN 'unknown' ELSE 'withdrawn' END,
		claim_at = NULL, held = 0, ended_at = $2 WHERE id = $3`
	// The record of a reminder that was not sent is deleted, so that the grower may get it again.
	sqlUntell = `DELETE FROM told WHERE day = $1 AND kind = $2 AND plot_id IN
	(SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $3)`
	sqlLookAgain = `UPDATE plot SET look_at = $1 WHERE closed_day IS NULL AND id <> $2 AND id IN
	(SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $3)`
)

// withdrawOfPlot withdraws the waiting texts about a plot. The argument again is when the bell (the reminder job) next
// looks at the other plots of these texts, in Unix seconds; 0 means that their next look stays as it is.
func (tx *Tx) withdrawOfPlot(plotID, now int64, zone *time.Location, again int64) error {
	// Usually no text about the plot waits, and then nothing needs to be written.
	if waits, err := tx.one(sqlWaitsOfPlot, args(plotID), new(int64)); err != nil || !waits {
		return err
	}
	if err := errors.Join(tx.do(sqlLastTry, now, plotID), tx.do(sqlDecidedOfPlot, plotID)); err != nil {
		return err
	}
	list, err := tx.withdraw(sqlPendingOfPlot, args(plotID), now, zone)
	if err != nil || again == 0 {
		return err
	}
	return tx.lookAgain(list, again, plotID)
}

// withdrawOfPhone withdraws the waiting texts to a phone, also those that a network is sending.
func (tx *Tx) withdrawOfPhone(phone Phone, now int64, zone *time.Location) ([]Message, error) {
	if err := tx.do(sqlDecidedOfPhone, phone.E164()); err != nil {
		return nil, err
	}
	return tx.withdraw(sqlPendingOfPhone, args(phone.E164()), now, zone)
}

// lookAgain sets when the bell (the reminder job) next looks at the plots of these texts: at is the instant, in Unix
// seconds. The plot whose id is the argument but is left out.
func (tx *Tx) lookAgain(list []Message, at, but int64) error {
	for _, m := range list {
		if err := tx.do(sqlLookAgain, at, but, m.ID); err != nil {
			return err
		}
	}
	return nil
}

// withdraw withdraws the texts that a query selects. If a text surely did not go out (MaybeSent is false), its
// reminder may be written again, and a weeding window that only this text announced may move again.
func (tx *Tx) withdraw(pending string, of []any, now int64, zone *time.Location) ([]Message, error) {
	list, err := rows(tx, pending, of, func(m *Message) []any {
		return args(&m.ID, (*kindColumn)(m), &m.CreatedAt, &m.MaybeSent)
	})
	if err != nil {
		return nil, err
	}
	for _, m := range list {
		if err := errors.Join(tx.do(sqlWithdraw, m.MaybeSent, now, m.ID), tx.giveBackUnsent(m.ID)); err != nil {
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
