package store

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strings"
)

// A text goes out by the longest route prefix with which its phone number begins; "" stands for all other
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

// setRoutePrefixes stores the prefixes that were passed to Open, and gives every waiting text its prefix.
// It also releases deferred texts, because limits may have changed. If prefixes is nil, the prefixes of the
// last start are used.
func (s *Store) setRoutePrefixes(tx *Tx, prefixes []string) error {
	stored, _, err := tx.meta(metaRoutePrefixes)
	if err != nil {
		return err
	}
	if prefixes == nil {
		if len(stored) > 0 {
			err = json.Unmarshal(stored, &prefixes)
		}
		s.routePrefixes = prefixes
		return fail("route prefixes", err)
	}
	prefixes = slices.DeleteFunc(slices.Clone(prefixes), func(l string) bool { return l == "" })
	slices.SortFunc(prefixes, func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	s.routePrefixes = slices.Compact(prefixes)
	if _, err := tx.ReleaseDeferred(math.MaxInt64); err != nil {
		return err
	}
	now, err := json.Marshal(s.routePrefixes)
	if err != nil || string(now) == string(stored) {
		return fail("route prefixes", err)
	}
	if err := tx.rerouteWaiting(); err != nil {
		return fail("route prefixes", err)
	}
	return tx.setMeta(metaRoutePrefixes, now)
}

const (
	sqlWaiting = `SELECT id, phone, lane FROM message WHERE claim_at IS NOT NULL`
	sqlReroute = `UPDATE message SET lane = $1 WHERE id = $2`
)

// rerouteWaiting gives every waiting text the route prefix of its number.
func (tx *Tx) rerouteWaiting() error {
	move := map[int64]string{}
	err := tx.each(sqlWaiting, nil, func(scan func(...any) error) error {
		var id int64
		var phone, prefix string
		err := scan(&id, &phone, &prefix)
		if now := tx.s.routePrefixOf(phone); now != prefix {
			move[id] = now
		}
		return err
	})
	for id, prefix := range move {
		if err == nil {
			_, err = tx.exec(sqlReroute, prefix, id)
		}
	}
	return err
}
