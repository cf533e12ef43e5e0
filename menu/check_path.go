package menu

import (
	"slices"
	"strings"
)

// saved is the screen that tells of a saved plot.
const sSaved ScreenID = "saved"

// measure finds the shortest way from dialling to a saved plot that a grower
// can read: pages that must be turned to see a choice count.
func (w *walker) measure() error {
	known, unknown := pathBooks(w.lang)
	var err error
	for _, b := range known {
		n, err := w.shortest(b)
		if err != nil {
			return err
		}
		if n == 0 { // no way at all
			w.known = 0
			break
		}
		w.known = max(w.known, n)
	}
	if w.new, err = w.shortest(unknown); err != nil {
		return err
	}
	if w.known == 0 || w.known > MaxExchanges {
		w.problem("from dialling to a saved plot it takes %d exchanges, at most %d are allowed", w.known, MaxExchanges)
	}
	if w.new > w.known+maxFirstContact {
		w.problem("first contact adds %d exchanges, at most %d are allowed", w.new-w.known, maxFirstContact)
	}
	return nil
}

// step is a place on the way, and how many exchanges it took.
type step struct {
	spot
	cost int
}

// shortest counts the exchanges, dialling being the first; 0 = there is no way.
func (w *walker) shortest(b *notebook) (int, error) {
	book := b.clone()
	state, r, err := w.dial(book, w.ch, nil)
	if err != nil {
		return 0, err
	}
	s, err := decodeSession(state)
	if err != nil {
		return 0, err
	}
	best := map[ScreenID]int{s.Screen: 1}
	queue := []step{{spot{state, s, book, r.Text}, 1}}
	for len(queue) > 0 {
		at := slices.MinFunc(queue, func(a, b step) int { return a.cost - b.cost })
		queue = slices.DeleteFunc(queue, func(s step) bool { return &s.state[0] == &at.state[0] })
		if at.s.Screen == sSaved {
			return at.cost, nil
		}
		c := w.m.scene(at.book, w.ch, at.s)
		pages, question := c.pages(nil), c.question(c.screen())
		for _, e := range w.entries(at.spot, false) {
			book := at.book.clone()
			state, r, err := w.enter(book, at.state, e)
			if err != nil {
				return 0, err
			}
			next, err := decodeSession(state)
			if err != nil || !r.More {
				continue
			}
			cost := at.cost + 1 + turns(pages, question, e)
			if old, ok := best[next.Screen]; ok && old <= cost {
				continue
			}
			best[next.Screen] = cost
			queue = append(queue, step{spot{state, next, book, r.Text}, cost})
		}
	}
	return 0, nil
}

// turns is how many pages are turned until an entry can be known: until its
// choice is seen, or the end of the question that a typed answer is for.
func turns(pages []string, question, entry string) int {
	for i, page := range pages {
		for line := range strings.Lines(page) {
			if strings.HasPrefix(line, entry+" ") {
				return i
			}
		}
	}
	words := strings.Fields(question)
	for i, page := range pages {
		if len(words) == 0 || strings.Contains(page, words[len(words)-1]) {
			return i
		}
	}
	return 0
}
