package proof

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rowbell/menu"
	"rowbell/menu/text"
)

// walker follows every way from screen to screen once for each grower, in one language on one channel, and checks each
// page that is shown.
type walker struct {
	m       *menu.Menu
	lang    string
	ch      menu.Channel
	screens []menu.Screen // all screens of the menu m, in the menu's order
	last    map[menu.ScreenID]bool

	seen           map[way]bool
	onward         map[menu.ScreenID]bool // screens for which some entry leads to another screen
	longest        map[menu.ScreenID]Page
	problems       []string
	note           string      // what is no mistake but could be better; may be ""
	said           []menu.Said // texts that the latest step wrote
	faults         map[fault]found
	digits         map[string]string // for each place, the digit of the walker's language in the list of languages
	pages          int
	mostPages      int
	knownExchanges int
	lateExchanges  int
	newExchanges   int
}

// way says that an entry on the screen from leads to the screen to.
type way struct {
	from  menu.ScreenID
	entry string
	to    menu.ScreenID
}

// place is a moment of the walk: the state of the dialogue, and the records as they are at that moment.
type place struct {
	state []byte
	menu.View
	g     *grower
	shown string
}

func newWalker(m *menu.Menu, lang string, ch menu.Channel) *walker {
	w := &walker{lang: lang, ch: ch, screens: m.Screens(), last: map[menu.ScreenID]bool{}, seen: map[way]bool{},
		onward: map[menu.ScreenID]bool{}, longest: map[menu.ScreenID]Page{}, faults: map[fault]found{},
		digits: map[string]string{}}
	w.m = m.Traced(func(s menu.Said) { w.said = append(w.said, s) })
	for _, s := range w.screens {
		w.last[s.ID] = s.Last
	}
	return w
}

// dial begins a dialogue on a channel, as a phone does it on that channel. If state is not nil, dial continues the
// dialogue that was left in this state.
func (w *walker) dial(g *grower, ch menu.Channel, state []byte) ([]byte, menu.Reply, error) {
	w.said = w.said[:0]
	if ch == menu.USSD {
		return w.m.Dial(g, ch, state, "")
	}
	out, err := w.m.Text(g, menu.Inbound{Text: w.menuWord(), Elsewhere: state})
	return out.State, menu.Reply{Text: out.Reply, More: out.State != nil, Send: out.Send, Resumed: out.TakenUp}, err
}

// enter makes one entry, as a phone does it on the walker's channel.
func (w *walker) enter(g *grower, state []byte, entry string) ([]byte, menu.Reply, error) {
	w.said = w.said[:0]
	if w.ch == menu.USSD {
		return w.m.Enter(g, menu.USSD, state, entry)
	}
	if w.m.IsKeyword(entry) {
		w.problem("the answer %q is a word that works at any moment", entry)
	}
	out, err := w.m.Text(g, menu.Inbound{Text: entry, State: state})
	return out.State, menu.Reply{Text: out.Reply, Screen: out.Screen, More: out.State != nil, Send: out.Send}, err
}

// menuWord returns a text that opens the menu by SMS: the first of the language's words for the menu.
func (w *walker) menuWord() string {
	words, _ := w.m.SMSCatalogue().Text(w.lang, "words.menu", nil)
	first, _, _ := strings.Cut(words, " ")
	if first == "?" { // a draft without words for the menu: those of other languages work
		return "MENU"
	}
	return first
}

// begin dials for a grower and returns the place of the first screen.
func (w *walker) begin(g *grower) (place, error) {
	at := place{g: g.clone()}
	state, r, err := w.dial(at.g, w.ch, nil)
	if err != nil {
		return at, err
	}
	at.state, at.shown = state, r.Text
	if err := w.look(&at); err != nil {
		return at, fmt.Errorf("first screen: %w", err)
	}
	return at, nil
}

// walk follows all ways of one grower, breadth first from the first screen.
func (w *walker) walk(g *grower) error {
	first, err := w.begin(g)
	if err != nil {
		return err
	}
	here := map[way]bool{}          // ways that the walk has followed for this grower
	met := map[menu.ScreenID]bool{} // screens on which all entries were tried
	for queue := []place{first}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		for _, entry := range w.entries(at, !met[at.Screen]) {
			next, more, err := w.follow(at, entry)
			if err != nil {
				return fmt.Errorf("screen %s, entry %q: %w", at.Screen, entry, err)
			}
			if next.Screen != at.Screen && (entry != menu.HomeKey || !at.Root) { // a first screen has no key for home
				w.onward[at.Screen] = true
			}
			to := way{at.Screen, entry, next.Screen}
			if here[to] {
				continue
			}
			isNew := !w.seen[to]
			here[to], w.seen[to] = true, true
			if !more {
				w.page(to, next.shown)
				continue
			}
			if err := w.look(&next); err != nil {
				return fmt.Errorf("screen %s, entry %q: %w", at.Screen, entry, err)
			}
			if err := w.arrive(at, to, next, isNew); err != nil {
				return err
			}
			queue = append(queue, next)
		}
		met[at.Screen] = true
	}
	return nil
}

// follow makes an entry on a copy of the records. follow fills in only the screen of the new place's view, because most
// ways are already known and need no more. more is false if the dialogue has ended.
func (w *walker) follow(at place, entry string) (next place, more bool, err error) {
	next.g = at.g.clone()
	state, r, err := w.enter(next.g, at.state, entry)
	if err != nil {
		return next, false, err
	}
	next.state, next.shown = state, r.Text
	if !r.More {
		next.Screen = w.ending(at, entry)
		return next, false, nil
	}
	next.Screen = r.Screen
	return next, true, nil
}

