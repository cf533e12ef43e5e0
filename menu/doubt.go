package menu

import "rowbell/menu/text"

// doubt is a typed entry that could be read and is likely a slip of the thumb:
// it comes back with what was understood, and one digit settles it. It is
// saved with the session, in values and not in words: the language may change.
type doubt struct {
	About slip             `json:"k"`
	Kept  map[Field]string `json:"a"`           // the answers if it stands
	Mend  map[Field]string `json:"m,omitempty"` // the answers that were likely meant; nil: cannot be told
}

// slip names a kind of doubt in the texts.
type slip string

// sDoubt asks about an entry that may be a slip.
const sDoubt ScreenID = "doubt"

// slipKind says what is doubted: the question, and how to word the answers.
type slipKind struct {
	Ask text.Key                                        // with {it}
	Say func(c *scene, answers map[Field]string) string // the value in question, in words
}

// doubtScreens is the one screen that gives an entry back.
func doubtScreens() []Screen {
	return []Screen{{ID: sDoubt, Head: doubtHead, List: doubtChoices}}
}

// askDoubt holds the answers just understood until the grower confirms them, or
// takes those that were likely meant instead.
func (c *scene) askDoubt(before *session, about slip, mend map[Field]string) {
	d := &doubt{About: about, Kept: c.s.Answers}
	if mend != nil {
		m := c.s.clone()
		m.putAll(mend)
		d.Mend = m.Answers
	}
	c.s.Answers, c.s.Doubt = before.Answers, d
	c.s.push(c.s.Screen)
	c.s.Screen = sDoubt
}

func doubtHead(c *scene) string {
	d := c.s.Doubt
	if d == nil {
		return ""
	}
	kind := slips[d.About]
	return c.t(kind.Ask, text.Args{"it": kind.Say(c, d.Kept)})
}

// doubtChoices: 1 it stands, 2 what was likely meant. To type it again is to
// go back.
func doubtChoices(c *scene) []Choice {
	d := c.s.Doubt
	if d == nil {
		return nil
	}
	say := slips[d.About].Say
	out := []Choice{{Digit: '1', Label: "doubt.keep", Args: text.Args{"it": say(c, d.Kept)}, Set: d.Kept}}
	if d.Mend != nil {
		out = append(out, Choice{Digit: '2', Label: "doubt.mend", Args: text.Args{"it": say(c, d.Mend)}, Set: d.Mend})
	}
	return out
}

// settleDoubt goes on from the screen on which the entry was typed, as if the
// chosen answers had been read there.
func (c *scene) settleDoubt(choice Choice) *Refusal {
	before := c.s.clone()
	n := len(c.s.Trail)
	c.s.Screen, c.s.Trail = c.s.Trail[n-1], c.s.Trail[:n-1]
	c.s.Answers, c.s.Doubt = nil, nil
	c.s.putAll(choice.Set)
	typed := c.screen().Typed
	return c.follow(before, typed.Do, typed.To)
}
