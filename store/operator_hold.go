package store

import "encoding/json"

// SendingHold is the operator's word that no text goes out.
type SendingHold struct {
	Why   string `json:"why"`
	Since int64  `json:"since"`
}

// HoldSending stops all texts from being claimed until ReleaseSending. Those
// that wait still expire in their time. A hold that is on gets the new reason
// and keeps its beginning.
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

// ReleaseSending lets texts out again. It reports whether they were held.
func (tx *Tx) ReleaseSending() (was bool, err error) {
	n, err := tx.exec(sqlDropMeta, metaSending)
	return n > 0, fail("release sending", err)
}

// SendingHeld says whether an operator holds all texts, why, and since when.
func (tx *Tx) SendingHeld() (h SendingHold, held bool, err error) {
	b, held, err := tx.meta(metaSending)
	if err == nil && held {
		err = fail("sending held", json.Unmarshal(b, &h))
	}
	return h, held, err
}
