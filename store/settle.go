package store

import (
	"fmt"

	"rowbell/engine"
)

// Settlement is how one try to send a claimed message ended. Make it with
// Took, Again, Refuse, Expire or LostTrack.
type Settlement struct {
	id    int64
	key   string
	try   int
	state State
	text  string // the network's id, or the reason
	at    int64  // the next try
}

// Took: the network accepted the text under this id of its own ("" if it has none).
func (m Message) Took(networkID string) Settlement {
	return Settlement{m.ID, m.Key, m.Tries, Accepted, networkID, 0}
}

// Again: it failed for now; the next try is at this instant. It expires
// instead if that is past its useful time.
func (m Message) Again(at int64, reason string) Settlement {
	return Settlement{m.ID, m.Key, m.Tries, Queued, reason, at}
}

// Refuse: the network will not send it, today or later.
func (m Message) Refuse(reason string) Settlement {
	return Settlement{m.ID, m.Key, m.Tries, Refused, reason, 0}
}

// Expire: it is no longer useful.
func (m Message) Expire(reason string) Settlement {
	return Settlement{m.ID, m.Key, m.Tries, Expired, reason, 0}
}

// LostTrack: whether the network took it cannot be told, and it must not be
// sent twice.
func (m Message) LostTrack(reason string) Settlement {
	return Settlement{m.ID, m.Key, m.Tries, Unknown, reason, 0}
}

const (
	// That the network took a text is true whatever was thought meanwhile
	// (the lease ended, the text was withdrawn); only a receipt knows better.
	// A text that expired here, and not by a receipt, was never accepted. With
	// another key it is a text to another number (Move).
	ended   = `(state IN ('delivered', 'refused') OR state = 'expired' AND accepted_at IS NOT NULL)`
	sqlTook = `UPDATE message SET network_id = coalesce($1, network_id), accepted_at = coalesce(accepted_at, $2),
		claim_at  = CASE WHEN ` + ended + ` THEN claim_at ELSE NULL END,
		ended_at  = CASE WHEN ` + ended + ` THEN ended_at ELSE NULL END,
		reason    = CASE WHEN ` + ended + ` THEN reason ELSE '' END,
		state     = CASE WHEN ` + ended + ` THEN state ELSE 'accepted' END
	WHERE id = $3 AND key = $4`
	// The rest holds only for the try that is on: a later claim has its own.
	sqlAgain = `UPDATE message SET reason = $1,
		state    = CASE WHEN $2 <= useful_until THEN 'queued' ELSE 'expired' END,
		claim_at = CASE WHEN $2 <= useful_until THEN $2 ELSE NULL END,
		ended_at = CASE WHEN $2 <= useful_until THEN NULL ELSE CAST($3 AS BIGINT) END
	WHERE id = $4 AND tries = $5 AND state = 'claimed'`
	sqlEnd = `UPDATE message SET state = $1, reason = $2, claim_at = NULL, ended_at = $3
	WHERE id = $4 AND tries = $5 AND state = 'claimed'`
)

// Settle writes how tries ended, in one transaction for as many as there are.
// A settlement that came too late changes nothing.
func (tx *Tx) Settle(now int64, list ...Settlement) error {
	for _, s := range list {
		var err error
		switch s.state {
		case Accepted:
			_, err = tx.exec(sqlTook, orNull(s.text), now, s.id, s.key)
		case Queued:
			_, err = tx.exec(sqlAgain, s.text, s.at, now, s.id, s.try)
		case Refused, Expired, Unknown:
			_, err = tx.exec(sqlEnd, string(s.state), s.text, now, s.id, s.try)
		default:
			err = fmt.Errorf("%q is not how a try ends", s.state)
		}
		if err == nil && s.state != Accepted {
			err = tx.notTold(s.id)
		}
		if err != nil {
			return fail("settle", err)
		}
	}
	return nil
}

const (
	sqlNotTold    = `SELECT kind FROM message WHERE id = $1 AND state IN ('refused', 'expired')`
	sqlUntellKind = `DELETE FROM told WHERE kind = $1 AND plot_id IN (SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $2)`
)

// notTold follows a text that ended without reaching its grower: the days it
// named were not told, so those told before hold again, and a text that was to
// move them may be written anew.
func (tx *Tx) notTold(message int64) error {
	var name string
	ended, err := tx.one(sqlNotTold, args(message), &name)
	kind := reminderKind(name)
	if err != nil || !ended || kind == 0 || !announces(kind) {
		return err
	}
	if _, err := tx.exec(sqlUnannounce, message); err != nil || kind != engine.KindMoved {
		return err
	}
	_, err = tx.exec(sqlUntellKind, int64(kind), message)
	return err
}

const sqlExpire = `UPDATE message SET state = 'expired', claim_at = NULL, ended_at = $1, reason = 'its useful time is over'
	WHERE claim_at <= $1 AND useful_until < $1 RETURNING id`

// ExpireStale ends the texts whose last useful time went by before the
// network took them. One that is being sent is waited for.
func (tx *Tx) ExpireStale(now int64) (n int64, err error) {
	var stale []int64
	err = tx.each(sqlExpire, args(now), func(scan func(...any) error) error {
		var id int64
		err := scan(&id)
		stale = append(stale, id)
		return err
	})
	for _, id := range stale {
		if err == nil {
			err = tx.notTold(id)
		}
	}
	return int64(len(stale)), fail("expire", err)
}

const (
	sqlFindReceipt = `SELECT id, state FROM message WHERE key = ` + asText + ` OR network_id = ` + asText + ` ORDER BY key = ` + asText + ` DESC, id DESC LIMIT 1`
	sqlDelivered   = `UPDATE message SET state = 'delivered', claim_at = NULL, reason = $1,
		accepted_at = coalesce(accepted_at, $2), ended_at = $2
	WHERE id = $3`
	// Who tells of a text has taken it.
	sqlFailed = `UPDATE message SET state = $1, claim_at = NULL, reason = $2,
		accepted_at = coalesce(accepted_at, $3), ended_at = $3
	WHERE id = $4`
)

// Receipt notes what the network says of a text, named by our key or by the
// network's id: Delivered, Refused or Expired. Receipts come late, twice and
// out of order: delivered stands whatever follows, and beats whatever was
// before; the others only end what has not ended. It reports whether there is
// such a text.
func (tx *Tx) Receipt(id string, state State, at int64, reason string) (known bool, err error) {
	if state != Delivered && state != Refused && state != Expired {
		return false, fmt.Errorf("store: receipt: %q is not a state that a network tells", state)
	}
	var row int64
	var was string
	known, err = tx.one(sqlFindReceipt, args(id), &row, &was)
	if err != nil || !known {
		return false, fail("receipt", err)
	}
	switch {
	case State(was) == Delivered:
	case state == Delivered:
		_, err = tx.exec(sqlDelivered, reason, at, row)
	case State(was) == Queued, State(was) == Claimed, State(was) == Accepted, State(was) == Unknown:
		if _, err = tx.exec(sqlFailed, string(state), reason, at, row); err == nil {
			err = tx.notTold(row)
		}
	}
	return true, fail("receipt", err)
}
