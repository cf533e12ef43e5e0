package store

// A text that ended as unknown is undecided while it is still useful and wanted: a network may have taken it, and only
// the operator can decide whether it is sent again. A receipt decides it too.

const (
	stillUndecided = ` FROM message WHERE undecided = 1 AND state = 'unknown' AND useful_until >= $1`

	sqlUndecided = `SELECT ` + messageColumns + stillUndecided + ` AND ended_at <= $2
	ORDER BY useful_until, id LIMIT CAST($3 AS BIGINT)`
	sqlUndecidedCount = `SELECT count(*)` + stillUndecided
	// The key stays, so that a late receipt of the first try is understood, and a network that knows the key sends the
	// text only once. The new try is charged again.
	sqlSendAgain = `UPDATE message SET state = 'queued', claim_at = $1, ended_at = NULL, reason = '', doubt = 0,
		undecided = 0, charge_day = NULL, charge_segments = 0, charge_micros = 0
	WHERE id = $2 AND undecided = 1 AND state = 'unknown' AND useful_until >= $1`
	sqlLeaveUnknown = `UPDATE message SET undecided = 0 WHERE undecided = 1 AND state = 'unknown' AND id = $1`
)

// Undecided returns at most limit undecided texts that ended until an instant, those whose useful time ends first in
// front.
func (tx *Tx) Undecided(now, until int64, limit int) ([]Message, error) {
	list, err := tx.messages(sqlUndecided, now, until, limit)
	return list, fail("undecided", err)
}

// UndecidedCount returns the number of undecided texts.
func (tx *Tx) UndecidedCount(now int64) (n int64, err error) {
	_, err = tx.one(sqlUndecidedCount, args(now), &n)
	return n, fail("undecided count", err)
}

// SendAgain queues an undecided text again, for any network. It returns false if the text is not undecided.
func (tx *Tx) SendAgain(id, now int64) (bool, error) {
	n, err := tx.exec(sqlSendAgain, now, id)
	return n > 0, fail("send again", err)
}

// LeaveUnknown decides that an undecided text is not sent again. It returns false if the text is not undecided.
func (tx *Tx) LeaveUnknown(id int64) (bool, error) {
	n, err := tx.exec(sqlLeaveUnknown, id)
	return n > 0, fail("leave unknown", err)
}
