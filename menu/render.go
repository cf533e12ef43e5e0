package menu

import (
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// choices are the lines offered on a screen just now.
func (c *scene) choices(s *Screen) []Choice {
	var out []Choice
	if s.List != nil {
		out = s.List(c)
	}
	for _, choice := range s.Choices {
		if choice.If == nil || choice.If(c) {
			out = append(out, choice)
		}
	}
	return out
}

// reply renders the screen and saves the session.
func (c *scene) reply(refused *Refusal) ([]byte, Reply, error) {
	if c.err != nil {
		return nil, Reply{}, c.err
	}
	r := Reply{Text: c.render(refused), More: !c.screen().Last, Send: c.send}
	if c.err != nil {
		return nil, Reply{}, c.err
	}
	if !r.More {
		return nil, r, nil
	}
	state, err := c.s.encode()
	return state, r, err
}

// render puts a screen together: head or reason, question, choices, the keys
// that always work.
func (c *scene) render(refused *Refusal) string {
	screen := c.screen()
	var lines []string
	if refused != nil {
		lines = append(lines, c.t(refused.Key, refused.Args))
	}
	if c.s.Paused {
		if refused == nil {
			lines = append(lines, c.t("resume.head", nil))
		}
		lines = append(lines, c.question(screen), goOnKey+" "+c.t("resume.go-on", nil), restartKey+" "+c.t("resume.start-again", nil))
		return strings.Join(lines, "\n")
	}
	if refused == nil && screen.Head != nil {
		if h := screen.Head(c); h != "" {
			lines = append(lines, h)
		}
	}
	if q := c.question(screen); q != "" {
		lines = append(lines, q)
	}
	for _, choice := range c.choices(screen) {
		lines = append(lines, string(choice.Digit)+" "+c.t(choice.Label, choice.Args))
	}
	switch {
	case screen.Last, screen.Root:
	default:
		lines = append(lines, c.t("keys.back-home", nil))
	}
	return strings.Join(lines, "\n")
}

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

// t is a text of the catalogue in the grower's language.
func (c *scene) t(k text.Key, args text.Args) string {
	s, err := c.m.cat.Text(c.lang, k, args)
	if err != nil && c.err == nil {
		c.err = err
	}
	return s
}

func (c *scene) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *scene) today() engine.Day { return c.b.Today() }

// Sorry is what a phone is told when the service cannot answer.
func (m *Menu) Sorry(lang string) string {
	s, err := m.cat.Text(m.language(lang), "error.try-again", nil)
	if err != nil {
		return ""
	}
	return s
}
