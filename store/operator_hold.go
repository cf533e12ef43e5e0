package store

import "encoding/json"

// SendingHold is an operator's order to stop all sending. While it is on, no text is sent.
type SendingHold struct {
	Why   string `json:"why"`
	Since int64  `json:"since"`
}

// HoldSending stops all sending until ReleaseSending is called. Waiting texts still expire. If sending is stopped
// already, only the reason changes.
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

// ReleaseSending allows sending again, and reports whether sending was stopped before.
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
