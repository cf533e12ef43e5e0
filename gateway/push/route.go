package push

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
)

// Route says through which networks texts to numbers with this prefix go: the
// first that can be reached. The longest prefix counts; "" is all other
// numbers.
type Route struct {
	Prefix  string   // "+" and digits, or ""
	Through []string // names of gateways, the first one preferred
}

var prefixForm = regexp.MustCompile(`^(\+[1-9][0-9]{0,14})?$`)

// CheckRoutes names what is wrong with routes over these gateways.
func CheckRoutes(routes []Route, gateways []string) error {
	seen := map[string]bool{}
	for i, r := range routes {
		switch {
		case !prefixForm.MatchString(r.Prefix):
			return fmt.Errorf(`prefix of route %d: %q is not a plus and 1 to 15 digits that begin with a country code, or ""`, i+1, r.Prefix)
		case seen[r.Prefix]:
			return fmt.Errorf("prefix of route %d: there is a route for %q already", i+1, r.Prefix)
		case len(r.Through) == 0:
			return fmt.Errorf("through of route %d: it needs the name of a gateway", i+1)
		}
		seen[r.Prefix] = true
		for j, name := range r.Through {
			if !slices.Contains(gateways, name) {
				return fmt.Errorf("through of route %d: there is no gateway %q that sends texts", i+1, name)
			}
			if slices.Contains(r.Through[:j], name) {
				return fmt.Errorf("through of route %d: %q stands there twice", i+1, name)
			}
		}
	}
	return nil
}

// Lanes are the prefixes of the routes, for store.Options.
func Lanes(routes []Route) []string {
	lanes := []string{} // none is not the same as those of the last time
	for _, r := range routes {
		lanes = append(lanes, r.Prefix)
	}
	return lanes
}

// way is a route as a worker sees it: its lane, and who is asked before it.
type way struct {
	lane   string
	before []*worker
}

// route gives each worker its ways. A mistake in the routes is one of whoever
// wires: see CheckRoutes.
func (s *Sender) route() {
	byName := map[string]*worker{}
	var all []string
	for _, w := range s.workers {
		if byName[w.g.Name] != nil {
			panic("push: two gateways are called " + w.g.Name)
		}
		byName[w.g.Name] = w
		all = append(all, w.g.Name)
	}
	routes := s.o.Routes
	if err := CheckRoutes(routes, all); err != nil {
		panic(errors.Join(errors.New("push: routes"), err))
	}
	if !slices.ContainsFunc(routes, func(r Route) bool { return r.Prefix == "" }) {
		routes = append(slices.Clone(routes), Route{Through: all})
	}
	for _, r := range routes {
		var before []*worker
		for _, name := range r.Through {
			w := byName[name]
			w.ways = append(w.ways, way{r.Prefix, slices.Clone(before)})
			before = append(before, w)
		}
	}
}

// lanes are those for which every network that is asked before is left alone.
func (w *worker) lanes() (lanes []string) {
	for _, way := range w.ways {
		if !slices.ContainsFunc(way.before, func(other *worker) bool { return other.breaker.closed() }) {
			lanes = append(lanes, way.lane)
		}
	}
	return lanes
}
