package menu

import (
	"errors"
	"slices"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// What is in this file is for programs that read the menu: the proof and the
// trainers' booklet. They walk it with Dial, Enter and Text as a phone does, and
// look at where they are with Inspect; they need nothing else of the machine.

// Keys that work on every screen.
const (
	BackKey     = backKey
	HomeKey     = homeKey
	LanguageKey = languageKey
	MoreKey     = moreKey // shows the next page
	GoOnKey     = goOnKey // goes on with a dialogue that was dropped
)

// Screens that have rules of their own.
const (
	ScreenHome          = sHome
	ScreenSaved         = sSaved    // says that a new plot was saved
	ScreenDoubt         = sDoubt    // gives back an entry that may be a slip
	ScreenLanguage      = sLanguage // asks for the language
	ScreenFirstLanguage = sTongue   // asks for the language at first contact
)

// Field names that may differ between a screen and the one that back leads to.
const FieldPage = fPage

// ScreenInfo is what is fixed about a screen, whoever looks at it.
type ScreenInfo struct {
	ID      ScreenID
	Root    bool     // a dialogue begins here: there is no way back
	Last    bool     // the dialogue ends here
	Choices []Option // declared; those made of records are not among them
}

// Option is a choice as it is offered.
type Option struct {
	Digit byte
	Key   text.Key // of its words
	Label string   // its words; "" in ScreenInfo, where they are not filled in
	To    ScreenID // "": not known before it is taken
	Back  bool     // it leads back to the screen that the dialogue came from
}

// View is where a dialogue stands and what it offers there.
type View struct {
	Screen   ScreenID
	Root     bool
	Trail    []ScreenID // screens to go back to, the last one first to come
	Answers  map[Field]string
	Page     int      // page shown, from 0
	Refused  bool     // a reason hides part of the screen until MoreKey
	Paused   bool     // the grower is asked whether to go on or to start again
	Resumes  bool     // a dialogue that is dropped here is offered again
	Pages    []string // the whole screen, as it is shown without a reason
	Question string   // "" where nothing is asked
	Options  []Option
	Types    bool     // a typed entry is answered
	Samples  []string // typed entries of every kind, the longest among them
}

// Inspect reads the state that Dial, Enter or Text gave back. It changes
// neither the records nor the dialogue. It fails for a state that is not one of
// this menu, and where a text cannot be written.
func (m *Menu) Inspect(b Book, ch Channel, state []byte) (View, error) {
	s, err := decodeSession(state)
	if err != nil {
		return View{}, err
	}
	screen := m.screens[s.Screen]
	if screen == nil {
		return View{}, errors.New("menu: no screen is called " + string(s.Screen))
	}
	c := m.scene(b, ch, s)
	v := View{Screen: s.Screen, Root: screen.Root, Trail: s.Trail, Answers: s.Answers, Page: s.Page, Refused: s.Refused,
		Paused: s.Paused, Resumes: m.unfinished(b, s), Question: c.question(screen)}
	for _, choice := range c.choices(screen) {
		o := choice.option()
		o.Label = c.t(choice.Label, choice.Args)
		v.Options = append(v.Options, o)
	}
	if screen.Typed != nil {
		v.Types, v.Samples = true, screen.Typed.Samples
	}
	v.Pages = c.pages(nil)
	return v, c.err
}

func (c Choice) option() Option {
	if c.To == sBefore {
		return Option{Digit: c.Digit, Key: c.Label, Back: true}
	}
	return Option{Digit: c.Digit, Key: c.Label, To: c.To}
}

// Screens lists all screens in the menu's order, the first one home.
func (m *Menu) Screens() []ScreenInfo {
	infos := make([]ScreenInfo, 0, len(m.order))
	for _, id := range m.order {
		s := m.screens[id]
		info := ScreenInfo{ID: id, Root: s.Root, Last: s.Last}
		for _, c := range s.Choices {
			info.Choices = append(info.Choices, c.option())
		}
		infos = append(infos, info)
	}
	return infos
}

// Languages lists the tags of the languages offered, in the order of the list
// that growers see.
func (m *Menu) Languages() []string { return slices.Clone(m.cat.Languages()) }

// SMSCatalogue is the catalogue as texts by SMS are spelled: with the letters
// that the operator's shift tables hold.
func (m *Menu) SMSCatalogue() *text.Catalogue { return m.texts }

// DialCode is the code that growers dial.
func (m *Menu) DialCode() string { return m.opt.DialCode }

// IsKeyword reports whether a text is a word that works at any moment, such as
// STOP.
func (m *Menu) IsKeyword(entry string) bool { return m.word(answer.Digits(entry)) != wordNone }
