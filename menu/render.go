package menu

import (
	"slices"
	"strconv"

	"rowbell/menu/text"
)

// choices returns the choices that a screen offers this grower now: those of List, then those of Choices whose If
// allows it. choices numbers them from 1, so that no digit is missing if a choice is left out.
func (c *scene) choices(s *Screen) []Choice {
	var out []Choice
	if s.List != nil {
		out = s.List(c)
	}
	out = slices.Grow(out, len(s.Choices))
	for _, choice := range s.Choices {
		if choice.If == nil || choice.If(c) {
			out = append(out, choice)
		}
	}
	for i := range out {
		out[i].Digit = digit(i + 1)
	}
	return out
}

// reply renders the current screen, and returns the session as the state that the caller stores. The state is nil if
// the dialogue ends with this screen.
func (c *scene) reply(refused *Refusal) ([]byte, Reply, error) {
	if c.err != nil {
		return nil, Reply{}, c.err
	}
	if c.unasked() {
		c.begin()
	}
	if shown := c.screen().Shown; shown != nil && !c.s.Paused {
		shown(c)
	}
	pages := c.pages(refused)
	c.s.Page = min(c.s.Page, len(pages)-1) // a list may have grown shorter
	c.s.Refused = refused != nil && len(pages) > 1
	r := Reply{Text: pages[c.s.Page], Screen: c.s.Screen, More: !c.screen().Last, Send: c.send,
		Refused: refused != nil}
	if c.err != nil {
		return nil, Reply{}, c.err
	}
	if !r.More {
		return nil, r, nil
	}
	state, err := c.s.encode()
	return state, r, err
}

// pages renders the screen on as many pages as needed: the head or the reason of a refusal, the question, the choices,
// and the keys that work on every screen. pages does not change the session or the records.
func (c *scene) pages(refused *Refusal) []string {
	if c.s.Paused {
		return c.resumePages(refused)
	}
	screen := c.screen()
	var head, question string
	switch {
	case refused != nil:
		head = c.t(refused.Key, refused.Args)
	case screen.Head != nil:
		head = screen.Head(c)
	}
	question = c.question(screen)
	// A screen without a question shows its head below the reason of a refusal.
	if refused != nil && question == "" && screen.Head != nil {
		question = screen.Head(c)
	}
	var lines []string
	for _, choice := range c.choices(screen) {
		lines = append(lines, string(choice.Digit)+" "+c.t(choice.Label, choice.Args))
	}
	keys := ""
	if !screen.Last && !screen.Root {
		keys = c.t("keys.back-home", nil)
	}
	if screen.Typed != nil && len(lines) == 0 {
		// Every digit may be an answer on this screen, so no digit can turn the page. If the refusal and the question
		// do not fit on one page, only the refusal is shown, because the refusal says what can be typed.
		whole := stack(head, question, keys)
		if !c.fits(whole) {
			whole = stack(head, question, c.t("keys.back", nil))
		}
		if refused != nil && !c.fits(whole) {
			whole = stack(head, keys)
		}
		return []string{whole}
	}
	return c.paginate([]string{head, question}, lines, keys)
}

func digit(n int) byte { return strconv.Itoa(n)[0] }

func (c *scene) question(s *Screen) string {
	if s.Ask == "" {
		return ""
	}
	var args text.Args
	if s.Args != nil {
		args = s.Args(c)
	}
	return c.t(s.Ask, args)
}
