// Package menu is everything that a grower reads and types: the screens, the state of a dialogue, the reminder texts,
// and the meaning of a digit in reply to a text.
//
// A dialogue moves from screen to screen. Each screen is a small value that holds its texts, its choices, what may be
// typed, and to which screen each answer leads. The caller passes in the grower's records (Book) and an opaque state.
// The menu returns the next state and the text to show:
//
//	state, reply, err := m.Dial(book, menu.USSD, nil, "*123#")
//	state, reply, err = m.Enter(book, menu.USSD, state, "1")
//
// A file screens_*.go has the screens of one subject and the texts on these screens. A screen is made of functions that
// use the scene, so screens must be in this package. This package has no HTTP, no SQL and no clock: Book.Today gives
// the day. Words come from the catalogue in menu/text, entries are read by menu/answer, and agronomy is in engine.
package menu

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Options are the operator's settings.
type Options struct {
	DialCode string     // "" means DefaultDialCode
	Units    []AreaUnit // at most maxUnits
	StepM    float64    // length of a step in m; 0 means DefaultStepM
	Contact  string     // whom growers can ask, such as a name with a phone number; "" means nobody

	// ShiftTables lists, for each language tag, the national language shift tables (3GPP TS 23.038) that the phones of
	// that language can show. SMS in that language may use these tables. No table is used by default. USSD never uses a
	// table, because a USSD text cannot say which table it uses.
	ShiftTables map[string][]text.Shift

	// PlaceLanguages lists, for each place by its name, the languages that the list of languages offers first there.
	PlaceLanguages map[string][]string
}

// These are the defaults of Options. The length of a step is common practice, no source.
const (
	DefaultDialCode = "*123#"
	DefaultStepM    = 0.75
)

// AreaUnit is a local unit of area that the operator has configured.
type AreaUnit = answer.AreaUnit

// MaxContact is how many characters of the GSM 7-bit alphabet Options.Contact may have: a text to growers names it.
const MaxContact = 40

const (
	maxUnits     = 5 // local units of area: one screen lists all of them
	maxLanguages = 8 // one screen of several pages lists all of them
)

// Menu is the whole graph of screens with its texts. It is immutable and safe for concurrent use.
type Menu struct {
	cat      *text.Catalogue // texts in the spelling for screens
	texts    *text.Catalogue // texts in the spelling for SMS
	opt      Options
	units    answer.LocalUnits // the local units of area in opt
	words    map[string]command
	dates    map[string]answer.DateWords // for each language tag, the date words
	encoders map[string]text.Encoder     // for each language tag, the encoder of SMS
	spoken   func() *answer.Vocabulary   // the words of short answers
	screens  map[ScreenID]*Screen
	order    []ScreenID
	said     func(Said) // see Traced; nil: no one listens
	windows  Windows    // Season.Windows, or the function given to CalculatedBy
}

// New builds the menu with the texts of a catalogue. New fails if there are more area units or languages than a screen
// can list. New panics if two screens have the same name, or if a screen leads to a screen that does not exist, because
// both are mistakes in this package.
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
		return nil, fmt.Errorf("menu: %d languages are too many: the list of languages has %d digits. "+
			"Name those that growers here speak in texts.languages", n, maxLanguages)
	}
	for _, place := range slices.Sorted(maps.Keys(o.PlaceLanguages)) {
		for _, lang := range o.PlaceLanguages[place] {
			if !slices.Contains(cat.Languages(), lang) {
				return nil, fmt.Errorf("menu: the language %s of the place %s is not offered; offered are %s", lang,
					place, strings.Join(cat.Languages(), ", "))
			}
		}
	}
	m := &Menu{
		cat: cat, texts: cat.Spelled(o.ShiftTables), opt: o, units: answer.NewLocalUnits(o.Units),
		words: commands(cat), dates: dateWords(cat), encoders: map[string]text.Encoder{},
		spoken:  sync.OnceValue(func() *answer.Vocabulary { return vocabulary(cat) }), // few texts need it
		screens: map[ScreenID]*Screen{}, windows: engine.Season.Windows,
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

// allScreens lists the screens of every subject. Subjects that a grower needs first come first.
func allScreens() []Screen {
	return slices.Concat(
		homeScreens(), newScreens(), plotScreens(), otherScreens(), passScreens(), seeScreens(), waterScreens(),
		workScreens(), moneyScreens(), seasonScreens(), fixScreens(), replantScreens(), trialScreens(),
		toolScreens(), checkScreens(), plantingScreens(), helpScreens(), doubtScreens(), numberScreens(),
		circleScreens())
}

// leadsTo lists the screens to which a screen's declared answers lead. leadsTo leaves out answers that are made from
// records.
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

// dateWords returns, for each offered language, the words that a typed date may contain. They are the month and day
// words of all languages, because growers mix languages.
func dateWords(cat *text.Catalogue) map[string]answer.DateWords {
	all := map[string]answer.DateWords{}
	for _, lang := range cat.Languages() {
		all[lang] = answer.NewDateWords(
			cat.MonthWords(lang), cat.AllMonthWords(lang), cat.AllDayWords(lang), cat.AllWeekdayWords())
	}
	return all
}

// language returns the first of the wanted languages that the menu offers. If the menu offers none of them, it returns
// the menu's first language.
func (m *Menu) language(wanted ...string) string {
	have := m.cat.Languages()
	for _, w := range wanted {
		if slices.Contains(have, w) {
			return w
		}
	}
	return have[0]
}

// Sorry returns the text to show if the service fails, or "" if the catalogue cannot write that text.
func (m *Menu) Sorry(lang string) string {
	s, err := m.cat.Text(m.language(lang), "error.try-again", nil)
	if err != nil {
		return ""
	}
	return s
}
