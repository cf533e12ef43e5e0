package store

import (
	"encoding/json"
	"fmt"
	"iter"

	"rowbell/engine"
)

// Figures are numbers of the engine's table of facts, such as KcEnd, that have another value at one place. The zero
// value changes no number.
type Figures struct {
	values engine.Figures
	set    uint64 // bit i is 1 if the figure engine.Settings()[i] is set
}

var settings = engine.Settings()

// Set sets one figure by its name. The value must be within the bounds of engine.Settings.
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

// All returns the names and values of the figures that are set, in the order of engine.Settings.
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

// over writes the figures that are set into the table t.
func (f Figures) over(t *engine.Figures) {
	for name, v := range f.All() {
		_ = t.Set(name, v) // no error: Figures.Set accepted the same value before
	}
}

// MarshalJSON writes a JSON object with the name and value of each figure that is set.
func (f Figures) MarshalJSON() ([]byte, error) {
	m := map[string]float64{}
	for name, v := range f.All() {
		m[name] = v
	}
	return json.Marshal(m)
}

// UnmarshalJSON reads the form that MarshalJSON writes. A figure that this version does not know, or that is out of
// its present bounds, is left unset, so that the place stays usable.
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
