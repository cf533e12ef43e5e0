package menu

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// plotsPerPage is how many plots one page of the list shows. A choice "more" follows if there are further plots.
const plotsPerPage = 4

// plotScreens are the list of plots, the screens about one plot, and the screens that change or close a plot.
func plotScreens() []Screen {
	screens := []Screen{
		{ID: "plots", Rest: true, When: hasPlots, Else: "plots.none", Ask: "plots.ask", List: plotList,
			Shown: noteShown, Jump: onlyPlot},
		{ID: "plots.none", Rest: true, Ask: "plots.none", Choices: []Choice{
			{Label: "home.new", To: "new.method"},
			{Label: "plot.trial", If: hasTrial, To: "trial"},
		}},
		{ID: "plot", Rest: true, Head: plotHead, Choices: []Choice{
			{Label: "plot.weeded", To: "pass.when"},
			{Label: "plot.see", To: "see.leaves"},
			{Label: "plot.dates", To: "plot.dates"},
			{Label: "plot.water", To: "water"},
			{Label: "plot.work", To: "work"},
			{Label: "plot.manage", To: "plot.manage"},
		}},
		{ID: "plot.manage", Rest: true, Ask: "plot.manage-ask", Args: plotArgs, Choices: []Choice{
			{Label: "plot.change", To: "change"},
			{Label: "plot.tell", To: "tell"},
			{Label: "plot.so-far", To: "so-far"},
			{Label: "plot.trial", To: "trial"},
			{Label: "plot.close", To: "close"},
		}},
		{ID: "plot.dates", Rest: true, Head: datesHead,
			Choices: []Choice{{Label: "plot.other", To: "other"}}},
	}
	return slices.Concat(screens, changeScreens(), tellScreens(), []Screen{
		{ID: "close", Ask: "close.ask", Args: plotArgs, Choices: []Choice{
			{Label: "close.yes", Do: closePlot, To: "closed"},
			{Label: "close.no", To: "plot"},
		}},
		{ID: "closed", Rest: true, Head: closedHead, Choices: []Choice{
			{Label: "plot.trial", If: hasTrial, To: "trial"},
		}},
	}, changeQuestions())
}

const (
	fLabel  Field = "label"  // name of a plot that was closed
	fClosed Field = "closed" // number of the plot that was closed
	fSaid   Field = "said"   // a sentence that says what was done
	fSaidIn Field = "saidin" // language of fSaid; if the grower changes the language, the sentence is not shown
	fShown  Field = "shown"  // numbers of the plots that the list has shown
)

// goals maps each purpose in fGoal to the screen that comes after a plot was chosen for that purpose.
var goals = map[string]ScreenID{"plot": "plot", "pass": "pass.when", "see": "see.leaves", "again": "again"}

func shownPlots(list string) []int {
	var nos []int
	for f := range strings.FieldsSeq(list) {
		if no, err := strconv.Atoi(f); err == nil {
			nos = append(nos, no)
		}
	}
	return nos
}

// onlyPlot skips the list of plots if the grower has only one plot.
func onlyPlot(c *scene) (ScreenID, bool) {
	nos := c.openPlots()
	if len(nos) != 1 {
		return "", false
	}
	c.s.put(fPlot, strconv.Itoa(nos[0]))
	forget(c)
	return c.goal(), true
}

// goal returns the screen that comes after a plot was chosen.
func (c *scene) goal() ScreenID {
	if to := goals[c.s.Answers[fGoal]]; to != "" {
		return to
	}
	return "plot"
}

// noteShown stores the numbers of the plots that the list is about to show. A digit then means the plot that was shown
// beside the digit, even if another plot was closed before the grower answered.
func noteShown(c *scene) { c.s.put(fShown, strings.Trim(fmt.Sprint(c.openPlots()), "[]")) }

// plotList lists one page of plots.
func plotList(c *scene) []Choice {
	open := c.openPlots()
	nos := open
	if shown, ok := c.s.Answers[fShown]; c.entering && ok { // fShown is missing in a dialled path: no list was shown
		nos = shownPlots(shown)
	}
	page, from, end := c.listPage(len(nos))
	var out []Choice
	for _, no := range nos[from:end] {
		line := Choice{Label: "plots.line", Set: map[Field]string{fPlot: strconv.Itoa(no)},
			To: c.goal(), Prep: func(c *scene) *Refusal {
				if !slices.Contains(open, no) {
					return &Refusal{Key: "refuse.plot-gone"}
				}
				forget(c)
				return nil
			}}
		if !c.entering {
			s, p := c.season(no)
			line.Args = text.Args{"plot": c.label(no, s.Plot), "short": c.short(p)}
		}
		out = append(out, line)
	}
	return c.withMore(out, end < len(nos), page, "plots")
}

