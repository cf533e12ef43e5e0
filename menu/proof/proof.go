// Package proof walks the whole menu, in every language and on both channels, and reports every screen and text that
// does not fit, cannot be reached, cannot be left, or loses what was answered.
//
// It uses the menu as a phone does (Dial, Enter, Text) and looks at where it is with Menu.Inspect. It holds the rules
// of the proof and the invented growers it walks with; it holds no screen, no text and nothing of the dialogue's
// inside.
package proof

import (
	"fmt"
	"slices"
	"sync"

	"rowbell/menu"
	"rowbell/menu/text"
)

// Page is one page of a screen as a phone shows it.
type Page struct {
	Lang     string
	Channel  menu.Channel
	Screen   menu.ScreenID
	From     menu.ScreenID // the screen before
	Entry    string        // what was entered there
	Text     string
	Octets   int // as a USSD string
	Segments int // as a text by SMS
}

// Proof is what walking the whole menu found.
type Proof struct {
	Screens  int
	Walks    []Walk    // one for each language and channel
	Longest  []Page    // the longest USSD page of each screen, by language, in the menu's order
	Texts    []SMSText // every text that goes out by SMS, with its longest values
	Problems []string  // empty: the menu keeps all rules
}

// Walk is what was seen of one language on one channel.
type Walk struct {
	Lang           string
	Channel        menu.Channel
	Ways           int  // different ways between screens: screen, entry, screen
	Pages          int  // pages shown and checked
	MostPages      int  // of one screen
	KnownExchanges int  // from dialling to a saved plot, for a grower who is known
	NewExchanges   int  // the same at first contact
	Longest        Page // by octets
}

// SMSText is an outgoing text with the longest values filled in.
type SMSText struct {
	Lang string
	Key  text.Key
	text.Encoded
}

// Limits that the proof holds every screen and text to.
const (
	// MaxChoices is the most choices of a screen; lists of languages may be longer.
	MaxChoices = 6

	// MaxExchanges is the most exchanges from dialling to a saved plot. A regulator once allowed eight in a session
	// (TRAI, Mobile Banking (Quality of Service) Regulations, second amendment, 2016).
	MaxExchanges = 8

	// maxFirstContact is how many more exchanges the first contact may take.
	maxFirstContact = 2

	// maxProblems is the most problems reported of one walk: a mistake in a shared text shows on many screens.
	maxProblems = 200
)

// Options choose what is proved.
type Options struct {
	Languages []string              // tags; none: all that the menu offers
	Growers   int                   // walk only the first so many, who have few records; 0: all
	Progress  func(done, total int) // called after each part of the work, one call at a time; nil: not called
}

// Prove walks every screen by running the dialogue itself, for growers of every kind: with each choice, each kind of
// typed answer in its shortest and longest form, wrong answers, back, home, and dropped connections. It fails where
// the menu fails, as where a text is missing; what breaks a rule is in Proof.Problems.
func Prove(m *menu.Menu, o Options) (Proof, error) {
	langs := o.Languages
	if len(langs) == 0 {
		langs = m.Languages()
	}
	screens := m.Screens()
	p := Proof{Screens: len(screens)}
	var walkers []*walker
	for _, lang := range langs {
		for _, ch := range []menu.Channel{menu.USSD, menu.SMS} {
			walkers = append(walkers, newWalker(m, lang, ch))
		}
	}
	step := stepper(o, len(walkers))
	errs := make([]error, len(walkers))
	var wait sync.WaitGroup
	for i, w := range walkers {
		wait.Go(func() { errs[i] = w.run(o.growers(w.lang), step) })
	}
	wait.Wait()
	for i, w := range walkers {
		if errs[i] != nil {
			return p, fmt.Errorf("proof: %s by %s: %w", w.lang, w.ch, errs[i])
		}
		p.Walks = append(p.Walks, w.sum())
		p.Problems = append(p.Problems, w.problems...)
		if w.ch == menu.SMS {
			continue
		}
		for _, s := range screens {
			if page, ok := w.longest[s.ID]; ok {
				p.Longest = append(p.Longest, page)
			}
		}
	}
	for _, lang := range langs {
		texts, problems := proveTexts(m, lang)
		p.Texts = append(p.Texts, texts...)
		p.Problems = append(p.Problems, problems...)
	}
	return p, nil
}

// growers are those of the invented growers whom the proof walks.
func (o Options) growers(lang string) []*grower {
	all := growers(lang)
	if o.Growers > 0 && o.Growers < len(all) {
		return all[:o.Growers]
	}
	return all
}

// stepper counts the finished parts of so many walks: one for each grower, and one for the shortest ways.
func stepper(o Options, walks int) func() {
	if o.Progress == nil {
		return func() {}
	}
	var mu sync.Mutex
	done, total := 0, walks*(len(o.growers(""))+1)
	return func() {
		mu.Lock()
		defer mu.Unlock()
		done++
		o.Progress(done, total)
	}
}

// run walks for every grower, and measures the shortest way to a saved plot.
func (w *walker) run(growers []*grower, step func()) error {
	for _, g := range growers {
		if err := w.walk(g); err != nil {
			return err
		}
		step()
	}
	w.checkWhole()
	err := w.checkShortest()
	step()
	return err
}

// checkWhole reports screens that were never met, or lead nowhere.
func (w *walker) checkWhole() {
	for _, s := range w.screens {
		_, met := w.longest[s.ID]
		switch {
		case !met && isLanguageList(s.ID) && len(w.m.Languages()) == 1:
		case !met:
			w.problem("screen %s cannot be reached", s.ID)
		case !w.onward[s.ID] && !s.Last:
			w.problem("screen %s is a dead end", s.ID)
		}
	}
}

func isLanguageList(id menu.ScreenID) bool {
	return id == menu.ScreenFirstLanguage || id == menu.ScreenLanguage
}

func (w *walker) sum() Walk {
	s := Walk{Lang: w.lang, Channel: w.ch, Ways: len(w.seen), Pages: w.pages, MostPages: w.mostPages,
		KnownExchanges: w.knownExchanges, NewExchanges: w.newExchanges}
	for _, page := range w.longest {
		if page.Octets > s.Longest.Octets || page.Octets == s.Longest.Octets && page.Screen < s.Longest.Screen {
			s.Longest = page
		}
	}
	return s
}

// problem notes what breaks a rule, once.
func (w *walker) problem(format string, args ...any) {
	s := fmt.Sprintf("%s, %s: ", w.lang, w.ch) + fmt.Sprintf(format, args...)
	if !slices.Contains(w.problems, s) && len(w.problems) < maxProblems {
		w.problems = append(w.problems, s)
	}
}
