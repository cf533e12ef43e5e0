package menu

import (
	"fmt"
	"slices"
	"sync"

	"rowbell/menu/text"
)

// Page is one page of a screen as a phone would show it, found by the proof.
type Page struct {
	Lang    string
	Channel Channel
	Screen  ScreenID
	From    ScreenID
	Entry   string // what was typed on the screen before
	Text    string
	Octets  int // USSD octets in the text's alphabet
	Parts   int // segments it takes as a text
}

// Proof is what walking the whole menu found.
type Proof struct {
	Screens  int
	Walks    []Walk    // one a language and channel
	Longest  []Page    // the longest page of each screen on USSD, by language, in the menu's order
	Texts    []SMSText // every text that goes out by SMS, with its longest values
	Problems []string  // empty: the menu holds
}

// Walk is what was seen of one language on one channel.
type Walk struct {
	Lang    string
	Channel Channel
	Edges   int  // ways from screen to screen: screen, entry, screen
	Pages   int  // pages shown, each looked at
	Most    int  // pages of the screen that takes the most
	Known   int  // exchanges from dialling to a saved plot, for a grower who is known
	New     int  // the same at first contact
	Longest Page // of all
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
	MaxChoices = 6 // of an ordinary screen; lists of languages may be longer

	// MaxExchanges from dialling to a saved plot: eight are what a regulator once
	// let a session have (TRAI, Mobile Banking (Quality of Service) Regulations,
	// second amendment, 2016); first contact may add two.
	MaxExchanges    = 8
	maxFirstContact = 2
)

// maxSegments bounds a text: what rings a grower for one plot, and any other.
func maxSegments(a text.Alphabet, rings bool) int {
	switch {
	case rings && a == text.GSM7:
		return 1
	case rings || a == text.GSM7:
		return 2
	}
	return 3
}

// Prove walks every screen in every language on both channels by running the
// dialogue itself, over growers of every kind, with each choice, each kind of
// typed answer in its shortest and longest form, wrong answers, back, home,
// and drops.
func (m *Menu) Prove() (Proof, error) { return m.ProveIn(m.cat.Languages()...) }

// ProveIn proves some of the languages only.
func (m *Menu) ProveIn(langs ...string) (Proof, error) {
	p := Proof{Screens: len(m.order)}
	var walkers []*walker
	for _, lang := range langs {
		for _, ch := range []Channel{USSD, SMS} {
			walkers = append(walkers, newWalker(m, lang, ch))
		}
	}
	errs := make([]error, len(walkers))
	var wait sync.WaitGroup
	for i, w := range walkers {
		wait.Go(func() { errs[i] = w.run() })
	}
	wait.Wait()
	for i, w := range walkers {
		if errs[i] != nil {
			return p, fmt.Errorf("menu: %s by %s: %w", w.lang, w.ch, errs[i])
		}
		p.Walks = append(p.Walks, w.sum())
		p.Problems = append(p.Problems, w.problems...)
		if w.ch == SMS {
			continue
		}
		for _, id := range m.order {
			if page, ok := w.longest[id]; ok {
				p.Longest = append(p.Longest, page)
			}
		}
	}
	for _, lang := range langs {
		texts, problems := m.proveTexts(lang)
		p.Texts = append(p.Texts, texts...)
		p.Problems = append(p.Problems, problems...)
	}
	return p, nil
}

// run walks from growers of every kind and measures the way to a saved plot.
func (w *walker) run() error {
	for _, b := range notebooks(w.lang) {
		if err := w.walk(b); err != nil {
			return err
		}
	}
	w.whole()
	return w.measure()
}

// whole looks for screens that were never met, or lead nowhere.
func (w *walker) whole() {
	for _, id := range w.m.order {
		_, met := w.longest[id]
		switch {
		case !met && (id == sTongue || id == sLanguage) && len(w.m.cat.Languages()) == 1:
		case !met:
			w.problem("screen %s cannot be reached", id)
		case !w.onward[id] && !w.m.screens[id].Last:
			w.problem("screen %s is a dead end", id)
		}
	}
}

func (w *walker) sum() Walk {
	s := Walk{Lang: w.lang, Channel: w.ch, Edges: len(w.seen), Pages: w.pages, Most: w.most, Known: w.known, New: w.new}
	for _, page := range w.longest {
		if page.Octets > s.Longest.Octets || page.Octets == s.Longest.Octets && page.Screen < s.Longest.Screen {
			s.Longest = page
		}
	}
	return s
}

func (w *walker) problem(format string, args ...any) {
	s := fmt.Sprintf("%s, %s: ", w.lang, w.ch) + fmt.Sprintf(format, args...)
	if !slices.Contains(w.problems, s) && len(w.problems) < maxProblems {
		w.problems = append(w.problems, s)
	}
}

// maxProblems is how many problems of a walk are told: one mistake in a shared
// text shows on many screens.
const maxProblems = 200
