package menu

import (
	"rowbell/menu/text"
)

// Screens that ask whose phone this is, or move records to another number.
const (
	sWho     ScreenID = "who"
	sWhoSure ScreenID = "who.sure"
)

// fCode is the code of six digits that brings records to another phone.
const fCode Field = "code"

// sampleCode is a code as it may be typed.
const sampleCode = "271828"

// numberScreens ask whose phone it is after a long silence, and move records to a new number.
func numberScreens() []Screen {
	return []Screen{
		{ID: sWho, Root: true, Ask: "who.ask", Choices: []Choice{
			{Digit: '1', Label: "who.yes", Do: confirm, To: sHome},
			{Digit: '2', Label: "who.no", To: sWhoSure},
			{Digit: '3', Label: "welcome.language", If: severalLanguages, To: sLanguage},
		}},
		// One wrong digit must not separate a grower from the records.
		{ID: sWhoSure, Ask: "who.sure", Choices: []Choice{
			{Digit: '1', Label: "who.sure-yes", Do: unlink, To: sTongue},
			{Digit: '2', Label: "who.sure-no", Do: confirm, To: sHome},
		}},
		{ID: "number", Rest: true, Ask: "number.ask", Choices: []Choice{
			{Digit: '1', Label: "number.show", Do: showCode, To: "number.code"},
		}},
		// This screen ends the dialogue, so that the code stays on the display until the grower has typed it on the
		// other phone, and no session stores the code.
		{ID: "number.code", Last: true, Ask: "number.code", Args: func(c *scene) text.Args {
			return text.Args{"digits": text.Verbatim(c.s.Answers[fCode]), "code": c.m.opt.DialCode}
		}},
		{ID: "number.type", Ask: "number.type",
			Typed: &Typed{Read: readCode, Do: takeOver, To: "number.done",
				Samples: []string{sampleCode, "123 456", "999999"}}},
		{ID: "number.done", Rest: true, Ask: "number.done", Head: func(c *scene) string {
			if c.grower.Stopped() {
				return c.t("stopped.text", nil)
			}
			return ""
		}},
	}
}

// confirm stores that the phone still belongs to the grower, and the language chosen in this dialogue.
func confirm(c *scene) (*Refusal, error) {
	if err := c.numbers.Confirm(); err != nil || c.s.Lang == c.grower.Language() {
		return nil, err
	}
	return nil, c.grower.SetLanguage(c.s.Lang)
}

// unlink separates the number from the records and forgets their language.
func unlink(c *scene) (*Refusal, error) {
	c.s.Lang = ""
	return nil, c.numbers.Unlink()
}

// unasked reports whether the screen must not be shown or answered yet, because it has not been asked who uses a
// number that was silent for long.
func (c *scene) unasked() bool {
	switch c.s.Screen {
	case sWho, sWhoSure, sLanguage, sTongue:
		return false
	}
	return c.numbers.Silent()
}

// movedAway reports whether the records went to another number during the dialogue: the store has then replaced the
// state by an empty one that is not nil.
func movedAway(b Book, state []byte) bool {
	return state != nil && len(state) == 0 && !b.Known()
}

func showCode(c *scene) (*Refusal, error) {
	code, err := c.numbers.MoveCode()
	c.s.put(fCode, code)
	return nil, err
}

// takeOver moves the records of a code to this number and tells the phone that had them. The session does not store
// what was typed.
func takeOver(c *scene) (*Refusal, error) {
	code := c.s.Answers[fCode]
	delete(c.s.Answers, fCode)
	if c.grower.Known() { // registered meanwhile on the other channel
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
