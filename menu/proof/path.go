package proof

import (
	"fmt"
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
	return w.checkFirstContact()
}

// checkFirstContact checks how many exchanges a first call needs more than a later one. In a list of languages that
// takes two pages, the languages of the second page need one more, and the operator can say which stand there. Nobody
// should turn the page twice to find the own language.
func (w *walker) checkFirstContact() error {
	const cure = "put the languages that most growers speak first, with texts.languages or the languages of the " +
		"place, or offer fewer"
	first, err := w.begin(stranger())
	if err != nil {
		return err
	}
	page := 0
	if isLanguageList(first.Screen) {
		page = turns(first.View, w.ownDigit(first.View))
	}
	n, may := w.newExchanges-w.knownExchanges, maxFirstContact+min(page, 1)
	name := w.m.SMSCatalogue().Name(w.lang)
	switch {
	case n > may && page > 0:
		w.problem("first contact adds %d exchanges, at most %d are allowed: %s stands on page %d of the list of "+
			"languages; %s", n, may, name, page+1, cure)
	case n > may:
		w.problem("first contact adds %d exchanges, at most %d are allowed", n, may)
	case page > 0 && w.ch == menu.USSD:
		w.note = fmt.Sprintf("%s: %s stands on page %d of the list of languages, so growers turn a page at their "+
			"first call; if most growers speak it, %s", w.lang, name, page+1, cure)
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
