// Package fault collects what is wrong with a configuration: every fault with the path of its key, so that the loader
// can add the line. ReadFile reads the files that a configuration names.
//
//	var found fault.List
//	found.Refuse(rate < 0, "rate", "%g is below 0", rate)
//	return fault.Under("push", found.Err()) // push: rate: -1 is below 0
package fault

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Fault says what is wrong with one key.
type Fault struct {
	Names []string // the tables that the key is in, then the key; entries of a list have [1], [2] … behind the name
	What  string   // what is wrong, and what to write instead
}

// Path returns the path of the key as it is written in TOML. An entry of a list has its number in brackets, from 1.
func (f Fault) Path() string { return strings.Join(f.Names, ".") }

func (f Fault) String() string { return strings.Join(append(slices.Clone(f.Names), f.What), ": ") }

// List has faults in the order in which they were found. It has only the first fault of each key, because further ones
// often follow from the first.
type List []Fault

// Error implements error.
func (l List) Error() string {
	var all []string
	for _, f := range l {
		all = append(all, f.String())
	}
	return strings.Join(all, "; ")
}

// Err returns the list as an error, or nil if it is empty.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Add adds the faults of err, which may be nil, below the key called name. An empty name adds nothing to the path.
func (l *List) Add(name string, err error) {
	for _, f := range Of(Under(name, err)) {
		same := func(other Fault) bool {
			return other.Path() == f.Path() && (len(f.Names) > 0 || other.What == f.What)
		}
		if !slices.ContainsFunc(*l, same) {
			*l = append(*l, f)
		}
	}
}

// Refuse adds a fault of the key called name if bad is true.
func (l *List) Refuse(bad bool, name, format string, args ...any) {
	if bad {
		l.Add(name, fmt.Errorf(format, args...))
	}
}

// Of returns the faults of an error. An error that is not a List is one fault without a path.
func Of(err error) List {
	var l List
	switch {
	case err == nil:
		return nil
	case errors.As(err, &l):
		return l
	}
	return List{{What: err.Error()}}
}

// Under returns err with name before the paths of its faults, or nil if err is nil. An empty name changes nothing.
func Under(name string, err error) error {
	if err == nil || name == "" {
		return err
	}
	var under List
	for _, f := range Of(err) {
		f.Names = append([]string{name}, f.Names...)
		under = append(under, f)
	}
	return under
}
