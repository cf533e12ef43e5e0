package menu

import (
	"errors"
	"fmt"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Bell is a plot for which a reminder is due today.
type Bell struct {
	No       int
	Season   engine.Season
	Plan     engine.Plan
	Reminder engine.Reminder
	Silent   bool  // another person may have the number now, so the text does not show the plot's name
	Turn     *Turn // the turn of the plot with a shared tool, to be named; nil: none
}

// Ringing is the text of a reminder, and the question that a digit in reply answers.
type Ringing struct {
	Text      string
	Kind      engine.Kind
	Prompt    []byte     // nil if the text asks nothing
	PromptEnd engine.Day // last day on which the prompt can be answered
	Turn      bool       // the text names Bell.Turn
}

// ErrApart is returned if two plots cannot share one text.
var ErrApart = errors.New("menu: these plots need a text each")

// Ring writes one text for one plot, or for two plots whose reminders use the same text of the catalogue. Ring returns
// ErrApart for two plots whose reminders use different texts or say that a window has closed or moved, if the water on
// one of them is too deep for the tool, and if the text for two plots needs more than one segment (two segments in
// UCS-2).
func (m *Menu) Ring(lang string, bells ...Bell) (Ringing, error) {
	p := speech{cat: m.texts, lang: m.language(lang), said: m.said}
	first := bells[0]
	kind := first.Reminder.Kind
	w := first.Reminder.Window
	key := first.key(len(bells) > 1)
	var names []string
	var plots []subject
	for _, b := range bells {
		if len(bells) > 1 && (key != b.key(true) || kind == engine.KindClosed || kind == engine.KindMoved ||
			b.deep() != "" || b.Plan.Weeded > 0 || b.Turn != nil) {
			return Ringing{}, ErrApart
		}
		names, plots = append(names, p.label(b.No, b.named())), append(plots, subjectOf(b.No, b.Season))
		// The windows of two plots may differ. The text then gives the earlier of the two first days, of the two best
		// days and of the two last days, so that neither plot is weeded too late.
		w.Opens, w.Best, w.Closes = min(w.Opens, b.Reminder.Window.Opens), min(w.Best, b.Reminder.Window.Best),
			min(w.Closes, b.Reminder.Window.Closes)
	}
	args := text.Args{
		"plot":  p.both(names),
		"opens": p.date(w.Opens), "best": p.date(max(w.Best, first.Plan.On)), "closes": p.date(w.Closes),
		"code": m.opt.DialCode, "n": first.Plan.Passes,
		"tool": p.widest(first.Season), "why": p.ends(first.Plan), "pull": p.date(first.Plan.Closure.PullUntil),
	}
	args["was"], args["span"] = p.span(first.Plan.Next), p.span(w)
	if len(bells) > 1 {
		args["a"], args["b"] = names[0], names[1]
	}
	switch key {
	case "ring.prepare":
		args["also"] = p.also(first)
	case "ring.closed-saved":
		sum := first.Season.Summary(first.Plan.On)
		args["hours"], args["saved"] = duration(sum.Hours), whole(sum.SavedHours)
	}
	r := Ringing{Kind: kind}
	if len(bells) == 1 {
		r.Text, r.Turn = m.withTurn(&p, first, args)
	}
	if !r.Turn {
		r.Text = p.t(key, args)
	}
	r.Text = m.hinted(&p, r.Text, bells)
	if p.err != nil {
		return Ringing{}, p.err
	}
	if len(bells) > 1 && !m.rings(p.lang, r.Text) {
		return Ringing{}, ErrApart
	}
	return r, r.ask(prompt{Plots: plots, Yes: kind == engine.KindNudge}, first, w.Closes, len(bells) == 1)
}

// ask sets the prompt of a reminder, if it asks something. first is the first of its plots, and closes the last day of
// the window; alone reports whether there is no other plot.
func (r *Ringing) ask(ask prompt, first Bell, closes engine.Day, alone bool) (err error) {
	switch question := first.Reminder.Question(); question {
	case engine.AskNothing:
		return nil
	case engine.AskPass:
		ask.Asked, r.PromptEnd, ask.Small = askedPass, closes, first.guess() && alone
	case engine.AskLook:
		ask.Asked, r.PromptEnd = askedLook, first.Plan.On+lookDays
	case engine.AskByHand:
		ask.Asked, r.PromptEnd = askedHand, first.Plan.On+handDays
	default:
		return fmt.Errorf("menu: a reminder of kind %s asks question %d, which has no prompt", r.Kind, question)
	}
	r.Prompt, err = ask.encode()
	return err
}

// rings reports whether a text is short enough for a reminder; see MaxSegments.
func (m *Menu) rings(lang, body string) bool {
	e := m.Encode(lang, body)
	return e.Segments <= MaxSegments(e.Encoding.Alphabet, true)
}

// hinted adds to the text of a look or of an open window half a line about other work on the plot, if the text is about
// one plot, there is work that goes with the pass, and the text is still short enough for a reminder.
func (m *Menu) hinted(p *speech, body string, bells []Bell) string {
	if k := bells[0].hint(); k != "" && len(bells) == 1 {
		if with := body + " " + p.t(k, nil); m.rings(p.lang, with) {
			return with
		}
	}
	return body
}

// hint returns the key of what a text says about other work, or "". Gaps in the rows are filled today. A top-dressing
// that is due up to FollowUpDays days after the window comes after the pass.
func (b Bell) hint() text.Key {
	if kind := b.Reminder.Kind; kind != engine.KindPrepare && kind != engine.KindOpen || b.Plan.Fit.Hand() {
		return ""
	}
	for _, o := range b.Season.Around(b.Plan.On) {
		switch o.Kind {
		case engine.FillGaps, engine.FillGapsAgain:
			if o.When == engine.Due {
				return "hint.fill-gaps"
			}
		case engine.TopDressTillering, engine.TopDressPanicle:
			if o.When != engine.Past && o.From <= b.Reminder.Window.Closes+engine.FollowUpDays {
				return "hint.top-dress"
			}
		}
	}
	return ""
}

// MaxSegments is how many SMS segments a text in this alphabet may have: a reminder (rings is true) 1 in GSM 7-bit and
// 2 in UCS-2, any other text 2 and 3.
func MaxSegments(a text.Alphabet, rings bool) int {
	switch {
	case rings && a == text.GSM7:
		return 1
	case rings || a == text.GSM7:
		return 2
	}
	return 3
}

// named returns the plot. named leaves out the plot's name if another person may have the phone number.
func (b Bell) named() engine.Plot {
	if b.Silent {
		return engine.Plot{}
	}
	return b.Season.Plot
}

// water returns what to do about the water on the plot for the window.
func (b Bell) water() engine.WaterAdvice {
	w := b.Season.Water(b.Plan.On, b.Reminder.Window)
	return w.Advice(b.Reminder.Window)
}

// also returns what the text that asks for a look says besides: what must be ready when the window opens. If the window
// is probably over, it says what to do with weeds that are too big.
func (p *speech) also(b Bell) string {
	args := text.Args{"opens": p.date(b.Reminder.Window.Opens), "tool": p.widest(b.Season)}
	switch {
	case b.Plan.State == engine.Missed:
		return p.t("look.pull", nil)
	case b.Plan.Fit.Verdict == engine.FitUnknown, b.lateTurn():
		return p.t("look.borrow", args)
	}
	switch b.water() {
	case engine.WaterBring:
		return p.t("look.water-bring", args)
	case engine.WaterLower:
		return p.t("look.water-lower", args)
	case engine.WaterWait:
		return p.t("look.water-wait", args)
	}
	return p.t("look.water", args) // the depth is right or not known
}

// deep returns the text of an open window on a plot whose water is too deep for the grower's tool; "" if it is not.
func (b Bell) deep() text.Key {
	fit := b.Plan.Fit
	if b.Reminder.Kind != engine.KindOpen || fit.Hand() || fit.Verdict == engine.FitUnknown {
		return ""
	}
	switch b.water() {
	case engine.WaterLower:
		return "ring.open-lower"
	case engine.WaterWait:
		return "ring.open-wait"
	}
	return ""
}

// guess reports whether the days of the open window are a guess. The text then tells the grower to look first.
func (b Bell) guess() bool {
	return b.Reminder.Kind == engine.KindOpen && b.Reminder.Window.Guess() && b.Plan.Weeded == 0
}

// sown reports whether the window opens because rice that was sown in rows stands firm enough for the tool.
func (b Bell) sown() bool { return b.Reminder.Window.Why == engine.WhyAnchored }

// key returns the catalogue key of the text. These cases have texts of their own: a part of the plot is weeded already;
// weeding by hand; water that is too deep for the tool; a window whose days are a guess; rice that was sown in rows;
// weeds that would cost much of the harvest; weeds that are still worth pulling when the work of the tool is done; a
// season in which the tool has saved time.
func (b Bell) key(two bool) text.Key {
	kind, p := b.Reminder.Kind, b.Plan
	hand := p.Fit.Hand()
	k := "ring." + kind.String()
	again := p.Next.Number > 1
	switch {
	case p.Weeded > 0 && kind == engine.KindMissed:
		return "ring.missed-rest"
	case p.Weeded > 0 && hand && kind.Announces() && kind != engine.KindMoved:
		return "ring.rest-hand"
	case p.Weeded > 0 && kind.Announces() && kind != engine.KindMoved:
		return "ring.rest"
	case hand && kind == engine.KindClosed && p.Passes == 0:
		k += "-hand-none"
	case hand:
		k += "-hand"
	case kind == engine.KindMoved:
		if b.Reminder.Asks() {
			k += "-open"
		}
	case (p.Fit.Verdict == engine.FitUnknown || b.lateTurn()) && !two && kind == engine.KindOpen:
		k += "-borrow"
	case b.deep() != "":
		return b.deep()
	case kind == engine.KindOpen && b.sown() && !two:
		k += "-sown"
	case kind == engine.KindOpen && b.guess():
		k += "-guess"
	case kind == engine.KindOpen && again:
		k += "-again"
	case kind == engine.KindClosed && p.Pulls():
		k += "-pull"
	case kind == engine.KindClosed && p.Passes == 0:
		k += "-none"
	case kind == engine.KindClosed && b.Season.Summary(p.On).SavedHours >= 1:
		k += "-saved"
	case kind == engine.KindLastDays && !two && b.Season.Risk(p.On).Level == engine.RiskHigh:
		k += "-dear"
	}
	if two {
		k += "-two"
	}
	return text.Key(k)
}
