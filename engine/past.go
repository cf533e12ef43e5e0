package engine

import "slices"

// PastWindow is a window that is over, or that was weeded.
type PastWindow struct {
	Window
	End WindowEnd
}

// WindowEnd says what became of a window.
type WindowEnd uint8

const (
	WindowWeeded      WindowEnd = iota + 1
	WindowWeededEarly           // there was a pass before the window opened
	WindowMissed                // it closed without a pass
)

func (e WindowEnd) String() string { return name(e, "", "weeded", "weeded before it", "missed") }

// Past returns the windows that were over, or weeded, on day today, as they were known before, without the next window
// of the plan. It returns an error only if Validate does.
func (s Season) Past(today Day) ([]PastWindow, error) {
	plan, err := s.Windows(today)
	if err != nil {
		return nil, err
	}
	var past []PastWindow
	from := s.Plot.Planted
	for _, p := range s.Passes {
		if p.On < from || p.On > today {
			continue
		}
		missed, last := s.pastUntil(from, p.On-1)
		past = append(past, missed...)
		end := WindowWeeded
		switch {
		case last.Closes < p.On:
			end = WindowMissed
		case p.On < last.Opens:
			end = WindowWeededEarly
		}
		if last.Exists() && last.Opens <= today {
			past = append(past, PastWindow{last, end})
		}
		from = p.On
	}
	missed, last := s.pastUntil(from, today-1)
	past = append(past, missed...)
	if last.Exists() && last.Closes < today {
		past = append(past, PastWindow{last, WindowMissed})
	}
	var shown []PastWindow
	for i, w := range past {
		again := func(other PastWindow) bool { return w.sameAs(other.Window) }
		// A window whose place another one took before it closed is not missed yet.
		over := w.End != WindowMissed || w.Closes < today
		if over && !w.sameAs(plan.Next) && !slices.ContainsFunc(past[i+1:], again) {
			shown = append(shown, w)
		}
	}
	return shown, nil
}

// pastUntil returns the windows that were missed on the days from-until, and the next window of the last day. No pass
// was made after the day from. An announced window has its announced days.
func (s Season) pastUntil(from, until Day) (missed []PastWindow, next Window) {
	announced := s.Announced
	s.Announced = Window{} // on the earlier days another window, or none, was announced
	known := func(w Window) Window {
		if same := (PastWindow{Window: announced}); announced.Edition == w.Edition && same.sameAs(w) {
			w.Opens, w.Best, w.Closes = announced.Opens, announced.Best, announced.Closes
		}
		return w
	}
	for d := from; d <= until; {
		p := s.asOf(d).outline(d)
		closed := p.State == Closed
		// A window that was still to come was not missed: another took its place.
		if next.Exists() && (p.Next.Number > next.Number && next.Opens < d || closed && next.Closes < d) {
			missed = append(missed, PastWindow{known(next), WindowMissed})
		}
		next = p.Next
		if closed || d == until {
			break
		}
		to := min(p.LookAgain, until)
		for _, seen := range s.Sightings {
			if seen.On > d {
				to = min(to, seen.On)
				break
			}
		}
		d = max(d+1, to)
	}
	return missed, known(next)
}

// sameAs reports whether the windows are one, whose days may have moved. A window that was weeded in parts is found
// once for each part, and stays the next window until the last part.
func (w PastWindow) sameAs(other Window) bool {
	return w.Number == other.Number && w.Opens <= other.Closes && other.Opens <= w.Closes
}
