package store

import (
	"crypto/rand"
	"crypto/sha256"
)

// StaffSession is a session of somebody who uses the desk.
type StaffSession struct {
	Hash    string // of the cookie's value; the value itself is not stored
	StaffID int64  // 0 before log-in
	Data    []byte
	Agent   string // what the browser calls itself
	BeganAt int64
	SeenAt  int64 // when it was used, to some minutes
	Until   int64
}

const (
	sqlStaffSession = `SELECT data, coalesce(staff_id, 0), agent, began_at, seen_at, until FROM staff_session
	WHERE hash = ` + asText
	sqlPutStaffSession = `INSERT INTO staff_session (hash, staff_id, data, agent, began_at, seen_at, until)
	VALUES ($1, $2, $3, $4, $5, $6, $7)
	ON CONFLICT (hash) DO UPDATE SET staff_id = excluded.staff_id, data = excluded.data`
	sqlSeenSession      = `UPDATE staff_session SET seen_at = $1 WHERE hash = $2`
	sqlEndStaffSession  = `DELETE FROM staff_session WHERE hash = $1`
	sqlEndStaffSessions = `DELETE FROM staff_session WHERE staff_id = $1 AND hash <> $2`
	sqlSessionsOfStaff  = `SELECT hash, coalesce(staff_id, 0), agent, began_at, seen_at, until FROM staff_session
	WHERE staff_id = ` + asID + ` AND until > $2 ORDER BY seen_at DESC, hash`
	sqlPruneStaffSessions = `DELETE FROM staff_session WHERE hash IN
	(SELECT c.hash FROM staff_session c WHERE c.until < $1 ORDER BY c.until LIMIT CAST($2 AS BIGINT))`
)

// StaffSession returns a session that has not ended; false if there is none.
func (tx *Tx) StaffSession(hash string, now int64) (s StaffSession, ok bool, err error) {
	s.Hash = hash
	ok, err = tx.one(sqlStaffSession, args(hash), &s.Data, &s.StaffID, &s.Agent, &s.BeganAt, &s.SeenAt, &s.Until)
	return s, ok && err == nil && now < s.Until, fail("session", err)
}

// PutStaffSession stores a session. Of one that exists, it changes only the data and the account.
func (tx *Tx) PutStaffSession(s StaffSession) error {
	return fail("session", tx.do(sqlPutStaffSession, s.Hash, orNull(s.StaffID), blob(s.Data), s.Agent, s.BeganAt,
		s.SeenAt, s.Until))
}

// SeenStaffSession stores when a session was used.
func (tx *Tx) SeenStaffSession(hash string, now int64) error {
	return fail("session", tx.do(sqlSeenSession, now, hash))
}

// EndStaffSession ends a session.
func (tx *Tx) EndStaffSession(hash string) error {
	return fail("end session", tx.do(sqlEndStaffSession, hash))
}

// EndSessions ends all sessions of an account except the one with the hash but; "" excepts none.
func (tx *Tx) EndSessions(staffID int64, but string) error {
	return fail("end sessions", tx.do(sqlEndStaffSessions, staffID, but))
}

// StaffSessions returns the sessions of an account, without their data; the one that was used last is first.
func (tx *Tx) StaffSessions(staffID, now int64) ([]StaffSession, error) {
	list, err := rows(tx, sqlSessionsOfStaff, args(staffID, now), func(s *StaffSession) []any {
		return args(&s.Hash, &s.StaffID, &s.Agent, &s.BeganAt, &s.SeenAt, &s.Until)
	})
	return list, fail("sessions", err)
}

// LinkLifetime is for how long a link sets a password, in seconds.
const LinkLifetime = 2 * secondsADay

const (
	sqlAddLink   = `INSERT INTO staff_link (hash, staff_id, until) VALUES ($1, $2, $3)`
	sqlLink      = `SELECT coalesce(staff_id, 0), until FROM staff_link WHERE hash = $1`
	sqlDropLink  = `DELETE FROM staff_link WHERE hash = $1`
	sqlDropLinks = `DELETE FROM staff_link WHERE staff_id = $1`
	sqlFirstLink = `DELETE FROM staff_link WHERE staff_id IS NULL`
	sqlAnyStaff  = `SELECT count(*) FROM staff WHERE ended_at IS NULL`
	sqlPruneLink = `DELETE FROM staff_link WHERE hash IN
	(SELECT c.hash FROM staff_link c WHERE c.until < $1 LIMIT CAST($2 AS BIGINT))`
)

func linkHash(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// AddLink returns the secret part of a link with which somebody sets the password of an account, once, within
// LinkLifetime. It replaces earlier links of the account. Only its hash is stored.
func (tx *Tx) AddLink(staffID, now int64) (token string, err error) {
	token = rand.Text()
	if err = tx.do(sqlDropLinks, staffID); err == nil {
		err = tx.do(sqlAddLink, linkHash(token), staffID, now+LinkLifetime)
	}
	return token, fail("link", err)
}

// FirstLink returns the secret part of a link with which the first operator makes an account. It returns "" if there
// are accounts. It replaces an earlier such link.
func (tx *Tx) FirstLink(now int64) (token string, err error) {
	var n int64
	if err := tx.lock(lockStaff); err != nil {
		return "", fail("link", err)
	}
	if _, err = tx.one(sqlAnyStaff, nil, &n); err != nil || n > 0 {
		return "", fail("link", err)
	}
	token = rand.Text()
	if err = tx.do(sqlFirstLink); err == nil {
		err = tx.do(sqlAddLink, linkHash(token), nil, now+LinkLifetime)
	}
	return token, fail("link", err)
}

// Link returns whose password a link sets: 0 for the first operator. The result ok is false for a link that was used,
// is too old or was never made.
func (tx *Tx) Link(token string, now int64) (staffID int64, ok bool, err error) {
	var until int64
	ok, err = tx.one(sqlLink, args(linkHash(token)), &staffID, &until)
	return staffID, ok && now < until, fail("link", err)
}

// UseLink uses a link up. It reports false if somebody else has used it meanwhile.
func (tx *Tx) UseLink(token string) (ok bool, err error) {
	n, err := tx.exec(sqlDropLink, linkHash(token))
	return n > 0, fail("link", err)
}
