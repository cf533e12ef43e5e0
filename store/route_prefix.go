package store

import (
	"cmp"
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
)

// The route prefix of a text is the first digits of its phone number. Only networks that serve this prefix may send
// the text. The longest prefix that matches is used; the prefix "" is for all other numbers. When a text is written,
// its prefix is stored in the column lane.

// routePrefixOf returns the route prefix for a phone number.
func (s *Store) routePrefixOf(phone string) string {
	for _, prefix := range *s.routePrefixes.Load() { // the longest prefix is first
		if strings.HasPrefix(phone, prefix) {
			return prefix
		}
	}
	return ""
}

// Reconfigure runs fn and changes the route prefixes, both in one transaction. After an error nothing has changed.
func (s *Store) Reconfigure(ctx context.Context, prefixes []string, fn func(*Tx) error) error {
	before := s.routePrefixes.Load()
	undo := func() { s.routePrefixes.Store(before) }
	work := func(tx *Tx) error {
		if err := fn(tx); err != nil {
			return err
		}
		return s.setRoutePrefixes(tx, prefixes)
	}
	if s.server != nil {
		err := s.InTx(ctx, work)
		if err != nil {
			undo()
		}
		return err
	}
	j := newJob(ctx, work)
	j.undo = undo
	return s.do(ctx, j)
}

// setRoutePrefixes stores the prefixes that were passed to Open. If they differ from the stored prefixes, every
// waiting text gets its new prefix. Deferred texts become due at once, because the limits may have changed. If
// prefixes is nil, the stored prefixes are used and nothing is changed.
func (s *Store) setRoutePrefixes(tx *Tx, prefixes []string) error {
	stored, _, err := tx.meta(metaRoutePrefixes)
	if err != nil {
		return err
	}
	if prefixes == nil {
		if len(stored) > 0 {
			err = json.Unmarshal(stored, &prefixes)
		}
		s.routePrefixes.Store(&prefixes)
		return fail("route prefixes", err)
	}
	prefixes = slices.DeleteFunc(slices.Clone(prefixes), func(l string) bool { return l == "" })
	slices.SortFunc(prefixes, func(a, b string) int { return cmp.Or(cmp.Compare(len(b), len(a)), cmp.Compare(a, b)) })
	prefixes = slices.Compact(prefixes)
	s.routePrefixes.Store(&prefixes)
	if _, err := tx.ReleaseDeferred(math.MaxInt); err != nil {
		return err
	}
	now, err := json.Marshal(prefixes)
	// On a server another process, which does not know these prefixes yet, may have written texts since they were
	// stored.
	if err != nil || string(now) == string(stored) && tx.pg == nil {
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

// rerouteWaiting stores in every waiting text the route prefix of its phone number.
func (tx *Tx) rerouteWaiting() error {
	type waiting struct {
		id            int64
		phone, prefix string
	}
	list, err := rows(tx, sqlWaiting, nil, func(w *waiting) []any { return args(&w.id, &w.phone, &w.prefix) })
	for _, w := range list {
		if now := tx.s.routePrefixOf(w.phone); err == nil && now != w.prefix {
			err = tx.do(sqlReroute, now, w.id)
		}
	}
	return err
}
