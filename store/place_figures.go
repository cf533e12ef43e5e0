package store

import (
	"encoding/json"
	"fmt"
	"iter"

	"rowbell/engine"
)

// Figures are those of the engine's figures that a place has of its own. The
// zero value has none.
type Figures struct {
	values engine.Figures
	set    uint64 // a bit for each of engine.Settings
}

var settings = engine.Settings()

// Set sets one by its name in the table of facts, within the bounds of
// engine.Settings.
func (f *Figures) Set(name string, value float64) error {
	if err := f.values.Set(name, value); err != nil {
		return err
	}
	for i, s := range settings {
		if s.Name == name {
			f.set |= 1 << i
		}
	}
	return nil
}

// All are the names and values of those that are set, in the order of
// engine.Settings.
func (f Figures) All() iter.Seq2[string, float64] {
	return func(yield func(string, float64) bool) {
		for i, s := range settings {
			if f.set&(1<<i) == 0 {
				continue
			}
			if v, _ := f.values.Get(s.Name); !yield(s.Name, v) {
				return
			}
		}
	}
}

// over puts the place's own figures in the place of the table's.
func (f Figures) over(t *engine.Figures) {
	for name, v := range f.All() {
		_ = t.Set(name, v) // it was taken before
	}
}

// MarshalJSON writes an object of names and values.
func (f Figures) MarshalJSON() ([]byte, error) {
	m := map[string]float64{}
	for name, v := range f.All() {
		m[name] = v
	}
	return json.Marshal(m)
}

// UnmarshalJSON reads one. A figure that this version does not know, or does
// not believe any more, counts as not set: a place must stay usable. Whoever
// sets figures hears of it.
func (f *Figures) UnmarshalJSON(b []byte) error {
	var m map[string]float64
	if err := json.Unmarshal(b, &m); err != nil {
		return fmt.Errorf("figures: %w", err)
	}
	*f = Figures{}
	for name, v := range m {
		_ = f.Set(name, v)
	}
	return nil
}
