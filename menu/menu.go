// Package menu is what a grower reads and types: the screens, the dialogue's state, the texts that remind a grower,
// and what a digit means in reply to them.
//
// A dialogue is a walk over a graph of screens. Each screen is a small value: its texts, its choices, what may be
// typed, where each answer leads. The walk is handed the grower's records (Book) and an opaque state; it returns the
// next state and what to show:
//
//	state, reply, err := m.Dial(book, menu.USSD, nil, "*123#")
//	state, reply, err = m.Enter(book, menu.USSD, state, "1")
//
// A file screens_*.go has the screens of one subject and the texts they show; a screen is a closure over the scene,
// so screens stay in this package. What does not belong here: HTTP and SQL, a clock (Book.Today says the day), words
// (they come from the catalogue in menu/text), the reading of entries (menu/answer), and agronomy (engine).
package menu

import (
	"fmt"
	"slices"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Options are the operator's settings.
type Options struct {
	DialCode string     // "": DefaultDialCode
	Units    []AreaUnit // at most 5
	StepM    float64    // length of a step in m; 0: DefaultStepM

	// ShiftTables are the national language shift tables (3GPP TS 23.038) that the phones of a language know, by the
	// language's tag: its SMS may be written with them. None by default. They are never used on USSD, which cannot
	// say which table it uses.
	ShiftTables map[string][]text.Shift
}

// Defaults of Options. The length of a step is common practice, no source.
const (
	DefaultDialCode = "*123#"
	DefaultStepM    = 0.75
)

// AreaUnit is a local unit of area.
type AreaUnit = answer.AreaUnit

const (
	maxUnits     = 5 // of area: one screen lists all of them
	maxLanguages = 8 // one screen of several pages offers them
)

// Menu is the whole graph of screens with its texts. It is immutable and safe for concurrent use.
type Menu struct {
	cat      *text.Catalogue // texts spelled for screens
	texts    *text.Catalogue // texts spelled for SMS
	opt      Options
	units    answer.LocalUnits // the local units of area in opt
	words    map[string]command
	dates    map[string]answer.DateWords // by language
	encoders map[string]text.Encoder     // by language: how its SMS are encoded
	screens  map[ScreenID]*Screen
	order    []ScreenID
}

// New builds the menu over a catalogue. It fails for more area units or languages than a screen can list. It panics
// where two screens have one name or a screen leads to one that does not exist: that is a mistake in this package.
func New(cat *text.Catalogue, o Options) (*Menu, error) {
	if o.DialCode == "" {
		o.DialCode = DefaultDialCode
	}
	if o.StepM == 0 {
		o.StepM = DefaultStepM
	}
	if len(o.Units) > maxUnits {
		return nil, fmt.Errorf("menu: %d area units are too many: a screen holds %d", len(o.Units), maxUnits)
	}
	if n := len(cat.Languages()); n > maxLanguages {
		return nil, fmt.Errorf("menu: %d languages are too many: a screen offers %d", n, maxLanguages)
	}
	m := &Menu{
		cat: cat, texts: cat.Spelled(o.ShiftTables), opt: o, units: answer.NewLocalUnits(o.Units),
		words: commands(cat), dates: dateWords(cat), encoders: map[string]text.Encoder{},
		screens: map[ScreenID]*Screen{},
	}
	for lang, tables := range o.ShiftTables {
		m.encoders[lang] = text.NewEncoder(tables)
	}
	for _, s := range allScreens() {
		if m.screens[s.ID] != nil {
			panic("menu: two screens are called " + s.ID)
		}
		m.screens[s.ID] = &s
		m.order = append(m.order, s.ID)
	}
	for _, s := range m.screens {
		for _, to := range s.leadsTo() {
			if m.screens[to] == nil {
				panic(fmt.Sprintf("menu: screen %s leads to %q, which does not exist", s.ID, to))
			}
		}
	}
	return m, nil
}

// allScreens are the screens of every subject, in the order in which a grower learns them.
func allScreens() []Screen {
	return slices.Concat(
		homeScreens(), newScreens(), plotScreens(), passScreens(), seeScreens(), waterScreens(), workScreens(),
		moneyScreens(), seasonScreens(), trialScreens(), toolScreens(), checkScreens(), plantingScreens(),
		helpScreens(), doubtScreens(), numberScreens())
}

// leadsTo lists the screens that a screen's declared answers lead to, without answers made from records.
func (s *Screen) leadsTo() []ScreenID {
	var to []ScreenID
	for _, c := range s.Choices {
		if c.To != sBefore {
			to = append(to, c.To)
		}
	}
	if s.Typed != nil {
		to = append(to, s.Typed.To)
	}
	if s.When != nil {
		to = append(to, s.Else)
	}
	return to
}

// dateWords prepares, for each language on offer, the month and day words of all languages, because growers mix them.
func dateWords(cat *text.Catalogue) map[string]answer.DateWords {
	all := map[string]answer.DateWords{}
	for _, lang := range cat.Languages() {
		all[lang] = answer.NewDateWords(
			cat.MonthWords(lang), cat.AllMonthWords(lang), cat.AllDayWords(lang), cat.AllWeekdayWords())
	}
	return all
}

// language is the first of the wanted languages that the menu offers, else the menu's first language.
func (m *Menu) language(wanted ...string) string {
	have := m.cat.Languages()
	for _, w := range wanted {
		if slices.Contains(have, w) {
			return w
		}
	}
	return have[0]
}

// Sorry is the text for a phone when the service fails; "" if the catalogue cannot write the text.
func (m *Menu) Sorry(lang string) string {
	s, err := m.cat.Text(m.language(lang), "error.try-again", nil)
	if err != nil {
		return ""
	}
	return s
}
