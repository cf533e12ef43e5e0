package store

import (
	"encoding/json"
	"fmt"
	"iter"

	"rowbell/engine"
)

// Figures are the engine's figures that a place sets for itself. The zero value sets none.
type Figures struct {
	values engine.Figures
	set    uint64 // bit i: engine.Settings()[i] is set
}

var settings = engine.Settings()

// Set sets a figure by its name in the table of facts, within the bounds of engine.Settings.
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

// All yields names and values of the figures that are set, in the order of engine.Settings.
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

// over overwrites the table's figures with the place's own.
func (f Figures) over(t *engine.Figures) {
	for name, v := range f.All() {
		_ = t.Set(name, v) // Figures.Set accepted this value before
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

// UnmarshalJSON reads what MarshalJSON writes. A figure that this version does not know, or that is out
// of bounds by now, counts as not set, so that the place stays usable.
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
