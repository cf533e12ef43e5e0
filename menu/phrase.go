package menu

import (
	"math"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/text"
)

// phrases: the small sentences that several screens and texts share.

func (c *scene) date(d engine.Day) string { return c.m.date(c.lang, d) }

func (m *Menu) date(lang string, d engine.Day) string {
	_, month, dd := d.Date()
	return m.cat.Date(lang, d.Weekday(), dd, month)
}

// dayAgo is a date with how long ago it was: "Thu 5 Nov, 20 days ago".
func (c *scene) dayAgo(d engine.Day) string {
	n := int(c.today() - d)
	args := text.Args{"date": c.date(d), "n": n}
	switch {
	case n == 0:
		return c.t("day.today", text.Args{"date": c.date(d)})
	case n == 1:
		return c.t("day.yesterday", text.Args{"date": c.date(d)})
	case n < 0:
		args["n"] = -n
		return c.t("day.ahead", args)
	}
	return c.t("day.ago", args)
}

// number writes at most one decimal, none where it would be 0.
func number(x float64) string {
	return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64)
}

// whole writes a number without decimals.
func whole(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', 0, 64) }

// label is what the grower calls a plot, else its number.
func (m *Menu) label(lang string, no int, p engine.Plot) (string, error) {
	if p.Label != "" {
		return p.Label, nil
	}
	return m.cat.Text(lang, "plot.label", text.Args{"no": no})
}

func (c *scene) label(no int, p engine.Plot) string {
	s, err := c.m.label(c.lang, no, p)
	if err != nil {
		c.fail(err)
	}
	return s
}

// season reads a plot's records; on failure the scene's error is set and the
// zero season returned.
func (c *scene) season(no int) (engine.Season, engine.Plan, bool) {
	s, err := c.b.Season(no)
	if err != nil {
		c.fail(err)
		return s, engine.Plan{}, false
	}
	p, err := s.Windows(c.today())
	if err != nil {
		c.fail(err)
		return s, p, false
	}
	return s, p, true
}

// next is the one sentence that says what to do on a plot and by when.
func (c *scene) next(p engine.Plan) string { return c.sentence("next", p) }

// short is the same in a few characters, for lists.
func (c *scene) short(p engine.Plan) string { return c.sentence("short", p) }

// sentence picks the text of a group for a plan: hand instead of tool where
// no tool can pass, end where no window is left.
func (c *scene) sentence(group string, p engine.Plan) string {
	k := text.Key(group + "." + stateKey(p))
	args := text.Args{}
	if w := p.Next; w.Exists() {
		args["closes"], args["opens"], args["span"] = c.date(w.Closes), c.date(w.Opens), c.m.span(c.lang, w, c.fail)
	}
	args["end"] = c.date(p.Closure.LastToolDay)
	return c.t(k, args)
}

// span is the days of a window, "" where there is none.
func (m *Menu) span(lang string, w engine.Window, fail func(error)) string {
	if !w.Exists() {
		return ""
	}
	k := text.Key("day.span")
	if w.Opens == w.Closes {
		k = "day.single"
	}
	s, err := m.cat.Text(lang, k, text.Args{"opens": m.date(lang, w.Opens), "closes": m.date(lang, w.Closes)})
	if err != nil {
		fail(err)
	}
	return s
}

// stateKey names a plan's state in the catalogue.
func stateKey(p engine.Plan) string {
	if p.Fit.Hand() {
		return handKey(p)
	}
	switch p.State {
	case engine.TooEarly, engine.FollowUp:
		if !p.Next.Exists() {
			return "end-near"
		}
		return "later"
	case engine.Prepare:
		return "prepare"
	case engine.Open:
		return "open"
	case engine.LastDays:
		return "last-days"
	case engine.Missed:
		return "missed"
	}
	return "closed"
}

// handKey is the same where no tool can pass.
func handKey(p engine.Plan) string {
	switch p.State {
	case engine.TooEarly, engine.Prepare, engine.FollowUp:
		if !p.Next.Exists() {
			return "hand-closed"
		}
		return "hand-later"
	case engine.Open, engine.LastDays:
		return "hand-open"
	case engine.Missed:
		return "hand-missed"
	}
	return "hand-closed"
}
