package store

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
)

// Waits are counts of what waits now.
type Waits struct {
	At        int64 // when they were counted
	DuePlots  int64 // plots at which the bell (the reminder job) should look now
	Sessions  int64 // sessions that have not expired
	LeftAlone int64 // phones that are left alone, see Exchange
	Texts     []WaitingTexts
}

// WaitingTexts are the texts in one state that wait for the same reason.
type WaitingTexts struct {
	State State
	// What is the reason: "due", "later" (not yet due), "again" (for a further try), "doubt" (for a further try after
	// an uncertain outcome), "sending" (for the result of a try) or "held" (deferred by a limit).
	What      string
	Texts     int64
	Oldest    int64 // when the oldest of these texts was written
	OldestDue int64 // when the text that has waited longest was due
	EndsFirst int64 // when the useful time of one of these texts ends first
}

// WaitsCount counts what waits. It looks only at rows that wait, through their indexes, and at all sessions.
type WaitsCount struct {
	Count
	Waits
}

const (
	// Many plots are due at the same instant, such as the morning of a place. So a page of plots first takes the rest
	// of those that are due at the instant of the position, and then those that are due later.
	sqlCountDueAt = `SELECT count(*), coalesce(max(x.id), 0) FROM (SELECT p.id FROM plot p
		WHERE p.look_at = ` + asID + ` AND p.id > $2 ORDER BY p.id LIMIT CAST($3 AS BIGINT)) x`
	sqlCountDueAfter = `SELECT x.look_at, count(*), max(x.id) FROM (SELECT p.look_at, p.id FROM plot p
		WHERE p.look_at > $1 AND p.look_at <= $2 ORDER BY p.look_at, p.id LIMIT CAST($3 AS BIGINT)) x
	GROUP BY x.look_at ORDER BY x.look_at`
	// A page of exchanges ends before an instant, a page of sessions or texts with the last one of a phone.
	sqlSessionsUntil = `SELECT phone FROM session WHERE phone > $1 ORDER BY phone LIMIT 1 OFFSET $2`
	sqlCountSessions = `SELECT count(*), coalesce(sum(CASE WHEN expires_at >= $1 THEN 1 ELSE 0 END), 0)
	FROM session WHERE phone > $2 AND phone <= $3`
	sqlExchangesUntil = `SELECT until FROM exchange WHERE until >= $1 ORDER BY until LIMIT 1 OFFSET $2`
	sqlCountExchanges = `SELECT count(*) FROM exchange WHERE until >= $1 AND until < $2`
	sqlWaitingUntil   = `SELECT phone FROM message WHERE claim_at IS NOT NULL AND phone > $1
		ORDER BY phone LIMIT 1 OFFSET $2`
	sqlCountWaiting = `SELECT state, CASE WHEN held = 1 THEN 'held' WHEN state = 'claimed' THEN 'sending'
			WHEN doubt = 1 THEN 'doubt' WHEN tries > 0 THEN 'again' WHEN claim_at > $1 THEN 'later' ELSE 'due' END,
		count(*), min(created_at), min(due_at), min(useful_until)
	FROM message WHERE claim_at IS NOT NULL AND phone > $2 AND phone <= $3 GROUP BY 1, 2`
)

// NewWaitsCount begins a count of what waits.
func NewWaitsCount(now int64) *WaitsCount {
	c := &WaitsCount{Waits: Waits{At: now}}
	c.Count = Count{size: countPage, parts: []countPart{c.due, c.sessions, c.exchanges, c.texts}}
	return c
}

// CountWaits counts what waits, and looks at all of it in pages.
func (s *Store) CountWaits(ctx context.Context, now int64) (Waits, error) {
	c := NewWaitsCount(now)
	err := s.countAll(ctx, &c.Count)
	slices.SortFunc(c.Texts, func(a, b WaitingTexts) int { return cmp.Compare(a.Oldest, b.Oldest) })
	return c.Waits, err
}

// CountDuePlots counts the plots that were due at an instant and at which the bell has not looked.
func (s *Store) CountDuePlots(ctx context.Context, at int64) (int64, error) {
	c := NewWaitsCount(at)
	c.parts = c.parts[:1]
	err := s.countAll(ctx, &c.Count)
	return c.DuePlots, err
}

func (c *WaitsCount) due(tx *Tx, at *position, size int64) (looked int64, err error) {
	if at.at > 0 {
		if _, err = tx.one(sqlCountDueAt, args(at.at, at.id, size), &looked, &at.id); err != nil {
			return 0, err
		}
	}
	if left := size - looked; left > 0 {
		later := int64(0)
		err = tx.each(sqlCountDueAfter, args(at.at, c.At, left), func(scan func(...any) error) error {
			var n int64
			err := scan(&at.at, &n, &at.id)
			later += n
			return err
		})
		looked, at.ended = looked+later, later < left
	}
	c.DuePlots += looked
	return looked, err
}

func (c *WaitsCount) sessions(tx *Tx, at *position, size int64) (looked int64, err error) {
	from, until := at.key, lastPhone
	there, err := tx.one(sqlSessionsUntil, args(from, size), &until)
	if err != nil {
		return 0, err
	}
	at.key, at.ended = until, !there
	var alive int64
	_, err = tx.one(sqlCountSessions, args(c.At, from, until), &looked, &alive)
	c.Sessions += alive
	return looked, err
}

func (c *WaitsCount) exchanges(tx *Tx, at *position, size int64) (int64, error) {
	n, err := countInstants(tx, at, size, c.At+1, sqlExchangesUntil, sqlCountExchanges)
	c.LeftAlone += n
	return n, err
}

// countInstants counts the rows of one page whose instant is first or later. If more rows than a page have the same
// instant, they are one page.
func countInstants(tx *Tx, at *position, size, first int64, untilQuery, query string) (n int64, err error) {
	from, until := max(at.at, first), int64(math.MaxInt64)
	there, err := tx.one(untilQuery, args(from, size), &until)
	if err != nil {
		return 0, err
	}
	if there && until == from {
		until++
	}
	at.at, at.ended = until, !there
	_, err = tx.one(query, args(from, until), &n)
	return n, err
}

// lastPhone sorts after all phone numbers: they have at most 15 digits (ITU-T E.164).
var lastPhone = "+" + strings.Repeat("9", 16)

func (c *WaitsCount) texts(tx *Tx, at *position, size int64) (looked int64, err error) {
	from, until := at.key, lastPhone
	there, err := tx.one(sqlWaitingUntil, args(from, size), &until)
	if err != nil {
		return 0, err
	}
	at.key, at.ended = until, !there
	list, err := rows(tx, sqlCountWaiting, args(c.At, from, until), func(w *WaitingTexts) []any {
		return args(&w.State, &w.What, &w.Texts, &w.Oldest, &w.OldestDue, &w.EndsFirst)
	})
	for _, w := range list {
		looked += w.Texts
		c.add(w)
	}
	return looked, err
}

func (c *WaitsCount) add(w WaitingTexts) {
	i := slices.IndexFunc(c.Texts, func(x WaitingTexts) bool { return x.State == w.State && x.What == w.What })
	if i < 0 {
		c.Texts = append(c.Texts, w)
		return
	}
	x := &c.Texts[i]
	x.Texts += w.Texts
	x.Oldest, x.OldestDue = min(x.Oldest, w.Oldest), min(x.OldestDue, w.OldestDue)
	x.EndsFirst = min(x.EndsFirst, w.EndsFirst)
}
