package menu

import (
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Page is one screen as a phone would show it, found by the proof.
type Page struct {
	Lang   string
	Screen ScreenID
	Entry  string // what was typed on the screen before
	From   ScreenID
	Text   string
	Octets int // USSD octets in the text's alphabet
}

// Proof is what walking the whole menu found.
type Proof struct {
	Screens  int
	Edges    int
	Longest  []Page    // the longest page of each screen, in the menu's order
	Texts    []SMSText // every text that goes out by SMS, with its longest values
	Problems []string  // empty: the menu holds
}

// SMSText is an outgoing text with the longest values filled in.
type SMSText struct {
	Lang     string
	Key      text.Key
	Text     string
	Segments int
	Alphabet text.Alphabet
}

// Limits that the proof holds every screen and text to.
const (
	MaxChoices      = 6
	maxRingSegments = 1
	maxSMSSegments  = 2
)

// Prove walks every screen in every language by running the dialogue itself,
// over growers of every kind, with each choice, each kind of typed answer in
// its longest form, wrong answers, back and home.
func (m *Menu) Prove() (Proof, error) {
	var p Proof
	p.Screens = len(m.order)
	for _, lang := range m.cat.Languages() {
		w := &walker{m: m, lang: lang, seen: map[[3]string]bool{}, longest: map[ScreenID]Page{}}
		for _, b := range notebooks(lang) {
			if err := w.walk(b); err != nil {
				return p, err
			}
		}
		p.Edges += len(w.seen)
		p.Problems = append(p.Problems, w.problems...)
		for _, id := range m.order {
			page, ok := w.longest[id]
			if !ok {
				p.Problems = append(p.Problems, fmt.Sprintf("%s: screen %s cannot be reached", lang, id))
				continue
			}
			p.Longest = append(p.Longest, page)
		}
		texts, problems := m.proveTexts(lang)
		p.Texts = append(p.Texts, texts...)
		p.Problems = append(p.Problems, problems...)
	}
	return p, nil
}

// walker follows every edge once per kind of grower.
type walker struct {
	m        *Menu
	lang     string
	seen     map[[3]string]bool // from, entry, to
	longest  map[ScreenID]Page
	problems []string
}

// spot is a place in the walk: the dialogue and the records as they then are.
type spot struct {
	state []byte
	book  *notebook
}

func (w *walker) problem(format string, args ...any) {
	s := w.lang + ": " + fmt.Sprintf(format, args...)
	if !slices.Contains(w.problems, s) {
		w.problems = append(w.problems, s)
	}
}

func (w *walker) walk(b *notebook) error {
	here := map[[3]string]bool{}
	start := b.clone()
	state, r, err := w.m.Dial(start, USSD, nil, "")
	if err != nil {
		return err
	}
	first, err := decodeSession(state)
	if err != nil {
		return err
	}
	first.Lang = w.lang
	if state, err = first.encode(); err != nil {
		return err
	}
	w.page("", "", first.Screen, r.Text)
	queue := []spot{{state, start}}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		from, err := decodeSession(at.state)
		if err != nil {
			return err
		}
		for _, e := range w.entries(at, from) {
			book := at.book.clone()
			state, r, err := w.m.Enter(book, USSD, at.state, e)
			if err != nil {
				return fmt.Errorf("menu: screen %s, entry %q: %w", from.Screen, e, err)
			}
			to := w.arrived(from, e, state, r)
			edge := [3]string{string(from.Screen), e, string(to)}
			if here[edge] {
				continue
			}
			here[edge], w.seen[edge] = true, true
			w.page(from.Screen, e, to, r.Text)
			if r.More {
				if err := w.resume(state, book, to); err != nil {
					return err
				}
				queue = append(queue, spot{state, book})
			}
		}
	}
	return nil
}

// entries are all classes of answers to a screen.
func (w *walker) entries(at spot, from *session) []string {
	c := w.m.scene(at.book, USSD, from)
	screen := c.screen()
	choices := c.choices(screen)
	if len(choices) > MaxChoices {
		w.problem("screen %s has %d choices", screen.ID, len(choices))
	}
	entries := []string{backKey, homeKey, "", "8888888", strings.Repeat("x", 200)}
	for _, choice := range choices {
		entries = append(entries, string(choice.Digit))
	}
	if screen.Typed != nil {
		entries = append(entries, screen.Typed.Samples...)
	}
	return entries
}

