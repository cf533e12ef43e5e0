package menu

import (
	"slices"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// This file is for programs that read the menu: the proof and the booklet for trainers. They walk it with Dial, Enter
// and Text as a phone does, and look at each place with Inspect. They need nothing else of the dialogue.

// Entries that mean the same on every screen.
const (
	BackKey     = backKey
	HomeKey     = homeKey
	LanguageKey = languageKey
	MoreKey     = moreKey // shows the next page
	GoOnKey     = goOnKey // resumes a dialogue after a dropped connection
)

// Screens for which the proof or the booklet has a rule.
const (
	ScreenHome          = sHome
	ScreenSaved         = sSaved    // confirms a new plot
	ScreenDoubt         = sDoubt    // asks about an entry that may be a slip
	ScreenLanguage      = sLanguage // asks for the language
	ScreenFirstLanguage = sTongue   // asks for the language at first contact
)

// FieldPage is the page of a list. It is no answer: going back may change it.
const FieldPage = fPage

// ScreenInfo is what is declared of a screen.
type ScreenInfo struct {
	ID      ScreenID
	Root    bool     // a dialogue begins here: there is no way back
	Last    bool     // the dialogue ends here
	Choices []Option // declared choices only: those made from records, such as plots, are left out
}

// Option is one choice of a screen.
type Option struct {
	Digit byte
	Key   text.Key // catalogue key of the label
	Label string   // the words beside the digit; "" in ScreenInfo
	To    ScreenID // screen that it leads to; "": known only when it is chosen
	Back  bool     // leads back to the screen before
}

// View is the place of a dialogue, and what the screen there shows and offers.
type View struct {
	Screen   ScreenID
	Root     bool
	Trail    []ScreenID // screens that BackKey leads back to, the nearest one last
	Answers  map[Field]string
	Page     int      // page shown, counted from 0
	Refused  bool     // the reason of a refusal hides part of the screen; MoreKey shows it
	Paused   bool     // after a drop: asks whether to resume or to start again
	Resumes  bool     // a dialogue that is dropped here can be resumed
	Pages    []string // all pages of the screen, without the reason of a refusal
	Question string   // "": the screen only tells something
	Options  []Option
	Samples  []string // typed entries of every kind; nil: nothing can be typed
}

// Inspect describes the place that a state stands for; the state must come from Dial, Enter or Text. It changes
// neither records nor dialogue. It fails for a state that this menu cannot read, and if a text is missing.
func (m *Menu) Inspect(b Book, ch Channel, state []byte) (View, error) {
	s, err := m.session(state)
	if err != nil {
		return View{}, err
	}
	c := m.scene(b, ch, s)
	screen := c.screen()
	v := View{Screen: s.Screen, Root: screen.Root, Trail: s.Trail, Answers: s.Answers, Page: s.Page, Refused: s.Refused,
		Paused: s.Paused, Resumes: m.unfinished(b, s), Question: c.question(screen)}
	for _, choice := range c.choices(screen) {
		o := choice.option()
		o.Label = c.t(choice.Label, choice.Args)
		v.Options = append(v.Options, o)
	}
	if screen.Typed != nil {
		v.Samples = screen.Typed.Samples
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

// ScreenOf names the screen of a state, at a fraction of the cost of Inspect.
func ScreenOf(state []byte) (ScreenID, error) {
	s, err := decodeSession(state)
	if err != nil {
		return "", err
	}
	return s.Screen, nil
}

// Screens lists all screens in the order of their declaration.
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

// Languages lists the tags of the languages offered, in the order of the menu's own list.
func (m *Menu) Languages() []string { return slices.Clone(m.cat.Languages()) }

// SMSCatalogue is the catalogue with the spelling used for SMS, which may use national language shift tables (3GPP TS
// 23.038).
func (m *Menu) SMSCatalogue() *text.Catalogue { return m.texts }

// DialCode is the code that growers dial.
func (m *Menu) DialCode() string { return m.opt.DialCode }

// IsKeyword reports whether an entry is a word that works at any moment, such as STOP.
func (m *Menu) IsKeyword(entry string) bool { return m.word(answer.Digits(entry)) != wordNone }
