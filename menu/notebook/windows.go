package notebook

import (
	"hash/maphash"
	"sync"

	"rowbell/engine"
)

// Windows calculates the windows of seasons, and remembers them. A walk through the menu with invented growers comes to
// each season many times, and calculating it is a third of the walk's time. The zero value is ready, also for several
// goroutines.
type Windows struct {
	mu    sync.Mutex
	known map[uint64]engine.Plan
}

// Of returns the result of s.Windows(today).
func (w *Windows) Of(s engine.Season, today engine.Day) (engine.Plan, error) {
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

// key returns a hash of everything that decides the windows of a season. The household decides nothing about them.
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