// arrived names the screen that an entry led to; the choice that ends a
// dialogue leaves no state, so it is looked up in the graph.
func (w *walker) arrived(from *session, entry string, state []byte, r Reply) ScreenID {
	if s, err := decodeSession(state); err == nil {
		return s.Screen
	}
	for _, choice := range w.m.screens[from.Screen].Choices {
		if string(choice.Digit) == entry {
			return choice.To
		}
	}
	w.problem("screen %s, entry %q ends the dialogue", from.Screen, entry)
	return from.Screen
}

// page checks what the phone would show.
func (w *walker) page(from ScreenID, entry string, id ScreenID, shown string) {
	page := Page{Lang: w.lang, Screen: id, From: from, Entry: entry, Text: shown, Octets: text.USSDOctets(shown)}
	if !text.FitsUSSD(shown) {
		w.problem("screen %s after %q on %s is %d octets long, a USSD page holds 160:\n%s", id, entry, from, page.Octets, shown)
	}
	if strings.TrimSpace(shown) == "" {
		w.problem("screen %s is empty", id)
	}
	if page.Octets > w.longest[id].Octets {
		w.longest[id] = page
	}
}

// resume drops the session here and dials again: the same question must come
// back.
func (w *walker) resume(state []byte, b *notebook, id ScreenID) error {
	screen := w.m.screens[id]
	paused, r, err := w.m.Dial(b.clone(), USSD, state, "")
	if err != nil {
		return err
	}
	s, err := decodeSession(state)
	if err != nil {
		return err
	}
	if !w.m.unfinished(b, s) {
		return nil
	}
	w.page(id, "(dialled again)", id, r.Text)
	again, _, err := w.m.Enter(b.clone(), USSD, paused, goOnKey)
	if err != nil {
		return err
	}
	if t, err := decodeSession(again); err != nil || t.Screen != screen.ID {
		w.problem("screen %s is not gone on with after a dropped session", id)
	}
	return nil
}

// proveTexts fills every outgoing text with the longest value of each
// argument.
func (m *Menu) proveTexts(lang string) (texts []SMSText, problems []string) {
	long := m.longestValues(lang)
	for _, k := range m.cat.Keys(lang) {
		group, _, _ := strings.Cut(string(k), ".")
		if group != "ring" && group != "sms" {
			continue
		}
		args := text.Args{}
		for _, name := range m.cat.Args(lang, k) {
			v, ok := long[name]
			if !ok {
				problems = append(problems, fmt.Sprintf("%s: text %s wants {%s}, which nothing fills in", lang, k, name))
			}
			args[name] = v
		}
		if strings.HasSuffix(string(k), "-two") {
			args["plot"] = long["both"]
		}
		body, err := m.cat.Text(lang, k, args)
		if err != nil {
			problems = append(problems, fmt.Sprintf("%s: %v", lang, err))
			continue
		}
		t := SMSText{Lang: lang, Key: k, Text: body}
		t.Segments, t.Alphabet = text.Segments(body)
		texts = append(texts, t)
		limit := maxSMSSegments
		if group == "ring" && !strings.HasSuffix(string(k), "-two") {
			limit = maxRingSegments
		}
		if t.Segments > limit {
			problems = append(problems, fmt.Sprintf("%s: text %s takes %d segments, at most %d are allowed:\n%s", lang, k, t.Segments, limit, body))
		}
	}
	return texts, problems
}

// longestValues is the widest value of each argument of an outgoing text.
func (m *Menu) longestValues(lang string) text.Args {
	d := ""
	for i := range engine.Day(365) {
		if s := m.date(lang, engine.Date(2026, 1, 1)+i); text.USSDOctets(s) > text.USSDOctets(d) {
			d = s
		}
	}
	span, err := m.cat.Text(lang, "day.span", text.Args{"opens": d, "closes": d})
	if err != nil {
		span = d
	}
	next := ""
	for _, k := range m.cat.Keys(lang) {
		if strings.HasPrefix(string(k), "next.") {
			if s, err := m.cat.Text(lang, k, text.Args{"opens": d, "closes": d, "span": span, "end": d}); err == nil && len(s) > len(next) {
				next = s
			}
		}
	}
	both, err := m.cat.Text(lang, "plot.both", text.Args{"a": longLabel, "b": longLabel})
	if err != nil {
		both = longLabel
	}
	return text.Args{"plot": longLabel, "both": both, "a": longLabel, "b": longLabel, "code": m.opt.DialCode, "n": 12, "next": next,
		"tool": "12.5", "cm": "0.5", "hours": "99", "saved": "999", "was": span, "span": span, "date": d, "opens": d, "best": d, "closes": d, "end": d}
}
