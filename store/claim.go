package store

import (
	"cmp"
	"encoding/json"
	"slices"
	"time"
)

// Claimant is a network that claims texts from the outbox in order to send them.
type Claimant struct {
	Gateway       string
	RoutePrefixes []string // prefixes of the phone numbers to which the network can send at the moment
	// Back lists the networks that work at the moment. It is set if the answer to a text goes by the network that
	// brought the text: another network claims the answer only if that network does not work. nil: the routes alone
	// decide.
	Back  []string
	Max   int           // largest number of texts to claim
	Lease time.Duration // how long no other network may claim the texts; rounded up to whole seconds
	// AtMostOnce is set for a network that might send a repeated text twice. Such a network never gets a text again
	// that it may have taken.
	AtMostOnce bool

	Segments func(text string) int // counts the SMS segments of a text; if nil, segments are not counted
	Price    int64                 // price of a segment, in millionths of the currency's unit
	All      Limits                // limits of all networks together
	Own      Limits                // limits of this network alone
	Number   Limits                // limits of each phone number; they never defer the text that confirms a STOP
}

// Claims is the result of a claim.
type Claims struct {
	Texts        []Message  // the claimed texts, most urgent first
	Until        int64      // when the lease of Texts ends, in Unix seconds; after that, the texts may be claimed again
	Deferred     []Deferred // texts that limits deferred, one item for each limit
	OperatorHold bool       // true if nothing was claimed because an operator put all sending on hold
	Ended        bool       // true if leases had ended; their texts that are queued again are for the next claim
}

// maxLook is the largest number of texts that one claim looks at; the next claim looks at further texts. A claim that
// looks at more would delay all other writes, and with them the replies to growers who wait at their phones.
const maxLook = 500

// Claim reserves due texts for the network until the lease ends. Answers come before reminders. Within each of these
// two groups, the text with the earliest UsefulUntil comes first. Texts to the same phone are sent in order: a text
// waits while another text to its phone is being sent, or while an earlier text to its phone waits for its next try.
//
// If a lease ended without a result, or a try had an uncertain outcome, the network may have taken the text. Then only
// the same network claims the text again, with the same idempotency key. If that network is not idempotent, the text
// ends as unknown, unless its try had not begun. So no text is handed to two networks that may both have it, even after
// a crash.
//
// A text that would exceed a limit is deferred to the next day or month of that limit.
func (tx *Tx) Claim(now int64, c Claimant) (out Claims, err error) {
	defer func() { err = fail("claim", err) }()
	// Two claims at the same time could each take one of two texts to the same phone, and exceed a budget together.
	if err = tx.lock(lockClaims); err != nil {
		return out, err
	}
	if _, out.OperatorHold, err = tx.SendingHeld(); err != nil || out.OperatorHold {
		return out, err
	}
	out.Until = now + seconds(c.Lease)
	p := &budgets{tx: tx, now: now, c: c}
	for looked := 0; len(out.Texts) < c.Max && looked < maxLook; {
		list, err := tx.due(now, c, c.Max-len(out.Texts))
		if err != nil {
			return out, err
		}
		if len(list) == 0 {
			break
		}
		looked += len(list)
		expired, err := tx.expireLeases(now, list, c)
		if err != nil {
			return out, err
		}
		// Later texts in list to the same phones must wait for the texts queued again. These are for the next claim,
		// because SuppressAtNight comes before.
		if out.Ended = expired; expired {
			break
		}
		var paid [][3]int64 // for each text: its id, its segments and their cost
		for _, m := range list {
			segments, cost, deferred, err := p.take(m)
			if err != nil {
				return out, err
			}
			if deferred {
				continue
			}
			paid = append(paid, [3]int64{m.ID, segments, cost})
			m.State, m.Gateway, m.Tries = Claimed, c.Gateway, m.Tries+1
			m.once, m.begun = c.AtMostOnce, !c.AtMostOnce // for an idempotent network nobody calls Begin
			out.Texts = append(out.Texts, m)
		}
		these, err := json.Marshal(paid)
		if err == nil && len(paid) > 0 {
			err = tx.do(sqlClaim, out.Until, c.Gateway, tx.s.process, c.AtMostOnce, dayOf(now), string(these))
		}
		if err != nil {
			return out, err
		}
	}
	out.Deferred = p.deferred
	return out, p.write()
}

