package store

import "fmt"

// A receipt may come before its text is settled, because tries are settled in batches. Such receipts are
// remembered in memory for an hour, 1,000 at most. After a crash such a receipt is lost, and its text stays
// accepted.

const (
	maxEarly  = 1000 // receipts; the oldest is dropped
	keepEarly = 60 * 60
)

// early stores the receipts whose text is not known yet. Only the writer's goroutine uses it.
type early struct {
	by    map[earlyKey]earlyReceipt
	order [maxEarly]earlyKey // ring buffer
	next  int
}

type earlyKey struct{ gateway, id string }

type earlyReceipt struct {
	state  State
	at     int64
	reason string
}

// note remembers a receipt. After delivered, no other receipt counts.
func (e *early) note(k earlyKey, r earlyReceipt) {
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

// told applies an early receipt to a text that a network has just taken. Networks reuse ids: an old
// receipt was for another text.
func (tx *Tx) told(s Settlement, now int64) error {
	r, ok := tx.s.early.by[earlyKey{s.gateway, s.text}]
	if s.text == "" || !ok || r.at < now-keepEarly {
		return nil
	}
	_, err := tx.Receipt(s.gateway, s.text, r.state, r.at, r.reason)
	return err
}

const (
	// Only the network that was handed a text can report on it.
	sqlFindReceipt = `SELECT id, state FROM message WHERE (key = ` + asText + ` OR network_id = ` + asText + `)
		AND gateway = CAST($2 AS TEXT) AND tries > 0
	ORDER BY key = ` + asText + ` DESC, id DESC LIMIT 1`
	sqlDelivered = `UPDATE message SET state = 'delivered', claim_at = NULL, held = 0, reason = $1,
		accepted_at = coalesce(accepted_at, $2), ended_at = $2
	WHERE id = $3`
	// A receipt implies acceptance, so accepted_at is filled in.
	sqlFailed = `UPDATE message SET state = $1, claim_at = NULL, held = 0, reason = $2,
		accepted_at = coalesce(accepted_at, $3), ended_at = $3
	WHERE id = $4`
	sqlTrying = `UPDATE message SET state = 'accepted', claim_at = NULL, held = 0, reason = '',
		accepted_at = coalesce(accepted_at, $1)
	WHERE id = $2 AND state IN ('queued', 'claimed')`
)

// Receipt records what a network reports of a text, by our key or by the network's id: Delivered,
// Refused, Expired, or Accepted (still trying). Receipts come late, twice and out of order: Delivered
// overrides every other state and is never overridden; the others only end a text that has not ended.
// known is false if this network was never handed such a text; the receipt is then applied when the
// text is settled.
func (tx *Tx) Receipt(gateway, id string, state State, at int64, reason string) (known bool, err error) {
	if state != Delivered && state != Refused && state != Expired && state != Accepted {
		return false, fmt.Errorf("store: receipt: %q is not a state that a network tells", state)
	}
	var row int64
	var was string
	known, err = tx.one(sqlFindReceipt, args(id, gateway), &row, &was)
	if err != nil || !known {
		if err == nil {
			tx.s.early.note(earlyKey{gateway, id}, earlyReceipt{state, at, reason})
		}
		return false, fail("receipt", err)
	}
	switch {
	case State(was) == Delivered:
	case state == Delivered:
		_, err = tx.exec(sqlDelivered, reason, at, row)
	case state == Accepted:
		_, err = tx.exec(sqlTrying, at, row)
	case State(was) == Queued, State(was) == Claimed, State(was) == Accepted, State(was) == Unknown:
		if _, err = tx.exec(sqlFailed, string(state), reason, at, row); err == nil {
			err = tx.notTold(row)
		}
	}
	return true, fail("receipt", err)
}
