package store

import (
	"fmt"
)

// Settlement is how one try to send a claimed message ended. Make it with
// Took, Again, Unsure, Back, Refuse, NoSuchNumber, Expire or LostTrack.
type Settlement struct {
	id      int64
	key     string
	try     int
	gateway string
	state   State
	text    string // the network's id, or the reason
	at      int64  // the next try
	unsure  bool   // the network may have taken it
	back    bool   // it was not tried
	number  bool   // there is no such number
}

func (m Message) settle(state State, text string) Settlement {
	return Settlement{id: m.ID, key: m.Key, try: m.Tries, gateway: m.Gateway, state: state, text: text}
}

// Took: the network accepted the text under this id of its own ("" if it has none).
func (m Message) Took(networkID string) Settlement { return m.settle(Accepted, networkID) }

// Again: the network did not take it this time; the next try, by any network,
// is at this instant. It expires instead if that is past its useful time.
func (m Message) Again(at int64, reason string) Settlement {
	s := m.settle(Queued, reason)
	s.at = at
	return s
}

// Unsure is Again where the network may have taken it: only the same network
// tries it again, and past its useful time it ends as unknown.
func (m Message) Unsure(at int64, reason string) Settlement {
	s := m.Again(at, reason)
	s.unsure = true
	return s
}

// Back: it was not tried after all, and waits as if it had not been claimed.
func (m Message) Back(now int64, reason string) Settlement {
	s := m.Again(now, reason)
	s.back = true
	return s
}

// Waits reports that after this the text is to be tried again.
func (s Settlement) Waits() bool { return s.state == Queued }

// Refuse: the network will not send it, today or later.
func (m Message) Refuse(reason string) Settlement { return m.settle(Refused, reason) }

// NoSuchNumber is Refuse because the network knows no phone of this number:
// its grower is left alone until heard of again.
func (m Message) NoSuchNumber(reason string) Settlement {
	s := m.Refuse(reason)
	s.number = true
	return s
}

// Expire: it was not tried, for it is no longer useful.
func (m Message) Expire(reason string) Settlement { return m.settle(Expired, reason) }

// LostTrack: whether the network took it cannot be told, and it must not be
// sent twice.
func (m Message) LostTrack(reason string) Settlement {
	s := m.settle(Unknown, reason)
	s.unsure = true
	return s
}

const (
	// That the network took a text is true whatever was thought meanwhile
	// (the lease ended, the text was withdrawn); only a receipt knows better.
	// A text that expired here, and not by a receipt, was never accepted. With
	// another key it is a text to another number (Move).
	ended   = `(state IN ('delivered', 'refused') OR state = 'expired' AND accepted_at IS NOT NULL)`
	sqlTook = `UPDATE message SET network_id = coalesce($1, network_id), accepted_at = coalesce(accepted_at, $2), held = 0,
		claim_at  = CASE WHEN ` + ended + ` THEN claim_at ELSE NULL END,
		ended_at  = CASE WHEN ` + ended + ` THEN ended_at ELSE NULL END,
		reason    = CASE WHEN ` + ended + ` THEN reason ELSE '' END,
		state     = CASE WHEN ` + ended + ` THEN state ELSE 'accepted' END
	WHERE id = $3 AND key = $4`
	// The rest holds only for the try that is on: a later claim has its own.
	// What was in doubt stays so: a later no tells nothing of the first try.
	sqlAgain = `UPDATE message SET reason = $1, doubt = max(doubt, $2),
		state    = CASE WHEN $3 <= useful_until THEN 'queued' WHEN max(doubt, $2) = 1 THEN 'unknown' ELSE 'expired' END,
		claim_at = CASE WHEN $3 <= useful_until THEN $3 ELSE NULL END,
		ended_at = CASE WHEN $3 <= useful_until THEN NULL ELSE CAST($4 AS BIGINT) END
	WHERE id = $5 AND tries = $6 AND state = 'claimed'`
	sqlBack = `UPDATE message SET reason = $1, state = 'queued', claim_at = $2, tries = tries - 1,
		gateway = CASE WHEN doubt = 1 THEN gateway ELSE '' END
	WHERE id = $3 AND tries = $4 AND state = 'claimed'`
	sqlEnd = `UPDATE message SET state = CASE WHEN doubt = 1 THEN 'unknown' ELSE $1 END, reason = $2, claim_at = NULL, ended_at = $3
	WHERE id = $4 AND tries = $5 AND state = 'claimed'`
	// One that was taken back while it was on its way may have arrived.
	sqlNotBack = `UPDATE message SET state = 'unknown', reason = $1, doubt = 1 WHERE id = $2 AND tries = $3 AND key = $4 AND state = 'withdrawn'`
)

// Settle writes how tries ended, in one transaction for as many as there are.
// A settlement that came too late changes nothing.
func (tx *Tx) Settle(now int64, list ...Settlement) error {
	for _, s := range list {
		if err := tx.settle(now, s); err != nil {
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
		if rows, err = tx.exec(sqlTook, orNull(s.text), now, s.id, s.key); err != nil || rows == 0 {
			return err
		}
		return tx.told(s, now)
	case s.back:
		_, err := tx.exec(sqlBack, s.text, s.at, s.id, s.try)
		return err
	case s.state == Queued:
		rows, err = tx.exec(sqlAgain, s.text, s.unsure, s.at, now, s.id, s.try)
	case s.state == Refused, s.state == Expired, s.state == Unknown:
		rows, err = tx.exec(sqlEnd, string(s.state), s.text, now, s.id, s.try)
	default:
		return fmt.Errorf("%q is not how a try ends", s.state)
	}
	switch {
	case err != nil:
	case rows == 0 && s.unsure:
		_, err = tx.exec(sqlNotBack, s.text, s.id, s.try, s.key)
	case rows > 0:
		if err = tx.notTold(s.id); err == nil && s.number {
			err = tx.noNumber(s.id, now)
		}
	}
	return err
}

const sqlPhoneOf = `SELECT phone FROM message WHERE id = ` + asID + ``

// noNumber follows a text to a number that is none.
func (tx *Tx) noNumber(message, now int64) error {
	var phone string
	if _, err := tx.one(sqlPhoneOf, args(message), &phone); err != nil {
		return err
	}
	return tx.unreachable(Phone(phone), now)
}

// One that was handed to a network by somebody who is gone may have arrived.
const sqlExpire = `UPDATE message SET state = CASE WHEN doubt = 1 OR state = 'claimed' THEN 'unknown' ELSE 'expired' END, claim_at = NULL, ended_at = $1,
		reason = CASE WHEN held = 1 THEN reason ELSE 'its useful time is over' END, held = 0
	WHERE claim_at IS NOT NULL AND useful_until < $1 AND (state = 'queued' OR claim_at <= $1) AND urgency = $2 AND lane = $3 RETURNING id`

// ExpireStale ends the texts whose last useful time went by before the
// network took them. One that is being sent is waited for.
func (tx *Tx) ExpireStale(now int64) (n int64, err error) {
	var stale []int64
	for u := range urgencyReminder + 1 {
		for _, lane := range append([]string{""}, tx.s.routePrefixes...) {
			if err == nil {
				err = tx.each(sqlExpire, args(now, u, lane), func(scan func(...any) error) error {
					var id int64
					err := scan(&id)
					stale = append(stale, id)
					return err
				})
			}
		}
	}
	for _, id := range stale {
		if err == nil {
			err = tx.notTold(id)
		}
	}
	return int64(len(stale)), fail("expire", err)
}
