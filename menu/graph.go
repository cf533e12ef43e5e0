package menu

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/menu/text"
)

// Graph is the whole menu as data: what a picture or a page of training is made
// from. What works everywhere (back, home, another language, the next page of a
// long screen) is left out.
type Graph struct {
	Nodes []Node // in the menu's order, the first being where a stranger begins
	Ways  []Way  // by the screen they leave, then by digit
}

// Node is a screen.
type Node struct {
	ID   ScreenID
	Kind NodeKind
	Text string // its question with sample values; where nothing is asked, what it tells; "" where no sample grower comes
}

// NodeKind is what a screen wants of the grower.
type NodeKind uint8

const (
	RootNode  NodeKind = iota + 1 // a dialogue begins here
	ListNode                      // one of its digits
	TypedNode                     // an entry in the grower's own words or numbers
	TellNode                      // nothing: it tells
	LastNode                      // nothing: the dialogue ends
)

// String is the kind in a word.
func (k NodeKind) String() string {
	switch k {
	case RootNode:
		return "start"
	case ListNode:
		return "choose"
	case TypedNode:
		return "type"
	case TellNode:
		return "read"
	case LastNode:
		return "end"
	}
	return ""
}

// Way leads from one screen to the next.
type Way struct {
	From, To ScreenID // To "": the screen that the dialogue came from
	By       WayKind
	Entry    string // the digit; of a list made of records, its digits, as "1-4"
	Label    string // the words beside the digit, or a sample of what may be typed
	Saves    bool   // it changes the records
}

// WayKind is how a way is taken.
type WayKind uint8

const (
	ByDigit   WayKind = iota + 1 // a choice
	ByTyping                     // an entry that could be read
	InDoubt                      // an entry that may be a slip
	Otherwise                    // without the grower: the screen is not for them
	AtOnce                       // without the grower: there is nothing to choose
)

// Graph draws up all screens and ways in a language. What is declared is taken
// from the screens, what is made of a grower's records from walks through the
// menu with sample growers. It fails where a text does.
func (m *Menu) Graph(lang string) (Graph, error) {
	if !slices.Contains(m.cat.Languages(), lang) {
		return Graph{}, fmt.Errorf("menu: %q is not among the languages %s", lang, strings.Join(m.cat.Languages(), ", "))
	}
	t := tour{m: m, lang: lang, says: map[ScreenID]string{}, ways: map[wayID]Way{}}
	for _, id := range m.order {
		if err := t.declared(m.screens[id]); err != nil {
			return Graph{}, err
		}
	}
	// The samples read well; the proof's growers reach what is left.
	for _, b := range append(sampleBooks(lang), notebooks(lang)...) {
		if err := t.walk(b); err != nil {
			return Graph{}, err
		}
	}
	var g Graph
	for _, id := range m.order {
		g.Nodes = append(g.Nodes, Node{ID: id, Kind: t.kind(m.screens[id]), Text: t.said(id)})
	}
	for _, w := range t.ways {
		g.Ways = append(g.Ways, w)
	}
	at := func(id ScreenID) int { return slices.Index(m.order, id) }
	slices.SortFunc(g.Ways, func(a, b Way) int {
		return cmp.Or(cmp.Compare(at(a.From), at(b.From)), cmp.Compare(a.By, b.By), cmp.Compare(a.Entry, b.Entry), cmp.Compare(at(a.To), at(b.To)), cmp.Compare(a.Label, b.Label))
	})
	return g, nil
}

// tour gathers screens and ways.
type tour struct {
	m    *Menu
	lang string
	says map[ScreenID]string
	ways map[wayID]Way
}

// wayID tells ways apart: the lines of a list that lead to the same screen
// are one.
type wayID struct {
	from, to ScreenID
	by       WayKind
	label    text.Key
	digit    byte // of a declared choice
}

// declared notes the ways that a screen declares.
func (t *tour) declared(s *Screen) error {
	for _, c := range s.Choices {
		if err := t.choice(s.ID, c, c.Digit); err != nil {
			return err
		}
	}
	if s.Typed != nil {
		sample := ""
		if len(s.Typed.Samples) > 0 {
			sample = s.Typed.Samples[0]
		}
		t.note(wayID{from: s.ID, to: s.Typed.To, by: ByTyping}, Way{Label: sample, Saves: s.Typed.Do != nil})
		if s.Typed.Doubt != nil {
			t.note(wayID{from: s.ID, to: sDoubt, by: InDoubt}, Way{})
		}
	}
	if s.When != nil {
		t.note(wayID{from: s.ID, to: s.Else, by: Otherwise}, Way{})
	}
	return nil
}

// choice notes the way of a choice; declared is its digit, 0 for a line of a
// list, whose digits are gathered.
func (t *tour) choice(from ScreenID, c Choice, declared byte) error {
	label, err := t.m.cat.Text(t.lang, c.Label, c.Args)
	if err != nil {
		return err
	}
	to := c.To
	if to == sBefore {
		to = ""
	}
	k := wayID{from: from, to: to, by: ByDigit, label: c.Label, digit: declared}
	w := Way{Entry: string(c.Digit), Label: label, Saves: c.Do != nil}
	if old, ok := t.ways[k]; ok && declared == 0 {
		w.Label, w.Entry = old.Label, widen(old.Entry, c.Digit)
	}
	t.note(k, w)
	return nil
}

