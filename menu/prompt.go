package menu

import (
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/menu/answer"
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
	Plots []subject  `json:"p"`
	Of    []subject  `json:"q,omitempty"` // all plots of the question that the pass answered, where they were more
	On    engine.Day `json:"d,omitempty"` // day of the pass in question
	Opens engine.Day `json:"o,omitempty"` // the window that was told with the question; 0: none
	Close engine.Day `json:"e,omitempty"`
}

// subject is a plot as it was when the question was put: a number may have
// been given to another plot since, a pass may have been logged.
type subject struct {
	No      int        `json:"n"`
	Planted engine.Day `json:"p"`
	Passes  int        `json:"c"`
}

func subjectOf(no int, s engine.Season) subject {
	return subject{No: no, Planted: s.Plot.Planted, Passes: len(s.Passes)}
}

// is reports that the plot is still the one that was asked about.
func (u subject) is(s engine.Season) bool { return u.Planted == s.Plot.Planted }

// unchanged reports that nothing was logged or undone since, either.
func (u subject) unchanged(s engine.Season) bool { return u.is(s) && u.Passes == len(s.Passes) }

// promptVersion changes when saved prompts can no longer be read.
const promptVersion = 1

var errPrompt = errors.New("menu: not a prompt of this version")

func (p prompt) encode() ([]byte, error) {
	b, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	return append([]byte{promptVersion}, b...), nil
}