// listPage returns the shown page of a list of n plots, and the page's bounds. If the list has become too short for
// that page, listPage returns the first page.
func (c *scene) listPage(n int) (page, from, end int) {
	page = c.s.int(FieldPage)
	from = page * plotsPerPage
	if from < 0 || from >= n {
		from, page = 0, 0
	}
	return page, from, min(from+plotsPerPage, n)
}

// withMore adds the choice "more", which shows the next page, to a page of plots if more is true. id is the screen that
// shows the list.
func (c *scene) withMore(list []Choice, more bool, page int, id ScreenID) []Choice {
	if !more {
		return list
	}
	return append(list, Choice{Label: "plots.more",
		Set: map[Field]string{FieldPage: strconv.Itoa(page + 1)}, To: id})
}

// forget deletes all answers except the chosen plot, the purpose and the page of the list, because the other answers
// may be about another plot.
func forget(c *scene) {
	a := c.s.Answers
	c.s.Answers = map[Field]string{fPlot: a[fPlot], fGoal: a[fGoal], FieldPage: a[FieldPage]}
}

func hasPlots(c *scene) bool { return len(c.openPlots()) > 0 }

func plotArgs(c *scene) text.Args {
	return text.Args{"plot": c.label(c.s.int(fPlot), c.plot().Plot)}
}

func plotHead(c *scene) string {
	name, s, p := c.thisPlot()
	age := int(c.today() - s.Plot.Planted)
	if age < 0 {
		return c.t("plot.head-ahead", text.Args{"plot": name, "next": c.next(p)})
	}
	return c.t("plot.head", text.Args{"plot": name, "day": age, "next": c.next(p)})
}

// datesHead shows the dates of a plot: the planting day, this window, the next window, and the last day on which the
// tool can be used.
func datesHead(c *scene) string {
	s, p := c.fullPlan()
	args := text.Args{"planted": c.plantedOn(s.Plot),
		"end": c.date(p.Closure.LastToolDay), "why": c.ends(p), "next": c.next(p)}
	if p.Fit.Hand() {
		return c.t("plot.dates-hand", args)
	}
	if !p.Next.Exists() { // then next says what ends the season of the tool
		return c.t("plot.dates-over", args)
	}
	if len(p.Later) > 0 {
		args["later"] = c.date(p.Later[0].Best)
		return c.t("plot.dates-later", args)
	}
	return c.t("plot.dates-text", args)
}

// plantedOn says the planting day with the date alone; a day to come also with its distance.
func (c *scene) plantedOn(p engine.Plot) string {
	date := text.Args{"date": c.date(p.Planted)}
	switch {
	case p.Planted > c.today():
		return c.planted(p.Method, p.Planted)
	case p.Method == engine.Transplanted:
		return c.t("word.planted-on", date)
	}
	return c.t("word.sown-on", date)
}

// closePlot closes the plot. Before that, it stores the summary of the season in the session, because the records of a
// closed plot can no longer be read.
func closePlot(c *scene) (*Refusal, error) {
	no := c.s.int(fPlot)
	s, err := c.plots.Season(no)
	if err != nil {
		return nil, err
	}
	label := c.label(no, s.Plot)
	c.s.Answers = map[Field]string{fClosed: strconv.Itoa(no), fLabel: s.Plot.Label, fSaid: c.summary(label, s),
		fSaidIn: c.lang}
	return nil, c.plots.ClosePlot(no)
}

func closedHead(c *scene) string {
	label := c.label(c.s.int(fClosed), engine.Plot{Label: c.s.Answers[fLabel]})
	return strings.TrimSpace(c.t("closed.head", text.Args{"plot": label}) + " " + c.said())
}

// urgency orders plots for the home screen, which shows the plot with the highest number first.
var urgency = map[engine.State]int{engine.LastDays: 5, engine.Open: 4, engine.Missed: 3, engine.Prepare: 2,
	engine.TooEarly: 1, engine.FollowUp: 1}
