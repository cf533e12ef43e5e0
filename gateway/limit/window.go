package limit

import "time"

// window counts the calls of a minute that begins with the first of them.
type window struct {
	began, told time.Time
	n           int
}

// room says whether one more call keeps to the limit, else when there is room
// again. A clock that was set back begins a new minute.
func (w *window) room(limit int, now time.Time) (retry time.Duration, ok bool) {
	end := w.began.Add(time.Minute)
	if now.Before(w.began) || !now.Before(end) {
		w.began, w.n, end = now, 0, now.Add(time.Minute)
	}
	if limit <= 0 || w.n < limit {
		return 0, true
	}
	return end.Sub(now), false
}

func (w *window) add() { w.n++ }

// tell reports, once a minute, that there is something to tell.
func (w *window) tell(now time.Time) bool {
	if !w.told.IsZero() && !now.Before(w.told) && now.Before(w.told.Add(time.Minute)) {
		return false
	}
	w.told = now
	return true
}
