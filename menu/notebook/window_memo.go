package notebook

import (
	"hash/maphash"
	"sync"

	"rowbell/engine"
)

// WindowMemo calculates the windows of each season once. A walk through the menu with invented growers meets the same
// season at many screens, and without the memo a third of its time goes into windows. The zero value is ready for use.
// Several goroutines may use it.
type WindowMemo struct {
	mu    sync.Mutex
	known map[uint64]engine.Plan
}

// Of returns the result of s.Windows(today).
func (w *WindowMemo) Of(s engine.Season, today engine.Day) (engine.Plan, error) {
	k := key(&s, today)
	w.mu.Lock()
	p, ok := w.known[k]
	w.mu.Unlock()
	if ok {
		return p, nil
	}
	p, err := s.Windows(today)
	if err != nil {
		return p, err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.known == nil {
		w.known = map[uint64]engine.Plan{}
	}
	w.known[k] = p
	return p, nil
}

var seed = maphash.MakeSeed()

// key returns a hash of all fields of a season that decide its windows: all but the household.
func key(s *engine.Season, today engine.Day) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	maphash.WriteComparable(&h, s.Plot)
	maphash.WriteComparable(&h, s.Tool)
	maphash.WriteComparable(&h, s.Announced)
	maphash.WriteComparable(&h, [...]engine.Day{today, s.Since, s.AskedOn, s.ClosedOn, s.Weather.Daily.From})
	maphash.WriteComparable(&h, s.Weather.Normals)
	maphash.WriteComparable(&h, s.Weather.LatitudeDeg)
	if s.Local != nil {
		maphash.WriteComparable(&h, *s.Local)
	}
	writeAll(&h, s.Passes)
	writeAll(&h, s.Sightings)
	writeAll(&h, s.Weather.Daily.Days)
	return h.Sum64()
}

func writeAll[T comparable](h *maphash.Hash, list []T) {
	maphash.WriteComparable(h, len(list))
	for _, x := range list {
		maphash.WriteComparable(h, x)
	}
}
