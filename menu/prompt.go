package menu

import (
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/menu/text"
)

// asked is what a one-digit answer would mean just now.
type asked string

const (
	askedPass asked = "pass" // after a window's text: done, not yet, too big
	askedHand asked = "hand" // after "missed": pulled by hand
	askedLeft asked = "left" // after a logged pass: what is left in the rows
	askedUndo asked = "undo" // after all is logged: 0 undoes
)

// prompt is saved as one version byte and JSON, as a session is.
type prompt struct {
	Asked asked      `json:"k"`
	Plots []int      `json:"p"`
	On    engine.Day `json:"d,omitempty"` // the pass in question
	Made  []int      `json:"m,omitempty"` // passes on each plot once this one was logged: 0 undoes only that one
}

var errPrompt = errors.New("menu: not a prompt of this version")

func (p prompt) encode() ([]byte, error) {
	b, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	return append([]byte{sessionVersion}, b...), nil
}

func decodePrompt(b []byte) (prompt, error) {
	var p prompt
	if len(b) < 2 || len(b) > maxSession || b[0] != sessionVersion || json.Unmarshal(b[1:], &p) != nil {
		return prompt{}, errPrompt
	}
	if len(p.Plots) == 0 || len(p.Plots) > MaxPlots || !slices.Contains([]asked{askedPass, askedHand, askedLeft, askedUndo}, p.Asked) {
		return prompt{}, errPrompt
	}
	return p, nil
}

// How long an answer may take where no window bounds it, in days.
const (
	leftDays = 3
	undoDays = 1
	handDays = 7
)

// answered is the outcome of a one-digit answer to a prompt.
type answered struct {
	text  string
	kind  string
	next  *prompt    // what may be answered after it; nil: nothing
	until engine.Day // its last day
}

// answer works a digit into the prompt. ok is false where the digit means
// nothing here; the plots may also have gone since the text was sent.
func (c *scene) answer(p prompt, e string) (a answered, ok bool) {
	open, err := c.b.Plots()
	if err != nil {
		c.fail(err)
		return a, true
	}
	for _, no := range p.Plots {
		if !slices.Contains(open, no) {
			return a, false
		}
	}
	switch p.Asked {
	case askedPass:
		return c.answerPass(p, e)
	case askedHand:
		if e == "1" {
			return c.logged(p.Plots, engine.ByHand), true
		}
	case askedLeft:
		if left := map[string]engine.Amount{"1": engine.Few, "2": engine.Some, "3": engine.Many}[e]; left != 0 {
			return c.answerLeft(p, left), true
		}
		if e == "0" {
			return c.undo(p), true
		}
	case askedUndo:
		if e == "0" {
			return c.undo(p), true
		}
	}
	return a, false
}

// answerPass: for one plot 1 done, 2 not yet, 3 too big; for two plots 1 both
// done, 2 only the first, 3 only the second, 4 not yet.
func (c *scene) answerPass(p prompt, e string) (answered, bool) {
	_, plan, ok := c.season(p.Plots[0])
	if !ok {
		return answered{}, true
	}
	notYet := "2"
	if len(p.Plots) == 2 {
		notYet = "4"
	}
	switch {
	case e == "1":
		return c.logged(p.Plots, engine.ByTool), true
	case e == notYet:
		return c.notYet(p), true
	case len(p.Plots) == 2 && (e == "2" || e == "3"):
		return c.logged(p.Plots[e[0]-'2':e[0]-'1'], engine.ByTool), true
	case len(p.Plots) == 1 && e == "3" && !plan.Fit.Hand():
		return c.tooBig(p), true
	}
	return answered{}, false
}

// logged notes a pass of today on each plot and asks what is left.
func (c *scene) logged(plots []int, with engine.Means) answered {
	today := c.today()
	next := &prompt{Asked: askedLeft, Plots: plots, On: today}
	a := answered{kind: "after-pass", next: next, until: today + leftDays}
	for _, no := range plots {
		s, p, ok := c.season(no)
		if !ok {
			return a
		}
		means := with
		if p.Fit.Hand() {
			means = engine.ByHand
		}
		if n := len(s.Passes); n > 0 && s.Passes[n-1].On >= today {
			// Logged already, by menu or by an earlier answer: say so, do not
			// log it twice.
			return answered{kind: "after-pass", text: c.t("sms.already", text.Args{"plot": c.label(no, s.Plot), "date": c.date(s.Passes[n-1].On)})}
		}
		if err := c.b.LogPass(no, engine.Pass{On: today, With: means}); err != nil {
			c.fail(err)
			return a
		}
		next.Made = append(next.Made, len(s.Passes)+1)
	}
	_, plan, ok := c.season(plots[0])
	if ok {
		a.text = c.t("sms.after-pass", text.Args{"plot": c.labels(plots), "date": c.date(today), "next": c.next(plan)})
	}
	return a
}

