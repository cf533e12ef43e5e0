package push

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/fault"
	"rowbell/store"
)

// Route lists the networks for texts to numbers with a prefix. The first network whose circuit breaker is closed sends
// the text. If a number has the prefixes of several routes, the longest prefix counts; the prefix "" matches all
// numbers.
type Route struct {
	Prefix  string   // "+" and digits, or ""
	Through []string // names of gateways, the preferred one first
	Back    bool     // the answer to a text goes by the network that brought the text, as long as that network works
}

// SendsBack returns a function that reports whether the answer to a text of a number goes by the network that brought
// the text.
func SendsBack(routes []Route) func(number string) bool {
	routes = longestFirst(routes)
	return func(number string) bool {
		i := slices.IndexFunc(routes, func(r Route) bool { return strings.HasPrefix(number, r.Prefix) })
		return i >= 0 && routes[i].Back
	}
}

// longestFirst returns the routes in such an order that of the routes with a prefix of a number the first one counts.
func longestFirst(routes []Route) []Route {
	return slices.SortedStableFunc(slices.Values(routes), func(a, b Route) int {
		return cmp.Compare(len(b.Prefix), len(a.Prefix))
	})
}

var prefixForm = regexp.MustCompile(`^(\+[1-9][0-9]{0,14})?$`)

// CheckRoutes returns the mistakes in the routes, which may use these gateways, by their keys in rowbell.toml.
func CheckRoutes(routes []Route, gateways []string) error {
	var all fault.List
	seen := map[string]bool{}
	for i, r := range routes {
		var l fault.List
		l.Refuse(!prefixForm.MatchString(r.Prefix), "prefix",
			`%q is not a plus and 1 to 15 digits that begin with a country code, or ""`, r.Prefix)
		l.Refuse(seen[r.Prefix], "prefix", "there is a route for %q already", r.Prefix)
		l.Refuse(len(r.Through) == 0, "through", "it needs the name of a gateway")
		seen[r.Prefix] = true
		for j, name := range r.Through {
			key := fmt.Sprintf("through[%d]", j+1)
			l.Refuse(!slices.Contains(gateways, name), key, "there is no gateway %q that sends texts", name)
			l.Refuse(slices.Contains(r.Through[:j], name), key, "%q stands there twice", name)
		}
		all.Add(fmt.Sprintf("routes[%d]", i+1), l.Err())
	}
	return all.Err()
}

// RoutePrefixes returns the prefixes of the routes, for store.Options. Without routes it returns an empty list and not
// nil, because for nil the store would use the prefixes in the records.
func RoutePrefixes(routes []Route) []string {
	prefixes := []string{}
	for _, r := range routes {
		prefixes = append(prefixes, r.Prefix)
	}
	return prefixes
}

// workerRoute is a route of a worker, with the workers that come before this worker in the route.
type workerRoute struct {
	prefix    string
	preferred []*worker
}

// assignRoutes gives each worker its routes. It panics if a route is invalid, because the caller must have checked
// them.
func (s *Sender) assignRoutes() {
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
	for _, r := range longestFirst(routes) {
		var preferred []*worker // and in the end all workers of the route
		for _, name := range r.Through {
			w := byName[name]
			w.routes = append(w.routes, workerRoute{r.Prefix, slices.Clone(preferred)})
			preferred = append(preferred, w)
		}
		s.routes = append(s.routes, senderRoute{r.Prefix, preferred})
	}
}

// senderRoute is a route with all its workers, the preferred one first.
type senderRoute struct {
	prefix  string
	workers []*worker
}

// next returns the worker that sends a text to this number now: the first of its route whose breaker is closed. It
// returns nil if all are open.
func (s *Sender) next(to store.Phone) *worker {
	// There is a route for the prefix "", so a route is found.
	i := slices.IndexFunc(s.routes, func(r senderRoute) bool { return strings.HasPrefix(to.E164(), r.prefix) })
	for _, w := range s.routes[i].workers {
		if w.breaker.closed() {
			return w
		}
	}
	return nil
}

// openPrefixes returns the prefixes that this worker must serve now, because the breakers of all workers before it in
// the route are open.
func (w *worker) openPrefixes() (prefixes []string) {
	for _, route := range w.routes {
		if !slices.ContainsFunc(route.preferred, func(other *worker) bool { return other.breaker.closed() }) {
			prefixes = append(prefixes, route.prefix)
		}
	}
	return prefixes
}

// backGateways returns the networks by which answers may go back now: their breakers are closed, or let a probe
// through. Without the probe, other networks would take all texts of a network that is paused, and it would stay
// paused. The result is nil if no route has Back.
func (s *Sender) backGateways(now time.Time) []string {
	if !slices.ContainsFunc(s.o.Routes, func(r Route) bool { return r.Back }) {
		return nil
	}
	working := []string{}
	for _, w := range s.workers {
		if w.breaker.mayTry(now) {
			working = append(working, w.g.Name)
		}
	}
	return working
}
