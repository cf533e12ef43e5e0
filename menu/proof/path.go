package proof

import (
	"slices"
	"strings"

	"rowbell/menu"
)

// checkShortest measures the shortest way from dialling to a saved plot. The grower must read each choice before
// choosing it, so each turn to a further page of a screen counts as an exchange.
func (w *walker) checkShortest() error {
	for _, g := range knownGrowers(w.lang) {
		n, err := w.shortest(g)
		if err != nil {
			return err
		}
		if n == 0 { // no entries lead to a saved plot
			w.knownExchanges = 0
			break
		}
		w.knownExchanges = max(w.knownExchanges, n)
	}
	var err error
	if w.newExchanges, err = w.shortest(stranger()); err != nil {
		return err
	}
	if n := w.knownExchanges; n == 0 || n > MaxExchanges {
		w.problem("from dialling to a saved plot it takes %d exchanges, at most %d are allowed", n, MaxExchanges)
	}
	if n := w.newExchanges - w.knownExchanges; n > maxFirstContact {
		w.problem("first contact adds %d exchanges, at most %d are allowed", n, maxFirstContact)
	}
	return nil
}

// shortest counts the exchanges on the shortest way from dialling to a saved plot. Dialling is the first exchange.
// shortest returns 0 if no entries lead to a saved plot. shortest uses Dijkstra's algorithm: the nodes are the screens,
// and the cost is the number of exchanges.
func (w *walker) shortest(g *grower) (int, error) {
	type step struct {
		place
		cost int
	}
	first, err := w.begin(g)
	if err != nil {
		return 0, err
	}
	best := map[menu.ScreenID]int{first.Screen: 1}
	queue := []step{{first, 1}}
	for len(queue) > 0 {
		at := slices.MinFunc(queue, func(a, b step) int { return a.cost - b.cost })
		queue = slices.DeleteFunc(queue, func(s step) bool { return &s.state[0] == &at.state[0] })
		if at.Screen == menu.ScreenSaved {
			return at.cost, nil
		}
		for _, entry := range w.entries(at.place, false) {
			next, more, err := w.follow(at.place, entry)
			if err != nil {
				return 0, err
			}
			if !more {
				continue
			}
			cost := at.cost + 1 + turns(at.View, entry)
			if old, ok := best[next.Screen]; ok && old <= cost {
				continue
			}
			best[next.Screen] = cost
			if err := w.look(&next); err != nil {
				return 0, err
			}
			queue = append(queue, step{next, cost})
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
