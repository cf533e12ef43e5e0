package store

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strings"
)

// A lane is the texts to numbers that begin alike and so go out the same way.
// It has the name of that prefix; "" is the lane of all other numbers. A text
// gets its lane when it is written.

// routePrefixOf is the lane of a number: the longest prefix that it begins with.
func (s *Store) routePrefixOf(phone string) string {
	for _, prefix := range s.routePrefixes { // the longest first
		if strings.HasPrefix(phone, prefix) {
			return prefix
		}
	}
	return ""
}

// setRoutePrefixes takes up the lanes that were handed to Open, gives the texts that
// wait theirs, and lets go what a limit held: limits may be others now. Where
// none were handed in, those of the last time hold.
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

// rerouteWaiting gives every text that waits the lane of its number.
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
