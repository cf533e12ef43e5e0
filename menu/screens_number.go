package menu

import (
	"rowbell/menu/text"
)

// These screens ask who uses the phone after a long silence.
const (
	sWho     ScreenID = "who"
	sWhoSure ScreenID = "who.sure"
)

// fCode is the code of six digits that moves records to another phone.
const fCode Field = "code"

// sampleCode is a code that the proof types on the screen for the code.
const sampleCode = "271828"

// numberScreens ask who uses the phone after a long silence, and move records to a new number.
func numberScreens() []Screen {
	return []Screen{
		{ID: sWho, Root: true, Ask: "who.ask", Choices: []Choice{
			{Label: "who.yes", Do: confirm, To: ScreenHome},
			{Label: "who.no", To: sWhoSure},
			{Label: "welcome.language", If: severalLanguages, To: ScreenLanguage},
		}},
		// This second question is needed because one wrong digit must not separate a grower from the records.
		{ID: sWhoSure, Ask: "who.sure", Choices: []Choice{
			{Label: "who.sure-yes", Do: unlink, To: ScreenFirstLanguage},
			{Label: "who.sure-no", Do: confirm, To: ScreenHome},
		}},
		{ID: "number", Rest: true, Ask: "number.ask", Choices: []Choice{
			{Label: "number.show", Do: showCode, To: "number.code"},
		}},
		// This screen ends the dialogue. So the phone still shows the code while the grower types it on the other
		// phone, and no session stores the code.
		{ID: "number.code", Last: true, Ask: "number.code", Args: func(c *scene) text.Args {
			return text.Args{"digits": text.Verbatim(c.s.Answers[fCode]), "code": c.m.opt.DialCode}
		}},
		{ID: "number.type", Ask: "number.type", Typed: &Typed{Read: readCode, Do: takeOver, To: "number.done",
			Samples: []string{sampleCode, "123 456", "999999"}}},
		{ID: "number.done", Rest: true, Ask: "number.done", Head: func(c *scene) string {
			if c.grower.Stopped() {
				return c.t("stopped.text", nil)
			}
			return ""
		}},
	}
}

// confirm runs when the caller has answered that the phone is still the grower's. It stores this answer, and the
// language that was chosen in this dialogue.
func confirm(c *scene) (*Refusal, error) {
	if err := c.numbers.Confirm(); err != nil || c.s.Lang == c.grower.Language() {
		return nil, err
	}
	return nil, c.grower.SetLanguage(c.s.Lang)
}

// unlink runs when the caller has answered that the phone is no longer the grower's. It separates the number from the
// records, and forgets their language in this dialogue.
func unlink(c *scene) (*Refusal, error) {
	c.s.Lang = ""
	return nil, c.numbers.Unlink()
}

// unasked reports whether the question who uses the phone must be shown instead of the current screen: the number was
// silent for long, and nobody has answered that question. unasked is false on the screens that belong to the question.
func (c *scene) unasked() bool {
	switch c.s.Screen {
	case sWho, sWhoSure, ScreenLanguage, ScreenFirstLanguage:
		return false
	}
	return c.numbers.Silent()
}

// movedAway reports whether the records were moved to another number during the dialogue. The store marks such a
// dialogue by an empty state (length 0, not nil), and the number has no records any more. A nil state means that there
// is no dialogue.
func movedAway(b Book, state []byte) bool { return state != nil && len(state) == 0 && !b.Known() }

func showCode(c *scene) (*Refusal, error) {
	code, err := c.numbers.MoveCode()
	c.s.put(fCode, code)
	return nil, err
}

// takeOver moves the records that belong to the typed code to this number, and sends a text to the phone that had the
// records before. The session does not store the typed code.
func takeOver(c *scene) (*Refusal, error) {
	code := c.s.Answers[fCode]
	delete(c.s.Answers, fCode)
	if c.grower.Known() { // the grower has registered on the other channel since this dialogue began
		return &Refusal{Key: "refuse.changed"}, nil
	}
	ok, left, err := c.numbers.TakeOver(code)
	switch {
	case err != nil:
		return nil, err
	case ok:
		told := speech{cat: c.m.texts, lang: c.m.language(c.grower.Language())}
		c.send = append(c.send, Note{Kind: "moved-away", Text: told.t("sms.moved-away", nil), Former: true})
		return nil, told.err
	case left == 0:
		return &Refusal{Key: "refuse.code-later"}, nil
	}
	return &Refusal{Key: "refuse.code-wrong", Args: text.Args{"n": left}}, nil
}
