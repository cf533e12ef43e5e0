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

// Waiting is texts that wait to be sent, of one sort.
type Waiting struct {
	What      string // "due", "later", "again", "doubt" (again, and it may have arrived), "sending" or "held" (by a limit)
	Texts     int64
	Oldest    int64 // when the first was written
	EndsFirst int64 // when the first stops being useful
}

const sqlWaitingBySort = `SELECT CASE WHEN held = 1 THEN 'held' WHEN state = 'claimed' THEN 'sending' WHEN doubt = 1 THEN 'doubt'
		WHEN tries > 0 THEN 'again' WHEN claim_at > $1 THEN 'later' ELSE 'due' END, count(*), min(created_at), min(useful_until)
	FROM message WHERE claim_at IS NOT NULL GROUP BY 1 ORDER BY 3, 1`

// Waiting counts what waits to be sent, the sort with the oldest first. It
// reads all that waits: for the operator.
func (tx *Tx) Waiting(now int64) ([]Waiting, error) {
	var list []Waiting
	err := tx.each(sqlWaitingBySort, args(now), func(scan func(...any) error) error {
		var w Waiting
		err := scan(&w.What, &w.Texts, &w.Oldest, &w.EndsFirst)
		list = append(list, w)
		return err
	})
	return list, fail("waiting", err)
}

// Ended counts texts that a network took, or that ended, by what became of
// them.
type Ended struct {
	State State
	Texts int64
}

const sqlEndedSince = `SELECT state, count(*) FROM message WHERE claim_at IS NULL AND coalesce(ended_at, accepted_at) >= $1
	GROUP BY state ORDER BY 2 DESC, 1`

// EndedSince counts what ended since an instant, or was taken and not heard of
// again. It reads all texts: for the operator.
func (tx *Tx) EndedSince(at int64) ([]Ended, error) {
	var list []Ended
	err := tx.each(sqlEndedSince, args(at), func(scan func(...any) error) error {
		var state string
		var e Ended
		err := scan(&state, &e.Texts)
		e.State = State(state)
		list = append(list, e)
		return err
	})
	return list, fail("ended", err)
}
