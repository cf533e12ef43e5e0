package proof

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"rowbell/menu"
	"rowbell/menu/notebook"
)

// Check reports the texts and pages of the operator's languages that are too long, lack a value, or name answers that
// mean something else, with the text of a language file that makes the mistake. It walks the screens by USSD, whose
// pages are the shorter ones, a few times for each grower, and tries no keys. So it takes a fraction of a second where
// Prove takes seconds, and the service can check its texts at each start. Languages without a file of the operator's
// are left out: tests prove them. If a text stops the walk, Check reports what it has found until then.
func Check(m *menu.Menu) ([]string, error) {
	m = m.CalculatedBy(new(notebook.WindowMemo).Of)
	var walkers []*walker
	for _, lang := range m.Languages() {
		if m.SMSCatalogue().Own(lang) {
			walkers = append(walkers, newWalker(m, lang, menu.USSD))
		}
	}
	errs := make([]error, len(walkers))
	var wait sync.WaitGroup
	for i, w := range walkers {
		wait.Go(func() {
			errs[i] = cmp.Or(w.checkRung(), w.glance())
			w.report()
		})
	}
	wait.Wait()
	var problems []string
	for i, w := range walkers {
		if errs[i] != nil {
			w.problem("the screens could not all be checked: %v", errs[i])
		}
		_, texts := proveTexts(m, w.lang)
		answers, err := leftOut(m, w.lang)
		if err != nil {
			return nil, err
		}
		problems = slices.Concat(problems, w.problems, texts, answers)
	}
	return problems, nil
}

// mostVisits is how often a grower goes on from a screen that shows the same texts with other values. With three visits
// the pages have 534 of the 540 texts that the pages of Prove have.
const mostVisits = 3

// glance shows each screen to each grower a few times, and again each time that it shows other texts, and checks all of
// its pages.
func (w *walker) glance() error {
	tried := map[menu.ScreenID]bool{} // screens on which a grower has made wrong entries and dropped the connection
	shown := map[string]bool{}        // screens with the texts that they show
	for _, g := range growers(w.lang) {
		at, err := w.begin(g)
		if err != nil {
			return err
		}
		w.pagesOf(way{to: at.Screen}, at)
		met, here := map[menu.ScreenID]int{at.Screen: 1}, map[string]bool{}
		for queue := []place{at}; len(queue) > 0; queue = queue[1:] {
			at = queue[0]
			if !tried[at.Screen] {
				tried[at.Screen] = true
				if err := w.tryWrong(at); err != nil {
					return err
				}
			}
			for _, entry := range w.entries(at, false) {
				next, more, err := w.follow(at, entry)
				if err != nil {
					return fmt.Errorf("screen %s, entry %q: %w", at.Screen, entry, err)
				}
				to := way{at.Screen, entry, next.Screen}
				w.page(to, next.shown)
				texts := w.texts(next.Screen)
				if !more || shown[texts] && (met[next.Screen] >= mostVisits || here[next.shown]) {
					continue
				}
				met[next.Screen]++
				shown[texts], here[next.shown] = true, true
				if err := w.look(&next); err != nil {
					w.notKept(to, err)
					continue
				}
				w.pagesOf(to, next)
				queue = append(queue, next)
			}
		}
	}
	return nil
}

// notKept blames the longest text of the latest step for a screen that cannot be kept until the next entry.
func (w *walker) notKept(to way, err error) {
	var longest menu.Said
	for _, s := range w.said {
		if len(s.Text) > len(longest.Text) {
			longest = s
		}
	}
	what := fmt.Sprintf("is %d characters long, too long to be kept until the next entry (%v)",
		utf8.RuneCountInString(longest.Text), err)
	w.faults[fault{longest.Key, "not kept"}] = found{fmt.Sprintf("by %s, screen %s: the text %s", w.ch, to.to, what), 0}
}

// texts returns a screen and the keys of the texts that the latest step wrote.
func (w *walker) texts(id menu.ScreenID) string {
	var b strings.Builder
	b.WriteString(string(id))
	for _, s := range w.said {
		b.WriteByte(' ')
		b.WriteString(string(s.Key))
	}
	return b.String()
}

// pagesOf checks all pages of a screen.
func (w *walker) pagesOf(to way, at place) {
	for _, page := range at.Pages {
		w.page(to, page)
	}
}

// tryWrong makes wrong entries on a screen, whose pages then show the reason, and drops the connection.
func (w *walker) tryWrong(at place) error {
	for _, entry := range []string{"", "?", "8888888", strings.Repeat("x", 200)} {
		next, more, err := w.follow(at, entry)
		if err != nil {
			return err
		}
		if more {
			w.page(way{at.Screen, entry, next.Screen}, next.shown)
		}
	}
	if !at.Resumes {
		return nil
	}
	_, r, err := w.dial(at.g.clone(), w.ch, at.state)
	w.page(way{at.Screen, "(dropped)", at.Screen}, r.Text)
	return err
}