func decodePrompt(b []byte) (prompt, error) {
	var p prompt
	if len(b) < 2 || len(b) > maxSession || b[0] != promptVersion || json.Unmarshal(b[1:], &p) != nil {
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
// nothing here.
func (c *scene) answer(p prompt, e string) (a answered, ok bool) {
	open, err := c.b.Plots()
	if err != nil {
		c.fail(err)
		return a, true
	}
	for _, u := range p.Plots {
		if !slices.Contains(open, u.No) {
			return c.changed(), true
		}
		if s, _, ok := c.season(u.No); !ok || !u.is(s) {
			return c.changed(), true
		}
	}
	switch p.Asked {
	case askedPass:
		return c.answerPass(p, e)
	case askedHand:
		if e == "1" {
			return c.logged(p, p.Plots, engine.ByHand), true
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
		if hours, people, ok := answer.Took(e); ok && !c.ofTrial(p) {
			return c.took(p, hours, people), true
		}
	}
	return a, false
}

// took notes how long the weeding took; over two plots, each its share of the
// ground.
func (c *scene) took(p prompt, hours float64, people int) answered {
	if !c.holds(p) {
		return c.changed()
	}
	share := make([]float64, len(p.Plots))
	var all float64
	told := true // the size of each
	for i, u := range p.Plots {
		s, _, _ := c.season(u.No)
		share[i] = s.Plot.AreaM2
		all += share[i]
		told = told && share[i] > 0
	}
	for i, u := range p.Plots {
		part := 1 / float64(len(p.Plots))
		if told {
			part = share[i] / all
		}
		s, _, _ := c.season(u.No)
		pass := s.Passes[len(s.Passes)-1]
		pass.Hours, pass.People = hours*part, people
		if err := c.b.AmendPass(u.No, pass); err != nil {
			c.fail(err)
			return answered{}
		}
	}
	return answered{kind: "after-pass", text: c.t("sms.hours", text.Args{"plot": c.labels(p.Plots), "hours": number(hours), "n": people}),
		next: &p, until: c.today() + undoDays}
}

// changed is the answer where the records are not any more what the question
// was about: nothing is done, nothing is asked.
func (c *scene) changed() answered {
	return answered{kind: "reply", text: c.t("sms.changed", nil)}
}

// answerPass: for one plot 1 done, 2 not yet, 3 too big; for two plots 1 both
// done, 2 only the first, 3 only the second, 4 not yet. Too big means nothing
// where weeding is by hand.
func (c *scene) answerPass(p prompt, e string) (answered, bool) {
	_, plan, ok := c.season(p.Plots[0].No)
	if !ok {
		return answered{}, true
	}
	two := len(p.Plots) == 2
	notYet := "2"
	if two {
		notYet = "4"
	}
	switch {
	case e == "1":
		return c.logged(p, p.Plots, engine.ByTool), true
	case e == notYet:
		return c.notYet(p), true
	case two && e == "2":
		return c.logged(p, p.Plots[:1], engine.ByTool), true
	case two && e == "3":
		return c.logged(p, p.Plots[1:], engine.ByTool), true
	case e == "3" && !plan.Fit.Hand():
		return c.tooBig(p), true
	}
	return answered{}, false
}

// logged notes a pass of today on each plot that has none since the question
// was put, and asks what is left there.
func (c *scene) logged(p prompt, plots []subject, with engine.Means) answered {
	today := c.today()
	var todo []subject
	var already answered
	for _, u := range plots {
		s, _, ok := c.season(u.No)
		if !ok {
			return answered{}
		}
		if n := len(s.Passes); n > 0 && (n > u.Passes || s.Passes[n-1].On >= today) {
			already = answered{kind: "after-pass", text: c.t("sms.already", text.Args{"plot": c.label(u.No, s.Plot), "date": c.date(s.Passes[n-1].On)})}
			continue
		}
		todo = append(todo, u)
	}
	if len(todo) == 0 {
		return already
	}
	next := &prompt{Asked: askedLeft, On: today}
	if len(p.Plots) > len(todo) {
		next.Of = p.Plots
	}
	for _, u := range todo {
		_, plan, _ := c.season(u.No)
		means := with
		if plan.Fit.Hand() {
			means = engine.ByHand
		}
		if err := c.b.LogPass(u.No, c.asTried(u.No, engine.Pass{On: today, With: means})); err != nil {
			c.fail(err)
			return answered{}
		}
		s, _, _ := c.season(u.No)
		next.Plots = append(next.Plots, subjectOf(u.No, s))
	}
	plan, ok := c.soonest(todo)
	if !ok {
		return answered{}
	}
	next.Opens, next.Close = plan.Next.Opens, plan.Next.Closes
	k := text.Key("sms.after-pass")
	if with == engine.ByHand || plan.Fit.Hand() {
		k = "sms.after-pass-hand"
	}
	return answered{kind: "after-pass", next: next, until: today + leftDays,
		text: c.t(k, text.Args{"plot": c.labels(todo), "date": c.date(today), "next": c.next(plan)})}
}

// answerLeft completes the pass, and says when to come back if that is not what
// the text before said.
func (c *scene) answerLeft(p prompt, left engine.Amount) answered {
	if !c.holds(p) {
		return c.changed()
	}
	for _, u := range p.Plots {
		s, _, _ := c.season(u.No)
		pass := s.Passes[len(s.Passes)-1]
		pass.Left = left
		if err := c.b.AmendPass(u.No, pass); err != nil {
			c.fail(err)
			return answered{}
		}
	}
	plan, ok := c.soonest(p.Plots)
	if !ok {
		return answered{}
	}
	next := ""
	if w := plan.Next; w.Opens != p.Opens || w.Closes != p.Close {
		next = " " + c.next(plan)
	}
	k := text.Key("sms.left-few")
	switch {
	case c.ofTrial(p):
		k = "sms.left-trial"
	case left == engine.Many:
		k = "sms.left-many"
	}
	return answered{kind: "after-pass", text: c.t(k, text.Args{"plot": c.labels(p.Plots), "next": next, "code": c.m.opt.DialCode}),
		next: &prompt{Asked: askedUndo, Plots: p.Plots, Of: p.Of, On: p.On}, until: c.today() + undoDays}
}

// soonest is the plan of the plot that is due first.
func (c *scene) soonest(plots []subject) (plan engine.Plan, ok bool) {
	for i, u := range plots {
		_, p, ok := c.season(u.No)
		if !ok {
			return plan, false
		}
		if i == 0 || p.Next.Exists() && (!plan.Next.Exists() || p.Next.Opens < plan.Next.Opens) {
			plan = p
		}
	}
	return plan, true
}

// holds reports that the pass in question is still the latest on each plot.
func (c *scene) holds(p prompt) bool {
	for _, u := range p.Plots {
		s, _, ok := c.season(u.No)
		if !ok || !u.unchanged(s) || len(s.Passes) == 0 || s.Passes[len(s.Passes)-1].On != p.On {
			return false
		}
	}
	return true
}

// notYet says until when there is time, and keeps the question open.
func (c *scene) notYet(p prompt) answered {
	closes, missed, hand := engine.Day(0), false, false
	for _, u := range p.Plots {
		_, plan, ok := c.season(u.No)
		if !ok {
			return answered{}
		}
		missed, hand = missed || plan.State == engine.Missed, hand || plan.Fit.Hand()
		if w := plan.Next; w.Exists() && (closes == 0 || w.Closes < closes) {
			closes = w.Closes
		}
	}
	again := p
	a := answered{kind: "reply", next: &again, until: closes}
	k := text.Key("sms.not-yet")
	switch {
	case closes == 0 || missed:
		again.Asked = askedHand
		a.until = c.today() + handDays
		a.text = c.t("sms.not-yet-missed", text.Args{"plot": c.labels(p.Plots)})
		return a
	case hand:
		k = "sms.not-yet-hand"
	}
	a.text = c.t(k, text.Args{"plot": c.labels(p.Plots), "closes": c.date(closes)})
	return a
}

// tooBig notes what the grower saw; the tool is of no use any more, so the
// text says what is.
func (c *scene) tooBig(p prompt) answered {
	no := p.Plots[0].No
	if err := c.b.See(no, engine.Sighting{On: c.today(), Leaves: engine.FourPlus}); err != nil {
		c.fail(err)
		return answered{}
	}
	return answered{kind: "missed", text: c.t("sms.too-big", text.Args{"plot": c.labels(p.Plots)}),
		next: &prompt{Asked: askedHand, Plots: p.Plots}, until: c.today() + handDays}
}

// labels names one plot or two.
func (c *scene) labels(plots []subject) string {
	names := make([]string, 0, len(plots))
	for _, u := range plots {
		s, ok := c.plotNo(u.No)
		if !ok {
			return ""
		}
		names = append(names, c.label(u.No, s.Plot))
	}
	return c.both(names)
}
