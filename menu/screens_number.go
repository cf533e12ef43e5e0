package menu

import (
	"rowbell/menu/text"
)

// A phone number changes hands, a grower changes the number.
const (
	sWho     ScreenID = "who"
	sWhoSure ScreenID = "who.sure"
)

// fCode is the code of six digits that brings records to another phone.
const fCode Field = "code"

// sampleCode is a code as it may be typed.
const sampleCode = "271828"

// numberScreens ask whose phone it is after a long silence, and take the
// records along to a new number.
func numberScreens() []Screen {
	return []Screen{
		{ID: sWho, Root: true, Ask: "who.ask", Choices: []Choice{
			{Digit: '1', Label: "who.yes", Do: confirm, To: sHome},
			{Digit: '2', Label: "who.no", To: sWhoSure},
			{Digit: '3', Label: "welcome.language", If: severalLanguages, To: sLanguage},
		}},
		// A slip of the thumb must not part a grower from a season's records.
		{ID: sWhoSure, Ask: "who.sure", Choices: []Choice{
			{Digit: '1', Label: "who.sure-yes", Do: unlink, To: sTongue},
			{Digit: '2', Label: "who.sure-no", Do: confirm, To: sHome},
		}},
		{ID: "number", Rest: true, Ask: "number.ask", Choices: []Choice{
			{Digit: '1', Label: "number.show", Do: showCode, To: "number.code"},
		}},
		// The last of its dialogue: it stays on the phone as long as it takes to
		// type it on the other one, and no session keeps the code.
		{ID: "number.code", Last: true, Ask: "number.code",
			Args: func(c *scene) text.Args {
				return text.Args{"digits": text.Verbatim(c.s.Answers[fCode]), "code": c.m.opt.DialCode}
			}},
		{ID: "number.type", Ask: "number.type",
			Typed: &Typed{Parse: typedCode, Do: takeOver, To: "number.done", Samples: []string{sampleCode, "123 456", "999999"}}},
		{ID: "number.done", Rest: true, Ask: "number.done", Head: func(c *scene) string {
			if c.grower.Stopped() {
				return c.t("stopped.text", nil)
			}
			return ""
		}},
	}
}

// confirm lets the records be shown again, in the language that was chosen
// before it was known who chose.
func confirm(c *scene) (*Refusal, error) {
	if err := c.numbers.Confirm(); err != nil || c.s.Lang == c.grower.Language() {
		return nil, err
	}
	return nil, c.grower.SetLanguage(c.s.Lang)
}

// unlink parts the number from the records, and from their language.
func unlink(c *scene) (*Refusal, error) {
	c.s.Lang = ""
	return nil, c.numbers.Unlink()
}

// unasked reports that this screen may not be shown, nor worked on, before
// whoever uses a number that was silent for long says who they are.
func (c *scene) unasked() bool {
	switch c.s.Screen {
	case sWho, sWhoSure, sLanguage, sTongue:
		return false
	}
	return c.numbers.Silent()
}

// movedAway reports a dialogue that the records emptied when they went to
// another number: of it there is only that it was.
func movedAway(b Book, state []byte) bool {
	return state != nil && len(state) == 0 && !b.Known()
}

func showCode(c *scene) (*Refusal, error) {
	code, err := c.numbers.MoveCode()
	c.s.put(fCode, code)
	return nil, err
}

// takeOver brings the records here, and tells the phone they were with. What
// was typed is not kept.
func takeOver(c *scene) (*Refusal, error) {
	code := c.s.Answers[fCode]
	delete(c.s.Answers, fCode)
	if c.grower.Known() { // joined meanwhile, by the other channel
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
