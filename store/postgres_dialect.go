package store

import (
	"database/sql/driver"
	"math"
	"regexp"
	"strings"
	"sync"
	"unicode/utf8"
)

// This file is all that PostgreSQL wants to have said otherwise. A query that both databases understand has no line
// here; TestEveryQueryIsValidOnAServer finds those that PostgreSQL does not understand.

const (
	pgClaim = `UPDATE message SET state = 'claimed', claim_at = $1, tries = tries + 1, gateway = $2,
		claimant = $3, once = $4::bigint, begun = 1 - $4::bigint, held = 0, charge_day = coalesce(charge_day, $5),
		charge_segments = charge_segments + (value->>1)::bigint,
		charge_micros = charge_micros + (value->>2)::bigint
	FROM json_array_elements($6::json) WHERE message.id = (value->>0)::bigint`
	// Ids are never used again, so the sequence tells the highest one that there ever was.
	pgSeen = `SELECT (SELECT count(*) FROM grower),
		(SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM grower_id_seq)`
	pgPruneCallbacks = `DELETE FROM callback WHERE (phone, gateway, key) IN
	(SELECT c.phone, c.gateway, c.key FROM callback c WHERE c.at < $1 ORDER BY c.at LIMIT $2)`
	pgExpire = `UPDATE message SET
		state = CASE WHEN doubt = 1 OR state = 'claimed' AND begun = 1 THEN 'unknown' ELSE 'expired' END,
		claim_at = NULL, ended_at = $1,
		reason = CASE WHEN held = 1 THEN reason ELSE 'its useful time is over' END, held = 0
	WHERE id IN (SELECT x.id FROM message x WHERE x.claim_at IS NOT NULL AND x.useful_until < $1
		AND (x.state = 'queued' OR x.claim_at <= $1) AND x.urgency = $2 AND x.lane = $3
		ORDER BY x.useful_until, x.id LIMIT $4 FOR UPDATE SKIP LOCKED)
	RETURNING id`
)

// pgForms are queries that PostgreSQL needs in another form. The key is the form for SQLite.
var pgForms = map[string]string{sqlClaim: pgClaim, sqlSeen: pgSeen, sqlPruneCallbacks: pgPruneCallbacks,
	sqlColumns: pgColumns}

// pgWriteForms are like pgForms, but only in a transaction that writes.
var pgWriteForms = map[string]string{sqlExpire: pgExpire}

// pgLocks say which rows a query locks in a transaction that writes, because the transaction decides by what it reads.
// SKIP LOCKED leaves out rows with which another transaction works; it will come by again.
var pgLocks = map[string]string{
	sqlDueByPrefix:         " FOR UPDATE OF c SKIP LOCKED",
	sqlDueBack:             " FOR UPDATE OF c SKIP LOCKED",
	sqlDueUncertain:        " FOR UPDATE OF c SKIP LOCKED",
	sqlPendingInQuietHours: " FOR UPDATE OF m SKIP LOCKED",
	sqlPendingOfPhone:      " FOR UPDATE OF m",
	sqlPendingOfPlot:       " FOR UPDATE OF m",
	sqlPendingNaming:       " FOR UPDATE OF m",
	sqlFindReceipt:         " FOR UPDATE",
	sqlCharged:             " FOR UPDATE",
	sqlMoving:              " FOR UPDATE",
	sqlOldSeason:           " FOR UPDATE SKIP LOCKED",
	sqlAskedLook:           " FOR UPDATE",
	sqlHoldsLease:          " FOR SHARE",
	sqlClaimedBy:           " FOR UPDATE",
	sqlLockCircle:          " FOR UPDATE",
	sqlFreeCircles:         " FOR UPDATE SKIP LOCKED",
	sqlLetterPart:          " FOR UPDATE SKIP LOCKED",
}

