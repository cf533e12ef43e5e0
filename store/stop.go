package store

import "errors"

const (
	sqlOptOut = `INSERT INTO opt_out (hash, at) VALUES ($1, $2) ON CONFLICT (hash) DO NOTHING`
	sqlOptIn  = `DELETE FROM opt_out WHERE hash = $1`
	sqlStop   = `UPDATE grower SET stopped_at = $1 WHERE id = $2 AND stopped_at IS NULL`
	sqlStart  = `UPDATE grower SET stopped_at = NULL WHERE id = $1`
	// The bell (the reminder job) does not look at a plot without look_at.
	sqlUnwatch = `UPDATE plot SET look_at = NULL WHERE grower_id = $1`
	sqlWatch   = `UPDATE plot SET look_at = $1 WHERE grower_id = $2 AND closed_day IS NULL`
)

// Stop records that the phone wants no texts, even if it has no records. Waiting texts are withdrawn, the prompt is
// deleted, and no reminders are written any more. Replies to the grower may still be sent.
func (l *Ledger) Stop() error {
	err := errors.Join(
		l.do(sqlOptOut, l.hash(), l.now),
		l.do(sqlStop, l.now, l.id),
		l.do(sqlUnwatch, l.id),
		l.tx.DropPrompt(l.phone),
	)
	was := l.stopped
	l.stopped = true
	if err == nil {
		_, err = l.tx.withdrawOfPhone(l.phone, l.now, l.Zone())
	}
	if err == nil && !was {
		err = l.decided("stopped")
	}
	return fail("stop", err)
}

// Start allows texts to the phone again.
func (l *Ledger) Start() error {
	was := l.stopped
	err := l.start()
	if err == nil && was {
		err = l.decided("started")
	}
	return err
}

func (l *Ledger) start() error {
	err := errors.Join(
		l.do(sqlOptIn, l.hash()),
		l.do(sqlStart, l.id),
		l.do(sqlWatch, l.now, l.id),
	)
	l.stopped = false
	return fail("start", err)
}