// answerLeft completes the pass and says when to come back.
func (c *scene) answerLeft(p prompt, left engine.Amount) answered {
	a := answered{kind: "after-pass", next: &prompt{Asked: askedUndo, Plots: p.Plots, On: p.On, Made: p.Made}, until: c.today() + undoDays}
	var plan engine.Plan
	for i, no := range p.Plots {
		s, _, ok := c.season(no)
		if !ok {
			return a
		}
		if !p.holds(i, s) {
			return answered{kind: "reply", text: c.t("sms.changed", nil)}
		}
		pass := s.Passes[len(s.Passes)-1]
		pass.Left = left
		if err := c.b.AmendPass(no, pass); err != nil {
			c.fail(err)
			return a
		}
		_, after, ok := c.season(no)
		if !ok {
			return a
		}
		if i == 0 || after.Next.Exists() && (!plan.Next.Exists() || after.Next.Opens < plan.Next.Opens) {
			plan = after
		}
	}
	k := text.Key("sms.left-few")
	if left == engine.Many {
		k = "sms.left-many"
	}
	a.text = c.t(k, text.Args{"plot": c.labels(p.Plots), "next": c.next(plan)})
	return a
}

// holds reports that the pass in question is still the latest on plot i.
func (p prompt) holds(i int, s engine.Season) bool {
	n := len(s.Passes)
	return n > 0 && i < len(p.Made) && n == p.Made[i] && s.Passes[n-1].On == p.On
}

func (c *scene) undo(p prompt) answered {
	for i, no := range p.Plots {
		s, _, ok := c.season(no)
		if !ok {
			return answered{}
		}
		if !p.holds(i, s) {
			return answered{kind: "reply", text: c.t("sms.changed", nil)}
		}
	}
	for _, no := range p.Plots {
		if err := c.b.UndoPass(no); err != nil {
			c.fail(err)
			return answered{}
		}
	}
	_, plan, ok := c.season(p.Plots[0])
	if !ok {
		return answered{}
	}
	return answered{kind: "reply", text: c.t("sms.undone", text.Args{"plot": c.labels(p.Plots), "next": c.next(plan)}),
		next: &prompt{Asked: askedPass, Plots: p.Plots}, until: max(c.today(), plan.Next.Closes)}
}

func (c *scene) notYet(p prompt) answered {
	closes := engine.Day(0)
	for _, no := range p.Plots {
		_, plan, ok := c.season(no)
		if !ok {
			return answered{}
		}
		if w := plan.Next; w.Exists() && (closes == 0 || w.Closes < closes) {
			closes = w.Closes
		}
	}
	if closes == 0 {
		return answered{kind: "reply", text: c.t("sms.late", text.Args{"code": c.m.opt.DialCode})}
	}
	again := p
	return answered{kind: "reply", text: c.t("sms.not-yet", text.Args{"plot": c.labels(p.Plots), "closes": c.date(closes)}), next: &again, until: closes}
}

// tooBig notes what the grower saw; the tool is of no use any more, so the
// text says what is.
func (c *scene) tooBig(p prompt) answered {
	no := p.Plots[0]
	if err := c.b.See(no, engine.Sighting{On: c.today(), Leaves: engine.FourPlus}); err != nil {
		c.fail(err)
		return answered{}
	}
	return answered{kind: "missed", text: c.t("sms.too-big", text.Args{"plot": c.labels(p.Plots)}),
		next: &prompt{Asked: askedHand, Plots: p.Plots}, until: c.today() + handDays}
}

// labels names one plot or two.
func (c *scene) labels(plots []int) string {
	names := make([]string, 0, len(plots))
	for _, no := range plots {
		s, err := c.b.Season(no)
		if err != nil {
			c.fail(err)
			return ""
		}
		names = append(names, c.label(no, s.Plot))
	}
	return c.m.both(c.lang, names, c.fail)
}

func (m *Menu) both(lang string, names []string, fail func(error)) string {
	if len(names) == 1 {
		return names[0]
	}
	s, err := m.cat.Text(lang, "plot.both", text.Args{"a": names[0], "b": names[1]})
	if err != nil {
		fail(err)
	}
	return s
}
