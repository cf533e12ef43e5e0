package store

import (
	"cmp"
	"encoding/json"
	"slices"
)

// A network may report the delivery of a text before the result of its try is stored, perhaps to another process. Such
// an early receipt waits in its table until a result names its text, for an hour at most.

const (
	maxEarly  = 1000 // when there are more, the oldest go
	keepEarly = 60 * 60
)

const (
	// Of several receipts for one text, the one stays that would count if the text were known: see Receipt.
	sqlNoteEarly = `INSERT INTO early_receipt (gateway, network_id, state, at, reason) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (gateway, network_id) DO UPDATE SET state = excluded.state, at = excluded.at, reason = excluded.reason
		WHERE early_receipt.state = 'accepted' OR early_receipt.state <> 'delivered' AND excluded.state = 'delivered'`
	// Many may have the same time, because some networks tell only the minute.
	sqlDropOldest = `DELETE FROM early_receipt WHERE (at, gateway, network_id) <
		(SELECT x.at, x.gateway, x.network_id FROM early_receipt x
			ORDER BY x.at DESC, x.gateway DESC, x.network_id DESC LIMIT 1 OFFSET $1)`
	// An early receipt that is older than keepEarly is ignored: networks use their ids again, so it may be about an
	// earlier text.
	sqlEarly = `SELECT network_id, state, at, reason FROM early_receipt
	WHERE gateway = CAST($1 AS TEXT) AND network_id IN (SELECT value FROM jsonb_each($2)) AND at >= $3`
	sqlDropEarly  = `DELETE FROM early_receipt WHERE gateway = $1 AND network_id = $2`
	sqlPruneEarly = `DELETE FROM early_receipt WHERE (gateway, network_id) IN
	(SELECT c.gateway, c.network_id FROM early_receipt c WHERE c.at < $1 ORDER BY c.at LIMIT CAST($2 AS BIGINT))`
	pgLockReceipts = `SELECT pg_advisory_xact_lock(hashtextextended(value, 0)) FROM json_array_elements_text($1::json)`
)

type earlyReceipt struct {
	id     string
	state  State
	at     int64
	reason string
}

// noteEarly stores an early receipt.
func (tx *Tx) noteEarly(gateway string, r earlyReceipt) error {
	if err := tx.do(sqlNoteEarly, gateway, r.id, string(r.state), r.at, r.reason); err != nil {
		return err
	}
	return tx.do(sqlDropOldest, maxEarly-1)
}

// lockReceipts makes receipts about these ids of a network wait until the transaction ends, or waits itself. Otherwise
// a receipt and a result could be stored at the same time, and neither transaction would see the other's row. In a file
// only one write runs at a time.
func (tx *Tx) lockReceipts(gateway string, ids ...string) error {
	if tx.pg == nil || !tx.pg.writes || len(ids) == 0 {
		return nil
	}
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = "receipt/" + gateway + "/" + id
	}
	slices.Sort(names) // all transactions lock in the same order
	list, err := json.Marshal(names)
	if err != nil {
		return err
	}
	return tx.do(pgLockReceipts, string(list))
}

// takenIDs returns, for each network, its ids of the texts that it took or may have taken.
func takenIDs(list []Settlement) (gateways []string, taken map[string][]string) {
	taken = map[string][]string{}
	for _, s := range list {
		id := s.networkID
		if s.state == Accepted {
			id = s.text
		}
		if id != "" {
			taken[s.gateway] = append(taken[s.gateway], id)
		}
	}
	for gateway := range taken {
		gateways = append(gateways, gateway)
	}
	slices.Sort(gateways)
	return gateways, taken
}

// applyEarly applies early receipts to texts that a network has just taken, or may have taken.
func (tx *Tx) applyEarly(gateway string, taken []string, now int64) error {
	list, err := json.Marshal(taken)
	if err != nil {
		return err
	}
	found, err := rows(tx, sqlEarly, args(gateway, string(list), now-keepEarly), func(r *earlyReceipt) []any {
		return args(&r.id, &r.state, &r.at, &r.reason)
	})
	if err != nil {
		return err
	}
	slices.SortFunc(found, func(a, b earlyReceipt) int { return cmp.Compare(a.id, b.id) })
	for _, r := range found {
		if _, err := tx.Receipt(gateway, r.id, r.state, r.at, r.reason); err != nil {
			return err
		}
		if err := tx.do(sqlDropEarly, gateway, r.id); err != nil {
			return err
		}
	}
	return nil
}
