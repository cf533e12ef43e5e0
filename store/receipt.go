package store

import "fmt"

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
	find := func() error {
		known, err = tx.one(sqlFindReceipt, args(id, gateway), &row, &was)
		return err
	}
	if find() == nil && !known {
		if err = tx.lockReceipts(gateway, id); err == nil && tx.pg != nil {
			err = find() // the result may have been stored meanwhile
		}
		if err == nil && !known {
			return false, fail("receipt", tx.noteEarly(gateway, earlyReceipt{id, state, at, reason}))
		}
	}
	if err != nil {
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
