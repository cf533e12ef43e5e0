package store

import (
	"cmp"
	"encoding/json"
	"slices"
	"time"
)

// Claimant is a network that takes texts out of the outbox.
type Claimant struct {
	Gateway       string
	RoutePrefixes []string      // those it serves just now
	Max           int           // texts, at most
	Lease         time.Duration // for which they are its own, rounded up to seconds
	// AtMostOnce: the network sends again what it gets again. A text that it may have
	// taken is then never handed to it a second time.
	AtMostOnce bool

	Segments func(text string) int // SMS segments of a text; nil: they are not counted
	Price    int64                 // of a segment, in millionths
	All      Limits                // of all networks together
	Own      Limits                // of this one
	Number   Limits                // of one number; nothing holds the confirmation of a stop
}

// Claims is what a claim came to.
type Claims struct {
	Texts        []Message  // the most urgent first
	Until        int64      // when the lease of these ends, in Unix seconds: from then on another may claim them
	Deferred     []Deferred // what limits held back, a line for each limit
	OperatorHold bool       // an operator holds all texts: see SendingHeld
}

// maxLook bounds the texts that one claim looks at: what is held is passed over
// in steps, so that callbacks are not kept waiting.
const maxLook = 500

// Claim takes texts that are due, as many as the claimant wants, for as long as
// the lease: answers to somebody who waits before reminders, and of both those
// first whose useful time ends first. Texts of one phone do not overtake each
// other: none is taken while another is on its way there, or while one that
// comes before it is to be tried again.
//
// A text whose lease ended without being settled was handed over by somebody
// who is gone: the network may have it. It is claimed again by the same network
// only, whose key tells of the repeat, and ends as unknown where a network
// would send it twice. So is one whose last try was unsure.
//
// What a limit does not allow is held until the limit's next day or month.
func (tx *Tx) Claim(now int64, c Claimant) (Claims, error) {
	out, err := tx.claim(now, c)
	return out, fail("claim", err)
}

func (tx *Tx) claim(now int64, c Claimant) (out Claims, err error) {
	if _, out.OperatorHold, err = tx.SendingHeld(); err != nil || out.OperatorHold {
		return out, err
	}
	out.Until = now + int64((c.Lease+time.Second-1)/time.Second)
	p := tx.purses(now, c)
	for looked := 0; len(out.Texts) < c.Max && looked < maxLook; {
		list, err := tx.due(now, c, c.Max-len(out.Texts))
		if err != nil {
			return out, err
		}
		if len(list) == 0 {
			break
		}
		looked += len(list)
		lapsed, err := tx.expireLeases(now, list, c)
		if err != nil {
			return out, err
		}
		if lapsed { // what comes behind must wait for them: look again
			continue
		}
		var paid [][3]int64 // id, segments, cost
		for _, m := range list {
			segments, cost, held, err := p.take(m)
			if err != nil {
				return out, err
			}
			if held {
				continue
			}
			paid = append(paid, [3]int64{m.ID, segments, cost})
			m.State, m.Gateway, m.once, m.Tries = Claimed, c.Gateway, c.AtMostOnce, m.Tries+1
			out.Texts = append(out.Texts, m)
		}
		these, err := json.Marshal(paid)
		if err == nil && len(paid) > 0 {
			_, err = tx.exec(sqlClaim, out.Until, c.Gateway, c.AtMostOnce, dayOf(now), string(these))
		}
		if err != nil {
			return out, err
		}
	}
	out.Deferred = p.held
	return out, p.write()
}

const (
	// All at once: one by one they took twice as long.
	sqlClaim = `UPDATE message SET state = 'claimed', claim_at = $1, tries = tries + 1, gateway = $2, once = $3, held = 0,
		charge_day = coalesce(charge_day, $4), charge_segments = charge_segments + json_extract(value, '$[1]'),
		charge_micros = charge_micros + json_extract(value, '$[2]') FROM json_each($5) WHERE message.id = json_extract(value, '$[0]')`

	// What c must wait for.
	ahead = `EXISTS (SELECT 1 FROM message o WHERE o.phone = c.phone AND o.claim_at IS NOT NULL AND o.id <> c.id AND
		(o.state = 'claimed' AND o.claim_at > $1
		OR o.tries > 0 AND o.held = 0 AND (o.claim_at > $1 OR o.doubt = 1) AND (o.doubt = 0 OR o.gateway = $2)
			AND (o.urgency, o.useful_until, o.id) < (c.urgency, c.useful_until, c.id)))`
	dueNow       = `SELECT ` + messageColumns + ` FROM message c WHERE c.claim_at <= $1 AND c.useful_until >= $1 AND NOT ` + ahead
	sqlDueInLane = dueNow + ` AND c.doubt = 0 AND c.urgency = $3 AND c.lane = $4 ORDER BY c.useful_until, c.id LIMIT $5`
	// In doubt and bound to this network, in whatever lane.
	sqlDueInDoubt = dueNow + ` AND c.doubt = 1 AND c.gateway = $2 ORDER BY c.urgency, c.useful_until, c.id LIMIT $3`
)

// due is what can be claimed, in the order in which it should be.
func (tx *Tx) due(now int64, c Claimant, n int) ([]Message, error) {
	list, err := tx.messages(sqlDueInDoubt, args(now, c.Gateway, n))
	if err != nil {
		return nil, err
	}
	for u := range urgencyReminder + 1 {
		for _, lane := range c.RoutePrefixes {
			more, err := tx.messages(sqlDueInLane, args(now, c.Gateway, u, lane, n))
			if err != nil {
				return nil, err
			}
			list = append(list, more...)
		}
		slices.SortFunc(list, func(a, b Message) int {
			return cmp.Or(cmp.Compare(a.urgency(), b.urgency()), cmp.Compare(a.UsefulUntil, b.UsefulUntil), cmp.Compare(a.ID, b.ID))
		})
		if len(list) >= n && list[n-1].urgency() <= u {
			break
		}
	}
	return list[:min(n, len(list))], nil
}

const (
	sqlLost  = `UPDATE message SET state = 'unknown', claim_at = NULL, ended_at = $1, reason = $2 WHERE id = $3`
	sqlDoubt = `UPDATE message SET state = 'queued', claim_at = $1, doubt = 1 WHERE id = $2`
)

// expireLeases looks for texts that somebody handed to their network without telling
// how it ended, and for those that must not be handed to it any more.
func (tx *Tx) expireLeases(now int64, list []Message, c Claimant) (lapsed bool, err error) {
	for _, m := range list {
		switch {
		case err != nil:
		case m.State == Claimed && m.once, (m.State == Claimed || m.MaybeSent) && m.Gateway == c.Gateway && c.AtMostOnce:
			_, err = tx.exec(sqlLost, now, "broken off: the network may have taken it", m.ID)
			lapsed = true
		case m.State == Claimed:
			_, err = tx.exec(sqlDoubt, now, m.ID)
			lapsed = true
		}
	}
	return lapsed, err
}
