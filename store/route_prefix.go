package store

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strings"
)

// A text goes out by the longest route prefix that its number begins with; "" stands for all other
// numbers. The prefix is stored in the column lane when the text is written.

// routePrefixOf returns the route prefix of a number.
func (s *Store) routePrefixOf(phone string) string {
	for _, prefix := range s.routePrefixes { // longest first
		if strings.HasPrefix(phone, prefix) {
			return prefix
		}
	}
	return ""
}

// setRoutePrefixes stores the prefixes that were passed to Open, and gives waiting texts theirs. It
// also releases deferred texts, because limits may have changed. For nil, the prefixes of the last
// start are used.
func (s *Store) setRoutePrefixes(tx *Tx, lanes []string) error {
	kept, _, err := tx.meta(metaRoutePrefixes)
	if err != nil {
		return err
	}
	if lanes == nil {
		if len(kept) > 0 {
			err = json.Unmarshal(kept, &lanes)
		}
		s.routePrefixes = lanes
		return fail("lanes", err)
	}
	lanes = slices.DeleteFunc(slices.Clone(lanes), func(l string) bool { return l == "" })
	slices.SortFunc(lanes, func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	s.routePrefixes = slices.Compact(lanes)
	if _, err := tx.ReleaseDeferred(math.MaxInt64); err != nil {
		return err
	}
	now, err := json.Marshal(s.routePrefixes)
	if err != nil || string(now) == string(kept) {
		return fail("lanes", err)
	}
	if err := tx.rerouteWaiting(); err != nil {
		return fail("lanes", err)
	}
	return tx.setMeta(metaRoutePrefixes, now)
}

const (
	sqlWaiting   = `SELECT id, phone, lane FROM message WHERE claim_at IS NOT NULL`
	sqlChangeWay = `UPDATE message SET lane = $1 WHERE id = $2`
)

// rerouteWaiting gives every waiting text the route prefix of its number.
func (tx *Tx) rerouteWaiting() error {
	move := map[int64]string{}
	err := tx.each(sqlWaiting, nil, func(scan func(...any) error) error {
		var id int64
		var phone, lane string
		err := scan(&id, &phone, &lane)
		if now := tx.s.routePrefixOf(phone); now != lane {
			move[id] = now
		}
		return err
	})
	for id, lane := range move {
		if err == nil {
			_, err = tx.exec(sqlChangeWay, lane, id)
		}
	}
	return err
}