// look asks the menu for the whole view of a place: its pages, choices and sample entries.
func (w *walker) look(at *place) (err error) {
	at.View, err = w.m.Inspect(at.g, w.ch, at.state)
	return err
}

// entries lists the entries to try on a screen: each choice and each kind of typed answer. If first is true, the walk
// is on this screen for the first time, and the list also has the key for home and wrong entries. The key for back is
// not in the list, because checkBack tries it.
func (w *walker) entries(at place, first bool) []string {
	var entries []string
	if first {
		entries = append(entries, menu.HomeKey, "?", "8888888", strings.Repeat("x", 200))
		if w.ch == menu.USSD {
			entries = append(entries, "")
		}
	}
	if isLanguageList(at.Screen) { // each of the other languages has its own walk
		return append(entries, w.ownDigit(at.View))
	}
	for _, o := range at.Options {
		if at.Screen == menu.ScreenHome && at.g.branch != "" && !strings.ContainsRune(at.g.branch, rune(o.Digit)) {
			continue
		}
		entries = append(entries, string(o.Digit))
	}
	return append(entries, at.Samples...)
}

// ownDigit returns the entry that chooses the walker's language on a list of languages.
func (w *walker) ownDigit(list menu.View) string {
	name := w.m.SMSCatalogue().Name(w.lang)
	for _, o := range list.Options {
		if o.Label == name {
			return string(o.Digit)
		}
	}
	w.problem("the list of languages lacks %s", name)
	return ""
}

// ending returns the screen that ended a dialogue. A dialogue that has ended has no state, so the screen is found from
// the choice that leads to it.
func (w *walker) ending(at place, entry string) menu.ScreenID {
	for _, o := range at.Options {
		if string(o.Digit) == entry && w.last[o.To] {
			return o.To
		}
	}
	w.problem("screen %s, entry %q ends the dialogue", at.Screen, entry)
	return at.Screen
}

// page checks one page as the phone shows the page.
func (w *walker) page(to way, shown string) {
	w.pages++
	p := Page{Lang: w.lang, Channel: w.ch, Screen: to.to, From: to.from, Entry: to.entry, Text: shown,
		Octets: text.USSDOctets(shown), Segments: w.m.Encode(w.lang, shown).Segments}
	if w.ch == menu.USSD && p.Octets > text.USSDMaxOctets {
		w.checkLength(p, fmt.Sprintf("is %d octets long, a USSD page holds %d", p.Octets, text.USSDMaxOctets))
	}
	if w.ch == menu.SMS && p.Segments > menu.MaxAnswerSegments {
		w.checkLength(p, fmt.Sprintf("takes %d segments, at most %d are allowed", p.Segments, menu.MaxAnswerSegments))
	}
	if strings.TrimSpace(shown) == "" {
		w.problem("screen %s is empty", to.to)
	}
	if flaw(shown) != "" {
		w.checkFilled(p)
	}
	if p.Octets > w.longest[to.to].Octets {
		w.longest[to.to] = p
	}
}

// arrive checks all pages of the screen that an entry led to. If the way to the screen is new, arrive also calls
// checkBack, checkLanguage and checkDropped.
func (w *walker) arrive(from place, to way, at place, isNew bool) error {
	w.page(to, at.shown)
	if at.Refused {
		return w.checkPastReason(to, at)
	}
	refused := bytes.Equal(at.state, from.state)
	if at.Screen == from.Screen && at.Page == 0 && refused {
		return nil // refused, and the whole screen fits below the reason
	}
	whole, err := w.turnPages(to, at)
	if err != nil {
		return err
	}
	w.checkChoices(to, at.Options, whole)
	if !isNew {
		return nil
	}
	for _, check := range []func(place, way, place) error{w.checkBack, w.checkLanguage, w.checkDropped} {
		if err := check(from, to, at); err != nil {
			return err
		}
	}
	return nil
}

// turnPages turns the pages to the last one and back to the first. turnPages returns all pages that were shown.
func (w *walker) turnPages(to way, at place) ([]string, error) {
	whole := []string{at.shown}
	state := at.state
	g := at.g.clone()
	n := len(at.Pages)
	for range n - 1 {
		next, r, err := w.enter(g, state, menu.MoreKey)
		if err != nil {
			return nil, err
		}
		w.page(way{to.from, to.entry + " " + menu.MoreKey, to.to}, r.Text)
		whole, state = append(whole, r.Text), next
	}
	w.mostPages = max(w.mostPages, n)
	for i := range n - 1 {
		next, r, err := w.enter(g, state, menu.BackKey)
		if err != nil {
			return nil, err
		}
		if r.Text != whole[n-2-i] {
			w.problem("screen %s: back from page %d shows\n%s\nand not\n%s", to.to, n-i, r.Text, whole[n-2-i])
		}
		state = next
	}
	return whole, nil
}

// checkChoices checks that the choices of a screen are numbered without gaps, and are the choices that its pages show.
func (w *walker) checkChoices(to way, options []menu.Option, whole []string) {
	if len(options) > MaxChoices && !isLanguageList(to.to) {
		w.problem("screen %s has %d choices, %d are allowed", to.to, len(options), MaxChoices)
	}
	lines := strings.Split(strings.Join(whole, "\n"), "\n")
	for i, o := range options {
		if o.Digit != strconv.Itoa(i + 1)[0] || string(o.Digit) == menu.MoreKey {
			w.problem("screen %s after %q on %s: choice %d has the digit %c", to.to, to.entry, to.from, i+1, o.Digit)
		}
		if strings.TrimSpace(o.Label) == "" || !slices.Contains(lines, string(o.Digit)+" "+o.Label) {
			w.problem("screen %s after %q on %s: choice %c has no text:\n%s",
				to.to, to.entry, to.from, o.Digit, strings.Join(whole, "\n--\n"))
		}
	}
}
