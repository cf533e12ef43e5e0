package proof

import (
	"slices"
	"strings"

	"rowbell/menu"
)

// checkShortest measures the shortest way from dialling to a saved plot. The grower must read each choice before
// choosing it, so each turn to a further page of a screen counts as an exchange.
func (w *walker) checkShortest() error {
	for _, late := range []bool{false, true} {
		most := &w.knownExchanges
		if late {
			most = &w.lateExchanges
		}
		for _, g := range knownGrowers(w.lang) {
			n, err := w.shortest(g, late)
			if err != nil {
				return err
			}
			if n == 0 { // no entries lead to a saved plot
				*most = 0
				break
			}
			*most = max(*most, n)
		}
	}
	var err error
	if w.newExchanges, err = w.shortest(stranger(), false); err != nil {
		return err
	}
	if n := w.knownExchanges; n == 0 || n > MaxExchanges {
		w.problem("from dialling to a saved plot it takes %d exchanges, at most %d are allowed", n, MaxExchanges)
	}
	if n := w.lateExchanges; n == 0 || n > MaxExchanges+maxLate {
		w.problem("from dialling to a saved plot that may be weeded already it takes %d exchanges, "+
			"at most %d are allowed", n, MaxExchanges+maxLate)
	}
	if n := w.newExchanges - w.knownExchanges; n > maxFirstContact {
		w.problem("first contact adds %d exchanges, at most %d are allowed", n, maxFirstContact)
	}
	return nil
}

// shortest counts the exchanges on the shortest way from dialling to a saved plot. Dialling is the first exchange. If
// late is true, only ways count on which the grower is asked whether the plot was weeded already. shortest returns 0 if
// no entries lead to a saved plot. shortest uses Dijkstra's algorithm: a node is a screen, together with whether that
// question was asked, and the cost is the number of exchanges.
func (w *walker) shortest(g *grower, late bool) (int, error) {
	type node struct {
		screen menu.ScreenID
		asked  bool
	}
	type step struct {
		place
		node
		cost int
	}
	first, err := w.begin(g)
	if err != nil {
		return 0, err
	}
	at := func(p place, before bool) node { return node{p.Screen, before || p.Screen == menu.ScreenWeeded} }
	best := map[node]int{at(first, false): 1}
	queue := []step{{first, at(first, false), 1}}
	for len(queue) > 0 {
		here := slices.MinFunc(queue, func(a, b step) int { return a.cost - b.cost })
		queue = slices.DeleteFunc(queue, func(s step) bool { return &s.state[0] == &here.state[0] })
		if here.Screen == menu.ScreenSaved {
			if here.asked == late {
				return here.cost, nil
			}
			continue
		}
		for _, entry := range w.entries(here.place, false) {
			next, more, err := w.follow(here.place, entry)
			if err != nil {
				return 0, err
			}
			if !more {
				continue
			}
			cost, to := here.cost+1+turns(here.View, entry), at(next, here.asked)
			if old, ok := best[to]; ok && old <= cost {
				continue
			}
			best[to] = cost
			if err := w.look(&next); err != nil {
				return 0, err
			}
			queue = append(queue, step{next, to, cost})
		}
	}
	return 0, nil
}

// turns counts how often a grower must turn the page before making this entry. A choice must be on the page that is
// shown. For a typed answer, the page with the last word of the question must be shown.
func turns(v menu.View, entry string) int {
	for i, page := range v.Pages {
		for line := range strings.Lines(page) {
			if strings.HasPrefix(line, entry+" ") {
				return i
			}
		}
	}
	words := strings.Fields(v.Question)
	for i, page := range v.Pages {
		if len(words) == 0 || strings.Contains(page, words[len(words)-1]) {
			return i
		}
	}
	return 0
}
