package limit

import (
	"container/list"
	"time"
)

// recent is a map of at most so many entries: the one that was put longest ago
// makes room for a new one.
type recent[K comparable, V any] struct {
	most    int
	entries map[K]*list.Element
	order   *list.List // of *entry[K, V], the newest in front
	gone    func(K, V) // called for each entry that leaves; may be nil
}

type entry[K comparable, V any] struct {
	key   K
	value V
	at    time.Time
}

func newRecent[K comparable, V any](most int, gone func(K, V)) *recent[K, V] {
	return &recent[K, V]{most: most, entries: map[K]*list.Element{}, order: list.New(), gone: gone}
}

func (r *recent[K, V]) len() int { return len(r.entries) }

func (r *recent[K, V]) get(k K) (v V, ok bool) {
	e, ok := r.entries[k]
	if !ok {
		return v, false
	}
	return e.Value.(*entry[K, V]).value, true
}

// put keeps v under k, as heard of now.
func (r *recent[K, V]) put(k K, v V, now time.Time) {
	if e, ok := r.entries[k]; ok {
		*e.Value.(*entry[K, V]) = entry[K, V]{k, v, now}
		r.order.MoveToFront(e)
		return
	}
	if len(r.entries) >= r.most {
		r.drop(r.order.Back())
	}
	r.entries[k] = r.order.PushFront(&entry[K, V]{k, v, now})
}

func (r *recent[K, V]) remove(k K) {
	if e, ok := r.entries[k]; ok {
		r.drop(e)
	}
}

// expire drops what was not heard of since. What a clock that was set back
// left in front of older entries goes when they do.
func (r *recent[K, V]) expire(since time.Time) {
	for e := r.order.Back(); e != nil && e.Value.(*entry[K, V]).at.Before(since); e = r.order.Back() {
		r.drop(e)
	}
}

func (r *recent[K, V]) drop(e *list.Element) {
	gone := r.order.Remove(e).(*entry[K, V])
	delete(r.entries, gone.key)
	if r.gone != nil {
		r.gone(gone.key, gone.value)
	}
}
