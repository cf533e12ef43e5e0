package menu

import (
	"slices"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// This file is for the two programs that read the menu: the proof and the booklet for trainers. Both walk through the
// menu with Dial, Enter and Text, as a phone does, and look at each screen with Inspect. So they need to know nothing
// of how a dialogue works.

// Option is one choice of a screen.
type Option struct {
	Digit byte
	Key   text.Key // catalogue key of the label
	Label string   // the words beside the digit
	To    ScreenID // screen to which the choice leads; "" if the screen is not known before the choice is made
	Back  bool     // leads to the screen before
}

// View describes where a dialogue is, and what the screen there shows and offers.
type View struct {
	Screen   ScreenID
	Root     bool
	Trail    []ScreenID // screens to which BackKey leads back; the previous screen is last
	Answers  map[Field]string
	Page     int      // page shown, counted from 0
	Refused  bool     // the reason of a refusal hides part of the screen; MoreKey shows the whole screen
	Paused   bool     // after a dropped connection: asks whether to resume or to start again
	Resumes  bool     // if the connection drops here, the dialogue can be resumed
	Pages    []string // all pages of the screen, as they are without a refusal
	Question string   // "" if the screen asks nothing
	Options  []Option
	Samples  []string // examples of every kind of typed entry; nil if nothing can be typed
}

// Inspect describes where the dialogue with this state is. The state must come from Dial, Enter or Text. Inspect
// changes neither the records nor the dialogue. Inspect fails if this menu cannot read the state, or if a text is
// missing.
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
		o := Option{choice.Digit, choice.Label, c.t(choice.Label, choice.Args), choice.To, choice.To == sBefore}
		if o.Back {
			o.To = ""
		}
		v.Options = append(v.Options, o)
	}
	if screen.Typed != nil {
		v.Samples = screen.Typed.Samples
	}
	v.Pages = c.pages(nil)
	return v, c.err
}

// Said is a text of the catalogue that a dialogue wrote, with its values.
type Said struct {
	Key  text.Key
	Args text.Args
	Text string
}

// Traced returns a menu that is the same, but tells said each text that a dialogue writes. The proof needs it to name
// the text that makes a page too long. The menu may be used only by one goroutine at a time if said may.
func (m *Menu) Traced(said func(Said)) *Menu {
	traced := *m
	traced.said = said
	return &traced
}

// Windows is a function that returns what Season.Windows returns.
type Windows func(s engine.Season, today engine.Day) (engine.Plan, error)

// CalculatedBy returns a copy of the menu that gets the windows of a season from this function instead of from
// Season.Windows. A walk through the menu passes a memo, because it meets the same season at many screens.
func (m *Menu) CalculatedBy(windows Windows) *Menu {
	remembering := *m
	remembering.windows = windows
	return &remembering
}

// Screens lists all screens in the order in which the code declares them.
func (m *Menu) Screens() (screens []Screen) {
	for _, id := range m.order {
		screens = append(screens, *m.screens[id])
	}
	return screens
}

// Languages lists the tags of the offered languages. The first language is used until the grower chooses one.
func (m *Menu) Languages() []string { return slices.Clone(m.cat.Languages()) }

// SMSCatalogue is the catalogue with the spelling for SMS. That spelling may use national language shift tables (3GPP
// TS 23.038).
func (m *Menu) SMSCatalogue() *text.Catalogue { return m.texts }

// DialCode is the code that growers dial.
func (m *Menu) DialCode() string { return m.opt.DialCode }

// IsKeyword reports whether an entry is a word that works at any time, such as STOP.
func (m *Menu) IsKeyword(entry string) bool { return m.word(answer.Digits(entry)) != wordNone }
