package menu

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"rowbell/menu/text"
)

// walker follows every edge once per kind of grower, in one language on one
// channel.
type walker struct {
	m    *Menu
	lang string
	ch   Channel

	seen     map[edge]bool
	onward   map[ScreenID]bool // it leads somewhere
	longest  map[ScreenID]Page
	problems []string
	pages    int
	most     int
	known    int
	new      int
}

// edge is a way from screen to screen.
type edge struct {
	from  ScreenID
	entry string
	to    ScreenID
}

// spot is a place in the walk: the dialogue and the records as they then are.
type spot struct {
	state []byte
	s     *session // state, read
	book  *notebook
	shown string
}

func newWalker(m *Menu, lang string, ch Channel) *walker {
	return &walker{m: m, lang: lang, ch: ch, seen: map[edge]bool{}, onward: map[ScreenID]bool{}, longest: map[ScreenID]Page{}}
}

// dial begins a dialogue, or goes on with the one left in state, by the door
// that a phone uses.
func (w *walker) dial(b *notebook, ch Channel, state []byte) ([]byte, Reply, error) {
	if ch == USSD {
		return w.m.Dial(b, ch, state, "")
	}
	out, err := w.m.Text(b, Inbound{Text: w.menuWord(), Elsewhere: state})
	return out.State, Reply{Text: out.Reply, More: out.State != nil, Send: out.Send, Resumed: out.TakenUp}, err
}

// enter takes one entry by the same door.
func (w *walker) enter(b *notebook, state []byte, entry string) ([]byte, Reply, error) {
	if w.ch == USSD {
		return w.m.Enter(b, USSD, state, entry)
	}
	if k := w.m.word(digits(entry)); k != wordNone {
		w.problem("the answer %q is a word that works at any moment", entry)
	}
	out, err := w.m.Text(b, Inbound{Text: entry, State: state})
	return out.State, Reply{Text: out.Reply, More: out.State != nil, Send: out.Send}, err
}

// menuWord is the language's own word for the menu.
func (w *walker) menuWord() string {
	p := speech{cat: w.m.texts, lang: w.lang}
	first, _, _ := strings.Cut(p.t("words.menu", nil), " ")
	return first
}

func (w *walker) walk(b *notebook) error {
	book := b.clone()
	state, r, err := w.dial(book, w.ch, nil)
	if err != nil {
		return err
	}
	s, err := decodeSession(state)
	if err != nil {
		return fmt.Errorf("first screen: %w", err)
	}
	here := map[edge]bool{}
	met := map[ScreenID]bool{}
	queue := []spot{{state, s, book, r.Text}}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		for _, e := range w.entries(at, !met[at.s.Screen]) {
			book := at.book.clone()
			state, r, err := w.enter(book, at.state, e)
			if err != nil {
				return fmt.Errorf("screen %s, entry %q: %w", at.s.Screen, e, err)
			}
			next := spot{state, nil, book, r.Text}
			to := ScreenID("")
			if r.More {
				if next.s, err = decodeSession(state); err != nil {
					return fmt.Errorf("screen %s, entry %q: %w", at.s.Screen, e, err)
				}
				to = next.s.Screen
			} else {
				to = w.ending(at, e)
			}
			if to != at.s.Screen && (e != homeKey || !w.m.screens[at.s.Screen].Root) { // a first screen shows no keys
				w.onward[at.s.Screen] = true
			}
			way := edge{at.s.Screen, e, to}
			if here[way] {
				continue
			}
			first := !w.seen[way]
			here[way], w.seen[way] = true, true
			if !r.More {
				w.page(way, r.Text)
				continue
			}
			if err := w.arrive(at, way, next, first); err != nil {
				return err
			}
			queue = append(queue, next)
		}
		met[at.s.Screen] = true
	}
	return nil
}

// entries are the answers to try on a screen: each choice, each kind of typed
// answer; and, where it is met first, home and what nobody should type. Back
// has a rule of its own.
func (w *walker) entries(at spot, first bool) []string {
	c := w.m.scene(at.book, w.ch, at.s)
	screen := c.screen()
	var entries []string
	if first {
		entries = append(entries, homeKey, "?", "8888888", strings.Repeat("x", 200))
		if w.ch == USSD {
			entries = append(entries, "")
		}
	}
	choices := c.choices(screen)
	if screen.ID == sTongue || screen.ID == sLanguage {
		// The other languages have walks of their own.
		own := slices.Index(w.m.cat.Languages(), w.lang)
		return append(entries, string(choices[own].Digit))
	}
	for _, choice := range choices {
		if screen.ID == sHome && at.book.branch != "" && !strings.ContainsRune(at.book.branch, rune(choice.Digit)) {
			continue
		}
		entries = append(entries, string(choice.Digit))
	}
	if screen.Typed != nil {
		entries = append(entries, screen.Typed.Samples...)
	}
	return entries
}