// idList, lists of words, and packed rows in the form of PostgreSQL.
const (
	pgIDs   = ` = ANY(ARRAY(SELECT value::bigint FROM json_array_elements_text($1::json)))`
	pgWords = `(SELECT value FROM json_array_elements_text($1::json))`
	pgRows  = `FROM jsonb_array_elements($1::jsonb)`
	pgUnhex = `decode($1, 'hex')`
)

// pgTexts caches what pgQuery made of a query; the index is 1 for a transaction that writes.
var pgTexts [2]sync.Map

var (
	textsIn  = regexp.MustCompile(`\(SELECT value FROM jsonb_each\((\$\d)\)\)`)
	rowsFrom = regexp.MustCompile(`\bFROM jsonb_each\((\$\d)\)`)
	unhex    = regexp.MustCompile(`\bunhex\((value->>\d+)\)`)
)

// pgQuery returns the form of a query for PostgreSQL.
func pgQuery(query string, writes bool) string {
	cache := &pgTexts[0]
	if writes {
		cache = &pgTexts[1]
	}
	if text, known := cache.Load(query); known {
		return text.(string)
	}
	text := pgTranslate(query, writes)
	cache.Store(query, text)
	return text
}

func pgTranslate(query string, writes bool) string {
	text, own := pgForms[query]
	if !own && writes {
		text, own = pgWriteForms[query]
	}
	if !own {
		text = query
	}
	text = strings.ReplaceAll(text, " IN "+idList, pgIDs)
	text = textsIn.ReplaceAllString(text, pgWords)
	text = rowsFrom.ReplaceAllString(text, pgRows)
	text = unhex.ReplaceAllString(text, pgUnhex)
	text = strings.ReplaceAll(text, "x''", "''")
	text = pgExtremes(text)
	if writes {
		text += pgLocks[query]
	}
	return text
}

var extreme = regexp.MustCompile(`\b(max|min)\(`)

// pgExtremes renames max and min of several values, which are aggregates in PostgreSQL, to GREATEST and LEAST.
func pgExtremes(query string) string {
	for from := 0; ; {
		at := extreme.FindStringSubmatchIndex(query[from:])
		if at == nil {
			return query
		}
		start, name, open := from+at[0], query[from+at[2]:from+at[3]], from+at[1]
		from = open
		if severalValues(query[open:]) {
			other := map[string]string{"max": "GREATEST", "min": "LEAST"}[name]
			query = query[:start] + other + query[start+len(name):]
			from += len(other) - len(name)
		}
	}
}

// severalValues reports whether the arguments of a call, of which s is what follows its parenthesis, are more than one.
func severalValues(s string) bool {
	depth := 0
	for _, c := range s {
		switch {
		case c == '(':
			depth++
		case c == ')' && depth == 0:
			return false
		case c == ')':
			depth--
		case c == ',' && depth == 0:
			return true
		}
	}
	return false
}

// ready returns a query and its values as the database of the transaction wants them. The transaction has begun then.
func (tx *Tx) ready(query string, values []any) (string, []any, error) {
	if tx.pg == nil {
		return query, values, nil
	}
	return pgQuery(query, tx.pg.writes), pgValues(values), tx.flush()
}

// pgValues returns values as PostgreSQL takes them: yes and no as 1 and 0, because the columns are the same as in
// SQLite, and text without what is no text there.
func pgValues(values []any) []any {
	out := make([]any, len(values))
	for i, v := range values {
		plain, err := driver.DefaultParameterConverter.ConvertValue(v)
		if err != nil {
			plain = v // the driver says what is wrong
		}
		switch x := plain.(type) {
		case bool:
			plain = int64(0)
			if x {
				plain = int64(1)
			}
		case string:
			plain = pgText(x)
		case float64:
			if math.IsNaN(x) {
				plain = nil // as in SQLite, which has no NaN
			}
		}
		out[i] = plain
	}
	return out
}

// pgText replaces the character NUL and octets that are no UTF-8, which PostgreSQL refuses in text, by U+FFFD. Text and
// ids of networks may contain them.
func pgText(s string) string {
	if strings.IndexByte(s, 0) < 0 && utf8.ValidString(s) {
		return s
	}
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}
