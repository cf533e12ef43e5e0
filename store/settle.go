package store

import (
	"errors"
	"fmt"
)

// Settlement is the result of one try to send a claimed message. The methods of Message return it.
type Settlement struct {
	id      int64
	key     string
	try     int
	gateway string
	state   State
	text    string // the network's id of the text, or the reason of a failure
	at      int64  // when the next try is due, in Unix seconds
	unsure  bool   // true if the network may have taken the text
	back    bool   // true if the text was not tried at all
	counts  bool   // with back: true if later texts to its phone wait for it
	number  bool   // true if the phone number does not exist

	networkID string // the network's id of a text that it may have taken; "" for none
}

func (m Message) settle(state State, text string) Settlement {
	return Settlement{id: m.ID, key: m.Key, try: m.Tries, gateway: m.Gateway, state: state, text: text}
}

// Took returns the result "the network accepted the text". networkID is the network's id of the text, or "" if
// the network gives no id.
func (m Message) Took(networkID string) Settlement { return m.settle(Accepted, networkID) }

// Again returns the result "the network surely did not take the text". From the instant at on (in Unix seconds), any
// network may try again, if the text is still useful then. Otherwise the text expires.
func (m Message) Again(at int64, reason string) Settlement {
	s := m.settle(Queued, reason)
	s.at = at
	return s
}

// Unsure returns the result "the network may have taken the text". From the instant at on (in Unix seconds), only the
// same network may try again, if the text is still useful then. Otherwise the text ends as unknown.
func (m Message) Unsure(at int64, reason string) Settlement {
	s := m.Again(at, reason)
	s.unsure = true
	return s
}

// Back returns the result "the text was not tried". The text waits as if it had not been claimed.
func (m Message) Back(now int64, reason string) Settlement {
	s := m.Again(now, reason)
	s.back = true
	return s
}

// Later returns the result "the text was not tried, and may not be before the instant at" (in Unix seconds). Later
// texts to its phone wait for it, as after a try: that is why it stays counted.
func (m Message) Later(at int64, reason string) Settlement {
	s := m.Back(at, reason)
	s.counts = true
	return s
}

// Waits reports whether the text will be tried again.
func (s Settlement) Waits() bool { return s.state == Queued }

// Refuse returns the result "the network will never send the text".
func (m Message) Refuse(reason string) Settlement { return m.settle(Refused, reason) }

// NoSuchNumber is like Refuse, with the reason that the phone number does not exist. The bell (the reminder job)
// ignores the grower's plots until somebody uses the number.
func (m Message) NoSuchNumber(reason string) Settlement {
	s := m.Refuse(reason)
	s.number = true
	return s
}

// Expire returns the result "the text was not tried, because its useful time has ended".
func (m Message) Expire(reason string) Settlement { return m.settle(Expired, reason) }

// LostTrack returns the result "the network may have taken the text, and must not get it twice". The text ends as
// unknown.
func (m Message) LostTrack(reason string) Settlement {
	s := m.settle(Unknown, reason)
	s.unsure = true
	return s
}

// Named returns s with the id that the network gave the text in an answer which leaves open whether it took the text. A
// receipt may name the text by this id.
func (s Settlement) Named(networkID string) Settlement {
	s.networkID = networkID
	return s
}

const (
	// An acceptance is stored even if the lease has ended or the text was withdrawn. It does not replace a state from
	// a receipt: delivered, refused, or expired with accepted_at. If the key differs, the text was moved to another
	// number (see Move), and the acceptance is ignored.
	ended   = `(state IN ('delivered', 'refused') OR state = 'expired' AND accepted_at IS NOT NULL)`
	sqlTook = `UPDATE message SET network_id = coalesce($1, network_id), accepted_at = coalesce(accepted_at, $2),
		held = 0,
		claim_at  = CASE WHEN ` + ended + ` THEN claim_at ELSE NULL END,
		ended_at  = CASE WHEN ` + ended + ` THEN ended_at ELSE NULL END,
		reason    = CASE WHEN ` + ended + ` THEN reason ELSE '' END,
		state     = CASE WHEN ` + ended + ` THEN state ELSE 'accepted' END
	WHERE id = $3 AND key = $4`
	// All other results are stored only if their try has not ended yet. The mark "uncertain" (doubt = 1) stays: if a
	// later try is refused, an earlier try may still have sent the text.
	sqlAgain = `UPDATE message SET reason = $1, doubt = max(doubt, $2), back = '',
		state    = CASE WHEN $3 <= useful_until THEN 'queued' WHEN max(doubt, $2) = 1 THEN 'unknown'
		ELSE 'expired' END,
		claim_at = CASE WHEN $3 <= useful_until THEN $3 ELSE NULL END,
		ended_at = CASE WHEN $3 <= useful_until THEN NULL ELSE CAST($4 AS BIGINT) END
	WHERE id = $5 AND tries = $6 AND state = 'claimed'`
	sqlBack = `UPDATE message SET reason = $1, state = 'queued', claim_at = $2, tries = tries - 1 + $3,
		gateway = CASE WHEN doubt = 1 THEN gateway ELSE '' END
	WHERE id = $4 AND tries = $5 AND state = 'claimed'`
	sqlEnd = `UPDATE message SET state = CASE WHEN doubt = 1 THEN 'unknown' ELSE $1 END,
		undecided = CASE WHEN doubt = 1 OR $1 = 'unknown' THEN 1 ELSE 0 END, reason = $2, claim_at = NULL, ended_at = $3
	WHERE id = $4 AND tries = $5 AND state = 'claimed'`
	sqlNetworkID = `UPDATE message SET network_id = $1 WHERE id = $2 AND tries = $3 AND key = $4`
	// sqlNotBack ends a text as unknown if it was withdrawn during a try whose result is uncertain.
	sqlNotBack = `UPDATE message SET state = 'unknown', reason = $1, doubt = 1
		WHERE id = $2 AND tries = $3 AND key = $4 AND state = 'withdrawn'`
)