// ending names the screen that ended a dialogue: it leaves no state, so it is
// looked up in the graph.
func (w *walker) ending(at spot, entry string) ScreenID {
	for _, choice := range w.m.screens[at.s.Screen].Choices {
		if string(choice.Digit) == entry && w.m.screens[choice.To].Last {
			return choice.To
		}
	}
	w.problem("screen %s, entry %q ends the dialogue", at.s.Screen, entry)
	return at.s.Screen
}

// page looks at one page as the phone would show it.
func (w *walker) page(way edge, shown string) {
	w.pages++
	p := Page{Lang: w.lang, Channel: w.ch, Screen: way.to, From: way.from, Entry: way.entry, Text: shown, Octets: text.USSDOctets(shown)}
	p.Parts, _ = w.m.segments(w.lang, shown)
	if w.ch == USSD && p.Octets > text.USSDMaxOctets {
		w.problem("screen %s after %q on %s is %d octets long, a USSD page holds %d:\n%s", way.to, way.entry, way.from, p.Octets, text.USSDMaxOctets, shown)
	}
	if w.ch == SMS && p.Parts > maxAnswerSegments {
		w.problem("screen %s after %q on %s takes %d segments, at most %d are allowed:\n%s", way.to, way.entry, way.from, p.Parts, maxAnswerSegments, shown)
	}
	if strings.TrimSpace(shown) == "" {
		w.problem("screen %s is empty", way.to)
	}
	if hole := unfilled(shown); hole != "" {
		w.problem("screen %s after %q on %s shows %s:\n%s", way.to, way.entry, way.from, hole, shown)
	}
	if p.Octets > w.longest[way.to].Octets {
		w.longest[way.to] = p
	}
}

// unfilled tells of a value that is missing in a text.
func unfilled(shown string) string {
	switch {
	case strings.ContainsAny(shown, "{}"), strings.Contains(shown, "%!"):
		return "a value that was not filled in"
	case strings.Contains(shown, "  "), strings.Contains(shown, " \n"), strings.HasSuffix(shown, " "), strings.Contains(shown, "\n\n"), strings.Contains(shown, " ."), strings.Contains(shown, " ,"):
		return "an empty value"
	}
	return ""
}

// arrive looks at a screen that an entry led to, on all its pages; the first
// time also at all that can be done there at any moment.
func (w *walker) arrive(from spot, way edge, at spot, first bool) error {
	w.page(way, at.shown)
	c := w.m.scene(at.book, w.ch, at.s)
	screen := c.screen()
	choices := c.choices(screen)
	if at.s.Refused {
		return w.pastReason(way, at)
	}
	if at.s.Screen == from.s.Screen && at.s.Page == 0 && bytes.Equal(at.state, from.state) {
		return nil // refused: the same screen under a reason
	}
	whole, err := w.turn(way, at)
	if err != nil {
		return err
	}
	w.offered(way, choices, whole)
	if !first {
		return nil
	}
	for _, rule := range []func(spot, edge, spot) error{w.backAgain, w.otherLanguage, w.dropped} {
		if err := rule(from, way, at); err != nil {
			return err
		}
	}
	return nil
}

// turn turns the pages to the last and back, and gives back all that was shown.
func (w *walker) turn(way edge, at spot) ([]string, error) {
	whole := []string{at.shown}
	state := at.state
	book := at.book.clone()
	n := len(w.m.scene(at.book, w.ch, at.s).pages(nil))
	for range n - 1 {
		next, r, err := w.enter(book, state, moreKey)
		if err != nil {
			return nil, err
		}
		w.page(edge{way.from, way.entry + " " + moreKey, way.to}, r.Text)
		whole, state = append(whole, r.Text), next
	}
	w.most = max(w.most, n)
	for i := range n - 1 {
		next, r, err := w.enter(book, state, backKey)
		if err != nil {
			return nil, err
		}
		if r.Text != whole[n-2-i] {
			w.problem("screen %s: back from page %d shows\n%s\nand not\n%s", way.to, n-i, r.Text, whole[n-2-i])
		}
		state = next
	}
	return whole, nil
}

// offered holds the choices of a screen against what is shown.
func (w *walker) offered(way edge, choices []Choice, whole []string) {
	if len(choices) > MaxChoices && way.to != sTongue && way.to != sLanguage {
		w.problem("screen %s has %d choices, %d are allowed", way.to, len(choices), MaxChoices)
	}
	digits := map[byte]bool{}
	for _, choice := range choices {
		if digits[choice.Digit] || choice.Digit < '1' || choice.Digit > '8' {
			w.problem("screen %s: %c stands for two choices or is a key", way.to, choice.Digit)
		}
		digits[choice.Digit] = true
		n := 0
		for line := range strings.Lines(strings.Join(whole, "\n")) {
			if label, ok := strings.CutPrefix(strings.TrimRight(line, "\n"), string(choice.Digit)+" "); ok && strings.TrimSpace(label) != "" {
				n++
			}
		}
		if n == 0 {
			w.problem("screen %s after %q on %s: choice %c has no text:\n%s", way.to, way.entry, way.from, choice.Digit, strings.Join(whole, "\n--\n"))
		}
	}
}
