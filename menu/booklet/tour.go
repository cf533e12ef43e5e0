package booklet

import (
	"fmt"
	"slices"

	"rowbell/menu"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// tour is what a walk through the menu in one language has shown.
type tour struct {
	m        *menu.Menu
	lang     string
	declared map[menu.ScreenID][]menu.Option
	screens  map[menu.ScreenID]*sight
}

// sight is a screen as seen by the first sample grower who came to it, with the answers that any sample grower was
// offered there.
type sight struct {
	pages   []string
	options []menu.Option // those on the pages
	answers []*answer     // in the order in which they were seen
	typed   *answer       // nil: nothing can be typed
}

// answer is a choice, or what may be typed, and the screens that it led to.
type answer struct {
	key    text.Key
	digit  byte   // 0: typed
	listed bool   // a line of a list that is made of the grower's records
	shown  string // "1 yes", as the line is shown; of what may be typed a sample
	back   bool   // it leads back to the screen that the dialogue came from
	to     []target
}

// target is a screen that an answer led to.
type target struct {
	id    menu.ScreenID
	usual bool // the first sample grower was led there
}

// walk visits every screen that a sample grower can come to.
func walk(m *menu.Menu, lang string) (*tour, error) {
	t := &tour{m: m, lang: lang, declared: map[menu.ScreenID][]menu.Option{}, screens: map[menu.ScreenID]*sight{}}
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

// stop is a place on a walk, and how it was reached.
type stop struct {
	state []byte
	book  *notebook.Book
	from  menu.ScreenID
	entry string
	cost  int // low for a way that takes the first answer of each screen
}

// The cost of a way: a little for each step, and much for each answer before the one that is taken. So a screen is
// shown as the first answers lead to it, even if a shorter way exists.
const (
	stepCost = 3
	skipCost = 10
)

// follow tries every choice and every sample entry for one grower, once for each way to a screen and each list of
// choices seen there; cheap ways come first.
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
		trials := t.note(v)
		visit := fmt.Sprint(at.from, at.entry, v.Screen, v.Options)
		if seen[visit] {
			continue
		}
		seen[visit] = true
		for i, try := range trials {
			book := at.book.Clone()
			state, r, err := t.m.Enter(book, menu.USSD, at.state, try.entry)
			if err != nil {
				return fmt.Errorf("screen %s, entry %q: %w", v.Screen, try.entry, err)
			}
			to := try.end
			if r.More {
				if to, err = menu.ScreenOf(state); err != nil {
					return err
				}
				cost := at.cost + stepCost
				if v.Screen != menu.ScreenHome { // no choice of home goes before the others
					cost += skipCost * i
				}
				queue = append(queue, stop{state, book, v.Screen, try.entry, cost})
			} else if t.screens[to] == nil {
				t.screens[to] = &sight{pages: []string{r.Text}}
			}
			a := try.answer
			if v.Screen == menu.ScreenDoubt { // the entry was typed on the screen before
				a = t.screens[v.Trail[len(v.Trail)-1]].typed
			}
			if to != v.Screen && !a.back {
				a.leadsTo(to, usual)
			}
		}
	}
	return nil
}

// leadsTo records a screen that the answer led to.
func (a *answer) leadsTo(id menu.ScreenID, usual bool) {
	if !slices.ContainsFunc(a.to, func(t target) bool { return t.id == id }) {
		a.to = append(a.to, target{id, usual})
	}
}

// trial is an entry to try, and the answer that it belongs to.
type trial struct {
	entry  string
	end    menu.ScreenID // the screen that it leads to, if it ends the dialogue
	answer *answer
}

// note records what a screen shows and offers, and lists what to try there.
func (t *tour) note(v menu.View) []trial {
	s := t.screens[v.Screen]
	if s == nil {
		s = &sight{pages: v.Pages, options: v.Options}
		t.screens[v.Screen] = s
	}
	isLanguage := v.Screen == menu.ScreenLanguage || v.Screen == menu.ScreenFirstLanguage
	var trials []trial
	for i, o := range v.Options {
		a := s.answerTo(t.declared[v.Screen], o)
		a.back = a.back || o.Back && len(v.Trail) > 0
		if isLanguage && t.m.Languages()[i] != t.lang { // the tour stays in its language
			continue
		}
		trials = append(trials, trial{string(o.Digit), o.To, a})
	}
	for _, sample := range v.Samples {
		if s.typed == nil {
			s.typed = &answer{shown: sample}
		}
		trials = append(trials, trial{entry: sample, answer: s.typed})
	}
	return trials
}

// answerTo finds or makes the answer of an option.
func (s *sight) answerTo(declared []menu.Option, o menu.Option) *answer {
	for _, a := range s.answers {
		if a.key == o.Key && a.digit == o.Digit {
			return a
		}
	}
	isSame := func(d menu.Option) bool { return d.Digit == o.Digit && d.Key == o.Key }
	a := &answer{key: o.Key, digit: o.Digit, listed: !slices.ContainsFunc(declared, isSame), shown: line(o)}
	s.answers = append(s.answers, a)
	return a
}

// line is an option as a screen shows it.
func line(o menu.Option) string { return string(o.Digit) + " " + o.Label }

// all lists what a grower can answer on the screen.
func (s *sight) all() []*answer {
	if s.typed == nil {
		return s.answers
	}
	return append(slices.Clone(s.answers), s.typed)
}
