package store

import (
	"fmt"
	"sync"
)

// A network may report the delivery of a text before the result of its try is stored. At most 1,000 such early
// receipts are kept in memory, for an hour. If a crash loses them, their texts stay in the state accepted.

const (
	maxEarly  = 1000 // number of receipts; when there are more, the oldest is dropped
	keepEarly = 60 * 60
)

// early contains the receipts whose message id, given by a network, no stored text has yet.
type early struct {
	mu    sync.Mutex
	by    map[earlyKey]earlyReceipt
	order [maxEarly]earlyKey // ring buffer with the keys of by, so that the oldest can be dropped
	next  int
}

type earlyKey struct{ gateway, id string }

type earlyReceipt struct {
	state  State
	at     int64
	reason string
}

// note stores an early receipt. After a receipt "delivered", other receipts for the same text are ignored.
func (e *early) note(k earlyKey, r earlyReceipt) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.by == nil {
		e.by = map[earlyKey]earlyReceipt{}
	}
	was, there := e.by[k]
	if there && was.state == Delivered {
		return
	}
	if !there {
		delete(e.by, e.order[e.next])
		e.order[e.next] = k
		e.next = (e.next + 1) % maxEarly
	}
	e.by[k] = r
}

func (e *early) find(k earlyKey) (earlyReceipt, bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	r, ok := e.by[k]
	return r, ok
}

// told applies an early receipt to a text that a network has just taken. A receipt that is older than keepEarly (an
// hour) is ignored: networks use their ids again, so it may be about an earlier text.
func (tx *Tx) told(s Settlement, now int64) error {
	r, ok := tx.s.early.find(earlyKey{s.gateway, s.text})
	if s.text == "" || !ok || r.at < now-keepEarly {
		return nil
	}
	_, err := tx.Receipt(s.gateway, s.text, r.state, r.at, r.reason)
	return err
}

const (
	// A receipt is accepted only from the network to which the text was handed.
	sqlFindReceipt = `SELECT id, state FROM message WHERE (key = ` + asText + ` OR network_id = ` + asText + `)
		AND gateway = CAST($2 AS TEXT) AND tries > 0
	ORDER BY key = ` + asText + ` DESC, id DESC LIMIT 1`
	sqlDelivered = `UPDATE message SET state = 'delivered', claim_at = NULL, held = 0, reason = $1,
		accepted_at = coalesce(accepted_at, $2), ended_at = $2
	WHERE id = $3`
	// If there is a receipt, the network has accepted the text, so accepted_at is set if it was empty.
	sqlFailed = `UPDATE message SET state = $1, claim_at = NULL, held = 0, reason = $2,
		accepted_at = coalesce(accepted_at, $3), ended_at = $3
	WHERE id = $4`
	sqlTrying = `UPDATE message SET state = 'accepted', claim_at = NULL, held = 0, reason = '',
		accepted_at = coalesce(accepted_at, $1)
	WHERE id = $2 AND state IN ('queued', 'claimed')`
)

// Receipt records what a network reports about a text, which the network names by our key or by its own id. The state
// is Delivered, Refused, Expired, or Accepted (the network is still trying). Receipts may come late, twice and in any
// order. Delivered replaces every other state and is never replaced. Refused and Expired change only a text that has
// not ended, or that ended as unknown; Accepted changes only a text that is queued or claimed. If this network has no
// such text, known is false, and the receipt is kept for a text whose result is not stored yet.
func (tx *Tx) Receipt(gateway, id string, state State, at int64, reason string) (known bool, err error) {
	if state != Delivered && state != Refused && state != Expired && state != Accepted {
		return false, fmt.Errorf("store: receipt: %q is not a state that a network tells", state)
	}
	var row int64
	var was State
	known, err = tx.one(sqlFindReceipt, args(id, gateway), &row, &was)
	if err != nil || !known {
		if err == nil {
			tx.s.early.note(earlyKey{gateway, id}, earlyReceipt{state, at, reason})
		}
		return false, fail("receipt", err)
	}
	switch {
	case was == Delivered:
	case state == Delivered:
		err = tx.do(sqlDelivered, reason, at, row)
	case state == Accepted:
		err = tx.do(sqlTrying, at, row)
	case was == Queued, was == Claimed, was == Accepted, was == Unknown:
		if err = tx.do(sqlFailed, string(state), reason, at, row); err == nil {
			err = tx.notTold(row)
		}
	}
	return true, fail("receipt", err)
}