// widen stretches "1" or "1-3" so that a digit lies in it.
func widen(digits string, d byte) string {
	low, high := min(digits[0], d), max(digits[len(digits)-1], d)
	if low == high {
		return string(low)
	}
	return string(low) + "-" + string(high)
}

func (t *tour) note(k wayID, w Way) {
	w.From, w.To, w.By = k.from, k.to, k.by
	t.ways[k] = w
}

// halt is a place on a walk, and how it was come to.
type halt struct {
	state []byte
	book  *notebook
	from  ScreenID
	entry string
}

// walk follows, for one grower, every choice and sample of every screen once
// for each way that led there and each list of choices it then offers.
func (t *tour) walk(b *notebook) error {
	state, _, err := t.m.Dial(b.clone(), USSD, nil, "")
	if err != nil {
		return err
	}
	first, err := decodeSession(state)
	if err != nil {
		return err
	}
	first.Lang = t.lang
	if state, err = first.encode(); err != nil {
		return err
	}
	seen := map[string]bool{}
	for queue := []halt{{state: state, book: b.clone()}}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		steps, err := t.look(at)
		if err != nil {
			return err
		}
		face := fmt.Sprint(at.from, at.entry, steps)
		if seen[face] {
			continue
		}
		seen[face] = true
		for _, step := range steps {
			book := at.book.clone()
			state, r, err := t.m.Enter(book, USSD, at.state, step.entry)
			if err != nil {
				return fmt.Errorf("menu: screen %s, entry %q: %w", step.from, step.entry, err)
			}
			if !r.More {
				if to := step.to; t.says[to] == "" && t.m.screens[to] != nil && t.m.screens[to].Last {
					t.says[to] = r.Text
				}
				continue
			}
			s, err := decodeSession(state)
			if err != nil {
				return err
			}
			t.jumped(step, s.Screen)
			queue = append(queue, halt{state, book, step.from, step.entry})
		}
	}
	return nil
}

// tried is an entry to try, and where it is to lead.
type tried struct {
	from, to ScreenID
	entry    string
}

// look notes what a screen says and the lines of its list, and returns the
// entries to walk on with: choices and samples.
func (t *tour) look(at halt) ([]tried, error) {
	s, err := decodeSession(at.state)
	if err != nil {
		return nil, err
	}
	c := t.m.scene(at.book, USSD, s)
	screen := c.screen()
	if t.says[screen.ID] == "" {
		t.says[screen.ID] = c.saying()
	}
	if screen.List != nil {
		for _, choice := range screen.List(c) {
			if err := t.choice(screen.ID, choice, 0); err != nil {
				return nil, err
			}
		}
	}
	var steps []tried
	for _, choice := range c.choices(screen) {
		steps = append(steps, tried{screen.ID, choice.To, string(choice.Digit)})
	}
	if screen.Typed != nil {
		for _, sample := range screen.Typed.Samples {
			steps = append(steps, tried{screen.ID, screen.Typed.To, sample})
		}
	}
	return steps, c.err
}

// saying is a screen's question, or what it tells where it asks nothing.
func (c *scene) saying() string {
	screen := c.screen()
	if q := c.question(screen); q != "" {
		return q
	}
	if screen.Head != nil {
		return screen.Head(c)
	}
	var labels []string // a bare list speaks for itself
	for _, choice := range c.choices(screen) {
		labels = append(labels, c.t(choice.Label, choice.Args))
	}
	return strings.Join(labels, ", ")
}

// jumped notes a way that the machine took by itself: the entry was to lead
// somewhere, and led on from there.
func (t *tour) jumped(e tried, arrived ScreenID) {
	if arrived == e.from || arrived == sDoubt {
		return
	}
	jumps := ScreenID("")
	for id := e.to; id != ""; {
		s := t.m.screens[id]
		if s == nil || id == arrived {
			return
		}
		if s.Jump != nil && jumps == "" {
			jumps = id
		}
		id = s.Else
	}
	if jumps != "" {
		t.note(wayID{from: jumps, to: arrived, by: AtOnce}, Way{})
	}
}

// said is what a screen says. One that no walk comes to, as where there is one
// language only, is asked without records.
func (t *tour) said(id ScreenID) string {
	if s := t.says[id]; s != "" {
		return s
	}
	c := t.m.scene(&notebook{lang: t.lang}, USSD, &session{Lang: t.lang, Screen: id})
	if s := c.saying(); c.err == nil {
		return s
	}
	return "" // a page that this language has no need of
}

func (t *tour) kind(s *Screen) NodeKind {
	switch {
	case s.Last:
		return LastNode
	case s.Root:
		return RootNode
	case len(s.Choices) > 0, s.List != nil:
		return ListNode
	case s.Typed != nil:
		return TypedNode
	}
	return TellNode
}
