package limit

import (
	"container/list"
	"time"
)

// lru is a map with a bounded number of entries. If the map is full, a new entry replaces the entry that was put
// longest ago.
type lru[K comparable, V any] struct {
	max     int
	entries map[K]*list.Element
	order   *list.List // list of *entry[K, V], the entry put last in front
	evicted func(K, V) // called for each entry that is removed; may be nil
}

type entry[K comparable, V any] struct {
	key   K
	value V
	at    time.Time
}

func newLRU[K comparable, V any](max int, evicted func(K, V)) *lru[K, V] {
	return &lru[K, V]{max: max, entries: map[K]*list.Element{}, order: list.New(), evicted: evicted}
}

func (r *lru[K, V]) len() int { return len(r.entries) }

func (r *lru[K, V]) get(k K) (v V, ok bool) {
	e, ok := r.entries[k]
	if !ok {
		return v, false
	}
	return e.Value.(*entry[K, V]).value, true
}

// put stores v under k and makes it the most recent entry.
func (r *lru[K, V]) put(k K, v V, now time.Time) {
	if e, ok := r.entries[k]; ok {
		*e.Value.(*entry[K, V]) = entry[K, V]{k, v, now}
		r.order.MoveToFront(e)
		return
	}
	if len(r.entries) >= r.max {
		r.drop(r.order.Back())
	}
	r.entries[k] = r.order.PushFront(&entry[K, V]{k, v, now})
}

func (r *lru[K, V]) remove(k K) {
	if e, ok := r.entries[k]; ok {
		r.drop(e)
	}
}

// expire removes the entries that were put before the instant since, in the order in which they were put. So an entry
// that was put after the clock was set back stays until the entries before it are removed, even if its time is earlier.
func (r *lru[K, V]) expire(since time.Time) {
	for e := r.order.Back(); e != nil && e.Value.(*entry[K, V]).at.Before(since); e = r.order.Back() {
		r.drop(e)
	}
}

func (r *lru[K, V]) drop(e *list.Element) {
	gone := r.order.Remove(e).(*entry[K, V])
	delete(r.entries, gone.key)
	if r.evicted != nil {
		r.evicted(gone.key, gone.value)
	}
}