const (
	// All claimed texts are updated by one statement, because an UPDATE for each text took twice as long.
	sqlClaim = `UPDATE message SET state = 'claimed', claim_at = $1, tries = tries + 1, gateway = $2,
		claimant = $3, once = $4, begun = 1 - $4, held = 0, charge_day = coalesce(charge_day, $5),
		charge_segments = charge_segments + json_extract(value, '$[1]'),
		charge_micros = charge_micros + json_extract(value, '$[2]')
	FROM jsonb_each($6) WHERE message.id = json_extract(value, '$[0]')`

	// ahead is an SQL condition: a text c must wait for another text to the same phone. The other text is being sent,
	// or it is an earlier text that must be tried again.
	ahead = `EXISTS (SELECT 1 FROM message o WHERE o.phone = c.phone AND o.claim_at IS NOT NULL AND o.id <> c.id AND
		(o.state = 'claimed' AND o.claim_at > $1
		OR o.tries > 0 AND o.held = 0 AND (o.claim_at > $1 OR o.doubt = 1)
			AND (o.doubt = 0 OR o.gateway = CAST($2 AS TEXT))
			AND (o.urgency, o.useful_until, o.id) < (c.urgency, c.useful_until, c.id)))`
	dueNow = `SELECT ` + messageColumns + ` FROM message c
		WHERE c.claim_at <= $1 AND c.useful_until >= $1 AND NOT ` + ahead
	sqlDueByPrefix = dueNow + ` AND c.doubt = 0 AND c.urgency = CAST($3 AS BIGINT) AND c.lane = CAST($4 AS TEXT)
		AND (c.back = '' OR c.back NOT IN (SELECT value FROM jsonb_each($5)))
		ORDER BY c.useful_until, c.id LIMIT CAST($6 AS BIGINT)`
	// The condition back <> '' lets SQLite use the index message_back.
	sqlDueBack = dueNow + ` AND c.doubt = 0 AND c.back = CAST($2 AS TEXT) AND c.back <> ''
		AND c.urgency = CAST($3 AS BIGINT) ORDER BY c.useful_until, c.id LIMIT CAST($4 AS BIGINT)`
	// Only the network that may have taken an uncertain text claims it, even if it no longer serves the route prefix.
	sqlDueUncertain = dueNow + ` AND c.doubt = 1 AND c.gateway = CAST($2 AS TEXT)
		ORDER BY c.urgency, c.useful_until, c.id LIMIT CAST($3 AS BIGINT)`
)

// due returns at most n texts that may be claimed now, most urgent first.
func (tx *Tx) due(now int64, c Claimant, n int) ([]Message, error) {
	list, err := tx.messages(sqlDueUncertain, now, c.Gateway, n)
	if err != nil {
		return nil, err
	}
	working := []string{} // not nil, which would be null in JSON
	if c.Back != nil {
		working = slices.Concat(c.Back, []string{c.Gateway})
	}
	workingJSON, err := json.Marshal(working)
	if err != nil {
		return nil, err
	}
	for u := range urgencyReminder + 1 {
		if c.Back != nil {
			more, err := tx.messages(sqlDueBack, now, c.Gateway, u, n)
			if err != nil {
				return nil, err
			}
			list = append(list, more...)
		}
		for _, prefix := range c.RoutePrefixes {
			more, err := tx.messages(sqlDueByPrefix, now, c.Gateway, u, prefix, string(workingJSON), n)
			if err != nil {
				return nil, err
			}
			list = append(list, more...)
		}
		slices.SortFunc(list, func(a, b Message) int {
			return cmp.Or(cmp.Compare(a.urgency(), b.urgency()), cmp.Compare(a.UsefulUntil, b.UsefulUntil),
				cmp.Compare(a.ID, b.ID))
		})
		if len(list) >= n && list[n-1].urgency() <= u {
			break
		}
	}
	return list[:min(n, len(list))], nil
}

// expireLeases ends the claims whose lease ended without a result, as endClaim says. If a network was idempotent and is
// not any more (a repeated text might be sent twice), texts that it may have end as unknown.
func (tx *Tx) expireLeases(now int64, list []Message, c Claimant) (expired bool, err error) {
	for _, m := range list {
		lost := m.State == Claimed && m.begun || m.MaybeSent
		switch {
		case err != nil:
		case lost && m.Gateway == c.Gateway && c.AtMostOnce:
			err = tx.do(sqlEndUnknown, now, brokenOff, m.ID)
			expired = true
		case m.State == Claimed:
			err = tx.endClaim(now, m, new(Interrupted))
			expired = true
		}
	}
	return expired, err
}
