package menu

import (
	"math"
	"strings"
	"unicode/utf8"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// speech writes texts of the catalogue in one language. It stores its first error in err, so that a caller can compose
// several texts and check for an error once.
type speech struct {
	cat  *text.Catalogue
	lang string
	err  error
	said func(Said) // called for each text that was written; may be nil
}

// t writes a text of the catalogue. If the text cannot be written, t returns "" and stores the error.
func (p *speech) t(k text.Key, args text.Args) string {
	s, err := p.cat.Text(p.lang, k, args)
	p.fail(err)
	if p.said != nil {
		p.said(Said{k, args, s})
	}
	return s
}

// fail stores an error, unless an earlier error is stored already. fail(nil) does nothing.
func (p *speech) fail(err error) {
	if p.err == nil {
		p.err = err
	}
}

// write formats a number with the digits of the language.
func (p *speech) write(d text.Decimal) string { return p.cat.Decimal(p.lang, d) }

// The functions below write the phrases that several screens and texts share.

func (p *speech) date(d engine.Day) string {
	_, month, dd := d.Date()
	return p.cat.Date(p.lang, d.Weekday(), dd, month)
}

// dayAgo writes a date with its distance from today: "Thu 5 Nov, 20 days ago" or "tomorrow, Thu 26 Nov".
func (c *scene) dayAgo(d engine.Day) string {
	n := int(c.today() - d)
	args := text.Args{"date": c.date(d), "n": n}
	switch {
	case n == 0:
		return c.t("day.today", text.Args{"date": c.date(d)})
	case n == 1:
		return c.t("day.yesterday", text.Args{"date": c.date(d)})
	case n == -1:
		return c.t("day.tomorrow", text.Args{"date": c.date(d)})
	case n < 0:
		args["n"] = -n
		return c.t("day.ahead", args)
	}
	return c.t("day.ago", args)
}

// number rounds to one decimal. The text shows no decimal if it is 0.
func number(x float64) text.Decimal { return text.Decimal{Value: math.Round(x*10) / 10, Places: 1} }

// whole rounds to a whole number.
func whole(x float64) text.Decimal { return text.Decimal{Value: math.Round(x)} }

// written rounds a price to two decimals, as growers type prices.
func written(x float64) text.Decimal { return text.Decimal{Value: math.Round(x*100) / 100, Places: 2} }

// estimated rounds a calculated amount of money to three significant digits. An amount of 10 or more has no decimals.
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

// label returns the name that the grower gave a plot, as the language shows it. If the plot has no name, or the
// language cannot show the name, label returns the plot's number.
func (p *speech) label(no int, plot engine.Plot) string {
	if name := p.shownName(plot.Label); name != "" {
		return name
	}
	return p.t("plot.label", text.Args{"no": no})
}

// shownName returns the name of a plot as the language shows it: if the language cannot write the letters, in Latin
// letters, and at most answer.MaxName units of it. shownName returns "" if the name cannot be shown in either way.
func (p *speech) shownName(name string) string {
	shown := p.cat.Written(p.lang, name)
	if strings.Contains(shown, "?") {
		shown = p.cat.Written(p.lang, text.Latin(name))
	}
	if strings.Contains(shown, "?") {
		return ""
	}
	return cutName(shown, answer.MaxName)
}

// cutName returns the beginning of a name, at most so many UTF-16 units of it.
func cutName(name string, most int) string {
	for text.UCS2Units(name) > most {
		_, n := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-n]
	}
	return strings.TrimSpace(name)
}

// both joins the names of one or two plots: "Upper", or "Upper and River".
func (p *speech) both(names []string) string {
	if len(names) == 1 {
		return names[0]
	}
	return p.t("plot.both", text.Args{"a": names[0], "b": names[1]})
}

// plot reads the records of the plot that the dialogue is about.
func (c *scene) plot() engine.Season { return c.plotNo(c.s.int(fPlot)) }

// openPlots reads the numbers of the grower's open plots, ascending.
func (c *scene) openPlots() []int {
	nos, err := c.plots.Plots()
	c.fail(err)
	return nos
}

// plotNo reads the records of a plot by its number. On failure it sets the scene's error and returns the zero season.
func (c *scene) plotNo(no int) engine.Season {
	s, err := c.plots.Season(no)
	if err != nil {
		c.fail(err)
		return engine.Season{}
	}
	return s
}

// season reads the records of a plot and calculates its windows with what is known today. On failure it sets the
// scene's error.
func (c *scene) season(no int) (engine.Season, engine.Plan) {
	s := c.plotNo(no)
	if c.err != nil {
		return s, engine.Plan{}
	}
	p, err := c.m.windows(s, c.today())
	c.fail(err)
	return s, p
}

