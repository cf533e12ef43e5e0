// Package proof walks through the whole menu, in every language and on both channels (USSD and SMS). It reports every
// screen and text that is too long, that cannot be reached or left, or that loses an answer of the grower.
//
// It uses the menu in the way a phone does (Dial, Enter, Text) and asks Menu.Inspect which screen it is on. The package
// has the rules that the menu must keep and the invented growers for the walk. It has no screens, no texts and no
// details of how a dialogue works.
package proof

import (
	"fmt"
	"runtime/debug"
	"slices"
	"sync"

	"rowbell/menu"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// Page is one page of a screen, as a phone shows the page.
type Page struct {
	Lang     string
	Channel  menu.Channel
	Screen   menu.ScreenID
	From     menu.ScreenID // the screen on which the entry was made
	Entry    string        // the entry that led to the page
	Text     string
	Octets   int // length as a USSD string
	Segments int // number of SMS segments
}

// Proof is the result of walking through the whole menu.
type Proof struct {
	Screens  int
	Walks    []Walk    // one Walk for each language and channel
	Longest  []Page    // the longest USSD page of each screen, sorted by language and then in the order of the menu
	Texts    []SMSText // every text that is sent by SMS, with its longest values
	Problems []string  // mistakes that were found; empty: the menu keeps all rules
	Notes    []string  // what is no mistake, but could be better for some growers
}

// Walk is what was found in one language on one channel.
type Walk struct {
	Lang           string
	Channel        menu.Channel
	Ways           int  // different ways from screen to screen: the first screen, the entry, the next screen
	Pages          int  // number of pages that were shown and checked
	MostPages      int  // greatest number of pages of one screen
	KnownExchanges int  // exchanges from dialling to a saved plot, for a grower whom the service knows
	LateExchanges  int  // the same for a plot that is so old that it may be weeded already
	NewExchanges   int  // exchanges from dialling to a saved plot, for a grower who calls for the first time
	Longest        Page // the page with the most octets
}

// SMSText is a text that is sent by SMS, with the longest values in it.
type SMSText struct {
	Lang string
	Key  text.Key
	text.Encoded
}

// The menu must keep these limits; the proof reports a screen that breaks one.
const (
	// MaxChoices is the greatest number of choices on a screen. Only a list of languages may be longer.
	MaxChoices = 6

	// MaxExchanges is the greatest number of exchanges from dialling to a saved plot. An Indian regulation of 2016 for
	// mobile banking allowed eight exchanges in a session (TRAI, Mobile Banking (Quality of Service) Regulations,
	// second amendment, 2016).
	MaxExchanges = 8

	// maxLate is how many exchanges the question about earlier weedings may add, for a plot that may be weeded already.
	maxLate = 1

	// maxFirstContact is how many exchanges a grower who calls for the first time may need in addition to MaxExchanges.
	maxFirstContact = 2

	// maxProblems is the greatest number of problems that are reported for one walk. A limit is needed because a
	// mistake in a text that many screens share is found on each of these screens.
	maxProblems = 400
)

// Options say which part of the menu is proved.
type Options struct {
	Languages []string              // language tags; empty: all languages that the menu offers
	Growers   int                   // only so many growers, from the first on, who have few records; 0: all
	Progress  func(done, total int) // called after each finished part, never twice at once; may be nil
}

// Prove walks every screen by running the dialogue itself, for growers of every kind. Prove tries each choice, each
// kind of typed answer in its shortest and its longest form, wrong answers, the keys for back and home, and dropped
// connections. Prove returns an error if the menu returns one, for example because a text is missing. What breaks a
// rule is listed in Proof.Problems.
func Prove(m *menu.Menu, o Options) (Proof, error) {
	langs := o.Languages
	if len(langs) == 0 {
		langs = m.Languages()
	}
	m = m.CalculatedBy(new(notebook.WindowMemo).Of)
	screens := m.Screens()
	p := Proof{Screens: len(screens)}
	var walkers []*walker
	for _, lang := range langs {
		for _, ch := range []menu.Channel{menu.USSD, menu.SMS} {
			walkers = append(walkers, newWalker(m, lang, ch))
		}
	}
	// The walks make much garbage and keep little of it: collecting it more rarely saves a fifth of the time.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
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
		if w.note != "" {
			p.Notes = append(p.Notes, w.note)
		}
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
		answers, err := leftOut(m, lang)
		if err != nil {
			return p, err
		}
		p.Problems = slices.Concat(p.Problems, problems, answers)
	}
	return p, nil
}

// growers returns the invented growers with whom the proof walks: all, or the first o.Growers of them.
func (o Options) growers(lang string) []*grower {
	all := growers(lang)
	if o.Growers > 0 && o.Growers < len(all) {
		return all[:o.Growers]
	}
	return all
}

// stepper counts the finished parts of the work and reports them to Options.Progress. Each walk has one part for each
// grower, and one part for the shortest ways.
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

// run walks with every grower, and then measures the shortest way to a saved plot.
func (w *walker) run(growers []*grower, step func()) error {
	for _, g := range growers {
		if err := w.walk(g); err != nil {
			return err
		}
		step()
	}
	w.checkWhole()
	err := w.checkShortest()
	if err == nil && w.ch == menu.SMS {
		err = w.checkRung()
	}
	w.report()
	step()
	return err
}

// checkWhole reports screens to which no entry leads. checkWhole also reports screens on which no entry leads to
// another screen, unless the dialogue ends there.
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
		KnownExchanges: w.knownExchanges, LateExchanges: w.lateExchanges, NewExchanges: w.newExchanges}
	for _, page := range w.longest {
		if page.Octets > s.Longest.Octets || page.Octets == s.Longest.Octets && page.Screen < s.Longest.Screen {
			s.Longest = page
		}
	}
	return s
}

// problem records a broken rule. The same sentence is recorded only once.
func (w *walker) problem(format string, args ...any) {
	s := fmt.Sprintf("%s, %s: ", w.lang, w.ch) + fmt.Sprintf(format, args...)
	if !slices.Contains(w.problems, s) && len(w.problems) < maxProblems {
		w.problems = append(w.problems, s)
	}
}
