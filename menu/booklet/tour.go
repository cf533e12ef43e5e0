package booklet

import (
	"fmt"
	"slices"

	"rowbell/menu"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// tour is what the walk through the menu in one language has found: each screen that sample growers reached.
type tour struct {
	m        *menu.Menu
	lang     string
	declared map[menu.ScreenID][]menu.Choice
	screens  map[menu.ScreenID]*sight
}

// sight is what the tour saw of one screen: the pages as shown to the first sample grower who reached the screen, and
// the answers that the screen offered to any sample grower.
type sight struct {
	pages   []string
	options []menu.Option // the choices that are shown in the field pages
	answers []*answer     // all answers of the screen, in the order in which the walk found them
	typed   *answer       // the answer for typed text; nil: nothing can be typed
}

// answer is a choice of a screen, or the text that may be typed on the screen. The field to has the screens that the
// answer led to.
type answer struct {
	key    text.Key // "": the answer is typed text
	nth    int      // how many choices above this one have the same key, as lines of a list have
	listed bool     // the answer is a line of a list that is made from the grower's records
	shown  string   // the line as the screen shows it, such as "1 yes"; for typed text an example
	back   bool     // the answer leads back to the screen before
	to     []target
}

// target is a screen that an answer led to during the walk.
type target struct {
	id    menu.ScreenID
	usual bool // the answer led the first sample grower to this screen; the order of screens prefers such ways
}

// walk visits every screen that one of the sample growers can reach.
func walk(m *menu.Menu, lang string) (*tour, error) {
	t := &tour{m: m, lang: lang, declared: map[menu.ScreenID][]menu.Choice{}, screens: map[menu.ScreenID]*sight{}}
	for _, s := range m.Screens() {
		t.declared[s.ID] = s.Choices
	}
	for i, b := range samples(lang) {
		if err := t.follow(b, i == 0); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// stop is a point of a walk: the state of the dialogue, the records, and the entry that led to this point.
type stop struct {
	state []byte
	book  *notebook.Book
	from  menu.ScreenID
	entry string
	cost  int // cost of the way to this point; it is low if the first answer of each screen was chosen
}

// Each step of a way through the menu costs stepCost, and skipCost more for each answer listed above the chosen answer.
// The walk takes cheap ways first. So the booklet shows a screen as it looks if growers choose the first answers, even
// if another way has fewer steps.
const (
	stepCost = 3
	skipCost = 10
)

// follow tries every choice and every sample entry for one grower, the ways with the lowest cost first. If the grower
// comes to a screen again by the same entry on the same screen, and it offers the same choices, follow does not try
// them again.
func (t *tour) follow(b *notebook.Book, usual bool) error {
	b = b.Clone()
	state, _, err := t.m.Dial(b, menu.USSD, nil, "")
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for queue := []stop{{state: state, book: b}}; len(queue) > 0; {
		at := slices.MinFunc(queue, func(a, b stop) int { return a.cost - b.cost })
		queue = slices.DeleteFunc(queue, func(s stop) bool { return s.book == at.book })
		v, err := t.m.Inspect(at.book, menu.USSD, at.state)
		if err != nil {
			return err
		}
		attempts := t.note(v)
		visit := fmt.Sprint(at.from, at.entry, v.Screen, v.Options)
		if seen[visit] {
			continue
		}
		seen[visit] = true
		for i, try := range attempts {
			book := at.book.Clone()
			state, r, err := t.m.Enter(book, menu.USSD, at.state, try.entry)
			if err != nil {
				return fmt.Errorf("screen %s, entry %q: %w", v.Screen, try.entry, err)
			}
			to := try.end
			if r.More {
				to = r.Screen
				cost := at.cost + stepCost
				if v.Screen != menu.ScreenHome { // on the home screen all choices have the same cost
					cost += skipCost * i
				}
				queue = append(queue, stop{state, book, v.Screen, try.entry, cost})
			} else if t.screens[to] == nil {
				t.screens[to] = &sight{pages: []string{r.Text}}
			}
			a := try.answer
			if v.Screen == menu.ScreenDoubt { // this screen asks about an entry that was typed on the screen before
				a = t.screens[v.Trail[len(v.Trail)-1]].typed
			}
			if to != v.Screen && !a.back {
				a.leadsTo(to, usual)
			}
		}
	}
	return nil
}

// leadsTo records that the answer led to the screen id.
func (a *answer) leadsTo(id menu.ScreenID, usual bool) {
	if !slices.ContainsFunc(a.to, func(t target) bool { return t.id == id }) {
		a.to = append(a.to, target{id, usual})
	}
}

// attempt is an entry to try, and the answer to which it belongs.
type attempt struct {
	entry  string
	end    menu.ScreenID // the screen that ends the dialogue after this entry; "" if the dialogue continues
	answer *answer
}

// note records what a screen shows and offers. note returns the entries to try on the screen.
func (t *tour) note(v menu.View) []attempt {
	s := t.screens[v.Screen]
	if s == nil {
		s = &sight{pages: v.Pages, options: v.Options}
		t.screens[v.Screen] = s
	}
	isLanguage := v.Screen == menu.ScreenLanguage || v.Screen == menu.ScreenFirstLanguage
	var attempts []attempt
	for i, o := range v.Options {
		a := s.answerTo(t.declared[v.Screen], v.Options, i)
		a.back = a.back || o.Back && len(v.Trail) > 0
		if isLanguage && t.m.Languages()[i] != t.lang { // other languages have tours of their own
			continue
		}
		attempts = append(attempts, attempt{string(o.Digit), o.To, a})
	}
	for _, sample := range v.Samples {
		if s.typed == nil {
			s.typed = &answer{shown: sample}
		}
		attempts = append(attempts, attempt{entry: sample, answer: s.typed})
	}
	return attempts
}

// answerTo returns the answer that the tour has recorded for one of the options of the screen. For a new option it
// records an answer. Another grower may see the same choice with another digit, so the digit does not identify it.
func (s *sight) answerTo(declared []menu.Choice, options []menu.Option, i int) *answer {
	o, nth := options[i], 0
	for _, above := range options[:i] {
		if above.Key == o.Key {
			nth++
		}
	}
	for _, a := range s.answers {
		if a.key == o.Key && a.nth == nth {
			return a
		}
	}
	isSame := func(d menu.Choice) bool { return d.Label == o.Key }
	a := &answer{key: o.Key, nth: nth, listed: !slices.ContainsFunc(declared, isSame), shown: line(o)}
	s.answers = append(s.answers, a)
	return a
}

// line returns an option as a screen shows it.
func line(o menu.Option) string { return string(o.Digit) + " " + o.Label }

// all returns all answers that a grower can give on the screen.
func (s *sight) all() []*answer {
	if s.typed == nil {
		return s.answers
	}
	return append(slices.Clone(s.answers), s.typed)
}