// Settle stores the results of tries. If a try has already ended, for example because its lease ended, only an
// acceptance is stored.
func (tx *Tx) Settle(now int64, list ...Settlement) error {
	gateways, taken := takenIDs(list)
	for _, g := range gateways {
		if err := tx.lockReceipts(g, taken[g]...); err != nil {
			return fail("settle", err)
		}
	}
	for _, s := range list {
		if err := tx.settle(now, s); err != nil {
			return fail("settle", err)
		}
	}
	for _, g := range gateways {
		if err := tx.applyEarly(g, taken[g], now); err != nil {
			return fail("settle", err)
		}
	}
	return nil
}

func (tx *Tx) settle(now int64, s Settlement) (err error) {
	if s.state != Accepted && !s.unsure {
		if err := tx.giveBack(s); err != nil {
			return err
		}
	}
	var rows int64
	switch {
	case s.state == Accepted:
		return tx.do(sqlTook, orNull(s.text), now, s.id, s.key)
	case s.back:
		return tx.do(sqlBack, s.text, s.at, s.counts, s.id, s.try)
	case s.state == Queued:
		rows, err = tx.exec(sqlAgain, s.text, s.unsure, s.at, now, s.id, s.try)
	case s.state == Refused, s.state == Expired, s.state == Unknown:
		rows, err = tx.exec(sqlEnd, string(s.state), s.text, now, s.id, s.try)
	default:
		return fmt.Errorf("%q is not how a try ends", s.state)
	}
	if err == nil && rows == 0 && s.unsure {
		err = tx.do(sqlNotBack, s.text, s.id, s.try, s.key)
	}
	if err == nil && s.unsure && s.networkID != "" {
		err = tx.do(sqlNetworkID, s.networkID, s.id, s.try, s.key)
	}
	if err != nil || rows == 0 {
		return err
	}
	if err = tx.notTold(s.id); err != nil || !s.number {
		return err
	}
	var phone Phone
	if _, err = tx.one(sqlPhoneOf, args(s.id), &phone); err == nil {
		err = tx.unreachable(phone, now)
	}
	return err
}

const sqlPhoneOf = `SELECT phone FROM message WHERE id = ` + asID

// If a lease ended and no result of a begun try was stored, the network may have taken the text, so the text ends as
// unknown.
const sqlExpire = `UPDATE message SET
		state = CASE WHEN doubt = 1 OR state = 'claimed' AND begun = 1 THEN 'unknown' ELSE 'expired' END,
		claim_at = NULL, ended_at = $1,
		reason = CASE WHEN held = 1 THEN reason ELSE 'its useful time is over' END, held = 0
	WHERE id IN (SELECT c.id FROM message c WHERE c.claim_at IS NOT NULL AND c.useful_until < $1
		AND (c.state = 'queued' OR c.claim_at <= $1) AND c.urgency = CAST($2 AS BIGINT) AND c.lane = CAST($3 AS TEXT)
		ORDER BY c.useful_until, c.id LIMIT CAST($4 AS BIGINT)) RETURNING id`

// ExpireStale ends the texts whose useful time has ended, at most limit of them, and returns their number. If it equals
// limit, there may be more. A text that is being sent ends only after its lease.
func (tx *Tx) ExpireStale(now int64, limit int) (n int, err error) {
	var stale []int64
	for u := range urgencyReminder + 1 {
		for _, prefix := range append([]string{""}, *tx.s.routePrefixes.Load()...) {
			if err == nil && len(stale) < limit {
				var more []int64
				more, err = column[int64](tx, sqlExpire, args(now, u, prefix, limit-len(stale)))
				stale = append(stale, more...)
			}
		}
	}
	for _, id := range stale {
		if err == nil {
			err = errors.Join(tx.giveBackUnsent(id), tx.notTold(id))
		}
	}
	return len(stale), fail("expire", err)
}
