package menu

import (
	"math"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// speech writes the texts of one language. Its first error is kept, so that
// texts can be put together without a check a line.
type speech struct {
	cat  *text.Catalogue
	lang string
	err  error
}

// t is a text of the catalogue.
func (p *speech) t(k text.Key, args text.Args) string {
	s, err := p.cat.Text(p.lang, k, args)
	if err != nil {
		p.fail(err)
	}
	return s
}

func (p *speech) fail(err error) {
	if p.err == nil {
		p.err = err
	}
}

// write is a number in figures.
func (p *speech) write(d text.Decimal) string { return p.cat.Decimal(p.lang, d) }

// The small sentences that several screens and texts share.

func (p *speech) date(d engine.Day) string {
	_, month, dd := d.Date()
	return p.cat.Date(p.lang, d.Weekday(), dd, month)
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

// number has at most one decimal, none where it would be 0.
func number(x float64) text.Decimal { return text.Decimal{Value: math.Round(x*10) / 10, Places: 1} }

// whole has no decimals.
func whole(x float64) text.Decimal { return text.Decimal{Value: math.Round(x)} }

// written is a price as it was told: two decimals at most.
func written(x float64) text.Decimal { return text.Decimal{Value: math.Round(x*100) / 100, Places: 2} }

// estimated is a calculated amount of money, in three significant digits; whole
// from 10 on.
func estimated(x float64) text.Decimal {
	switch {
	case x < 1:
		return written(x)
	case x < 10:
		return number(x)
	}
	unit := math.Pow10(max(0, int(math.Floor(math.Log10(x)))-2))
	return whole(math.Round(x/unit) * unit)
}

// label is what the grower calls a plot, else its number.
// and where the language has no letters for the name.
func (p *speech) label(no int, plot engine.Plot) string {
	if plot.Label != "" && p.writes(plot.Label) {
		return plot.Label
	}
	return p.t("plot.label", text.Args{"no": no})
}

// writes reports that a name can be read in the language: that no letter of it
// is lost.
func (p *speech) writes(name string) bool {
	return !strings.Contains(p.cat.Written(p.lang, name), "?")
}

// both names one plot or two.
func (p *speech) both(names []string) string {
	if len(names) == 1 {
		return names[0]
	}
	return p.t("plot.both", text.Args{"a": names[0], "b": names[1]})
}

// plot reads the records of the plot that the dialogue is about.
func (c *scene) plot() (engine.Season, bool) { return c.plotNo(c.s.int(fPlot)) }

// plotNo reads a plot's records; on failure the scene's error is set and the zero
// season returned.
func (c *scene) plotNo(no int) (engine.Season, bool) {
	s, err := c.plots.Season(no)
	if err != nil {
		c.fail(err)
		return engine.Season{}, false
	}
	return s, true
}

// season reads a plot's records; on failure the scene's error is set and the
// zero season returned.
func (c *scene) season(no int) (engine.Season, engine.Plan, bool) {
	s, ok := c.plotNo(no)
	if !ok {
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
		args["closes"], args["opens"], args["span"] = c.date(w.Closes), c.date(w.Opens), c.span(w)
	}
	args["end"] = c.date(p.Closure.LastToolDay)
	return c.t(k, args)
}

// span is the days of a window, "" where there is none.
func (p *speech) span(w engine.Window) string {
	if !w.Exists() {
		return ""
	}
	k := text.Key("day.span")
	if w.Opens == w.Closes {
		k = "day.single"
	}
	return p.t(k, text.Args{"opens": p.date(w.Opens), "closes": p.date(w.Closes)})
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
