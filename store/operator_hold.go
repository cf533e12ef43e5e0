package store

import "encoding/json"

// SendingHold is an operator hold: no text is sent while it is on.
type SendingHold struct {
	Why   string `json:"why"`
	Since int64  `json:"since"`
}

// HoldSending puts on the operator hold: no text is claimed until ReleaseSending. Waiting texts still
// expire. If the hold is on already, it gets the new reason and keeps its start.
func (tx *Tx) HoldSending(why string, now int64) error {
	on, held, err := tx.SendingHeld()
	if err != nil {
		return err
	}
	if !held {
		on.Since = now
	}
	on.Why = why
	b, err := json.Marshal(on)
	if err != nil {
		return fail("hold sending", err)
	}
	return tx.setMeta(metaSending, b)
}

const sqlDropMeta = `DELETE FROM meta WHERE key = $1`

// ReleaseSending ends the operator hold, and reports whether it was on.
func (tx *Tx) ReleaseSending() (was bool, err error) {
	n, err := tx.exec(sqlDropMeta, metaSending)
	return n > 0, fail("release sending", err)
}

// SendingHeld returns the operator hold, and whether it is on.
func (tx *Tx) SendingHeld() (h SendingHold, held bool, err error) {
	b, held, err := tx.meta(metaSending)
	if err == nil && held {
		err = fail("sending held", json.Unmarshal(b, &h))
	}
	return h, held, err
}
