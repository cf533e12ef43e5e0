package seeded

import (
	"errors"
	"slices"

	"github.com/mattn/go-sqlite3"
	"pgregory.net/rapid"

	"rowbell/store"
)

// fault is what the records do next.
type fault struct {
	at    store.Point
	after int  // how many such points are passed first
	crash bool // the process ends there
	fired bool
}

var errDisk = sqlite3.Error{Code: sqlite3.ErrIoErr}

// errEnded is the error of everything that a process would do after its end.
var errEnded = errors.New("the process has ended")

// point is what the records call at each point of a transaction.
func (w *world) point(p store.Point) error {
	f := w.fault
	switch {
	case f == nil || w.looking:
		return nil
	case f.fired && f.crash:
		return errEnded
	case f.fired || p != f.at:
		return nil
	case f.after > 0:
		f.after--
		return nil
	}
	f.fired = true
	if f.crash {
		return errEnded
	}
	return errDisk
}

// anyPoints are points of longer work, in place of those of a copy that did the same work.
func anyPoints() []store.Point {
	return slices.Repeat([]store.Point{store.AtView, store.AtBegin, store.AtCommit, store.Committed}, 12)
}

// drawFault draws how the records fail next: at one of the points that a copy passed, which never failed.
func (w *world) drawFault(passed []store.Point) *fault {
	f := &fault{crash: rapid.Bool().Draw(w.t, "crash")}
	if len(passed) == 0 {
		return f // there is no such point, so nothing fails
	}
	i := rapid.IntRange(0, len(passed)-1).Draw(w.t, "point")
	f.at = passed[i]
	for _, p := range passed[:i] {
		f.after += truth(p == f.at)
	}
	return f
}

// note is the point function of a copy.
func (w *world) note(p store.Point) error {
	w.passed = append(w.passed, p)
	return nil
}