// thisPlot reads the plot of this dialogue: the plot's name, its records, and its windows calculated with what is known
// today.
func (c *scene) thisPlot() (name string, s engine.Season, p engine.Plan) {
	no := c.s.int(fPlot)
	s, p = c.season(no)
	return c.label(no, s.Plot), s, p
}

// fullPlan reads the records of the plot of this dialogue and calculates the plan of its whole season with what is
// known today.
func (c *scene) fullPlan() (engine.Season, engine.Plan) {
	s := c.plot()
	p, err := s.Plan(c.today())
	c.fail(err)
	return s, p
}

// next writes what to do on a plot and by when, in one sentence.
func (c *scene) next(p engine.Plan) string { return c.sentence("next", p) }

// short writes what to do on a plot in a few characters, for lists.
func (c *scene) short(p engine.Plan) string { return c.sentence("short", p) }

// sentence writes the text for the state of a plan. group is "next" or "short", the first part of the text's key.
func (c *scene) sentence(group string, p engine.Plan) string {
	k := text.Key(group + "." + stateKey(p))
	args := text.Args{"part": c.part(p.Weeded)}
	if w := p.Next; w.Exists() {
		args["closes"], args["opens"], args["span"] = c.date(w.Closes), c.date(w.Opens), c.span(w)
		args["best"], args["days"], args["look"] = c.date(w.Best), c.days(w), c.date(w.AskOn)
	}
	end := p.Closure
	args["end"], args["why"], args["pull"] = c.date(end.LastToolDay), c.ends(p), c.date(end.PullUntil)
	return c.t(k, args)
}

// span writes the days of a window, or "" if there is no window.
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

// days writes the days of a window and the best of them.
func (p *speech) days(w engine.Window) string {
	if w.Opens == w.Closes {
		return p.span(w)
	}
	return p.t("day.best", text.Args{"span": p.span(w), "best": p.date(w.Best)})
}

// endKeys are the texts that say what ends the season of the tool.
var endKeys = map[engine.EndWhy]text.Key{
	engine.EndRowsClose: "end.rows", engine.EndPlantsBig: "end.plants", engine.EndSeen: "end.seen",
	engine.EndPanicle: "end.panicle",
}

// ends says what ends the season of the tool. It returns "" if the plot is weeded by hand or the grower closed the
// plot.
func (p *speech) ends(plan engine.Plan) string {
	k, ok := endKeys[plan.Closure.Why]
	if !ok {
		return ""
	}
	return p.t(k, nil)
}

// widest returns the width in cm of the widest tool that can go between the rows.
func (p *speech) widest(s engine.Season) text.Decimal {
	return number(s.Plot.RowSpacingCM - 2*engine.SideClearanceCM)
}

// stateKey returns the last part of the keys of the texts about the state of a plan, for example "open" in "next.open"
// and "short.open".
func stateKey(p engine.Plan) string {
	switch {
	case p.Weeded > 0 && p.State == engine.Missed:
		return "rest-missed"
	case p.Weeded > 0:
		return "rest"
	}
	if p.Fit.Hand() {
		return handKey(p)
	}
	switch p.State {
	case engine.TooEarly, engine.FollowUp:
		if !p.Next.Exists() {
			return "end-near"
		}
		switch {
		case p.Next.AsksLook():
			return "later-look"
		case p.Next.Guess():
			return "later-guess"
		}
		return "later"
	case engine.Prepare:
		switch {
		case p.Next.AsksLook():
			return "prepare-look"
		case p.Next.Guess():
			return "later-guess"
		}
		return "prepare"
	case engine.Open:
		return openKey(p)
	case engine.LastDays:
		if p.Next.SeenOn == p.On && p.Next.Closes == p.On {
			return "today"
		}
		return "last-days"
	case engine.Missed:
		if p.Next.SeenOn == 0 {
			return "missed-guess"
		}
		return "missed"
	}
	if p.Pulls() {
		return "closed-pull"
	}
	return "closed"
}

// openKey returns the name that the catalogue has for an open window that is not in its last days.
func openKey(p engine.Plan) string {
	switch w := p.Next; {
	case w.Why == engine.WhyAnchored:
		return "open-sown"
	case w.Guess():
		return "open-guess"
	case w.Best > p.On:
		return "open-best"
	}
	return "open"
}

// handKey returns the name that the catalogue has for the state of a plan if no tool can weed the plot.
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
