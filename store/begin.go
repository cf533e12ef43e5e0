package store

const sqlStillClaimed = `SELECT 1 FROM message WHERE id = ` + asID + ` AND tries = $2 AND state = 'claimed'
	AND useful_until >= $3`

// StillClaimed reports whether a network may still send the text m, which it claimed earlier. It may not if the text
// was withdrawn, claimed again or moved to another number, or if its useful time has ended.
func (tx *Tx) StillClaimed(m Message, now int64) (bool, error) {
	holds, err := tx.one(sqlStillClaimed, args(m.ID, m.Tries, now), new(int64))
	return holds, fail("still claimed", err)
}

const sqlBegin = `UPDATE message SET begun = 1 WHERE id = $1 AND tries = $2 AND state = 'claimed' AND begun = 0
	AND useful_until >= $3`

// Begin records that the try to send m begins, and reports whether m may be sent, as StillClaimed does. For a network
// that is not idempotent, the caller commits this before the network gets the first octet of m. So after a crash only
// texts with a begun try end as unknown; the other claimed texts are queued again.
func (tx *Tx) Begin(m Message, now int64) (bool, error) {
	n, err := tx.exec(sqlBegin, m.ID, m.Tries, now)
	return n > 0, fail("begin", err)
}

const (
	sqlEndUnknown = `UPDATE message SET state = 'unknown', claim_at = NULL, undecided = 1, ended_at = $1, reason = $2
		WHERE id = $3`
	sqlQueueUncertain = `UPDATE message SET state = 'queued', claim_at = $1, doubt = 1 WHERE id = $2`
	// The count of tries stays, because it tells this claim from the next one: a slow worker must not begin a text that
	// was claimed anew.
	sqlQueueUnbegun = `UPDATE message SET state = 'queued', claim_at = $1,
		gateway = CASE WHEN doubt = 1 THEN gateway ELSE '' END
	WHERE id = $2`
	brokenOff = "broken off: the network may have taken it"
)

// endClaim ends a claim that has no result, because its lease or its process ended, and counts it in n. If no network
// can have the text, it is queued as if it had not been claimed. If an idempotent network may have it, it is queued and
// marked as uncertain. Otherwise it ends as unknown.
func (tx *Tx) endClaim(now int64, m Message, n *Interrupted) error {
	switch {
	case !m.begun:
		n.Queued++
		if err := tx.giveBack(m.Back(now, "")); err != nil {
			return err
		}
		return tx.do(sqlQueueUnbegun, now, m.ID)
	case !m.once:
		n.Again++
		return tx.do(sqlQueueUncertain, now, m.ID)
	}
	n.Unknown++
	return tx.do(sqlEndUnknown, now, brokenOff, m.ID)
}

// Interrupted counts the texts that were claimed when the last service ended without storing their results.
type Interrupted struct {
	Queued  int64 // no network has them: they are sent as if nothing had happened
	Again   int64 // an idempotent network may have them, and gets them again
	Unknown int64 // another network may have them, so they ended as unknown
}

const (
	sqlClaimed   = `SELECT ` + messageColumns + ` FROM message WHERE claim_at IS NOT NULL AND state = 'claimed'`
	sqlClaimedBy = sqlClaimed + ` AND claimant = $1`
)

// EndClaims ends all claims of a service that crashed. The service calls it when it starts: while it has the file lock,
// no other process sends.
//
// On a server other processes may be sending. There the claims of an earlier process of the same name end at once, and
// those of others when their leases end.
func (tx *Tx) EndClaims(now int64) (n Interrupted, err error) {
	var list []Message
	if tx.pg == nil {
		list, err = tx.messages(sqlClaimed)
	} else if err = tx.lock(lockClaims); err == nil {
		list, err = tx.messages(sqlClaimedBy, tx.s.process)
	}
	for _, m := range list {
		if err == nil {
			err = tx.endClaim(now, m, &n)
		}
	}
	return n, fail("end claims", err)
}
