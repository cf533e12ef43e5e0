package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

const (
	fOther Field = "other" // number of the other plot of a trial; 0 if the trial is on two halves of one plot
	fWayA  Field = "waya"
	fWayB  Field = "wayb"
	fBagsA Field = "bagsa"
	fBagsB Field = "bagsb"
)

// trialScreens compare two ways of weeding on two plots, or on the two halves of one plot.
func trialScreens() []Screen {
	screens := []Screen{
		{ID: "trial", Rest: true, When: noTrial, Else: "trial.standing", Ask: "trial.where", Jump: noRowsToCompare,
			Choices: []Choice{
				{Label: "trial.halves", If: canHalve, Set: map[Field]string{fOther: "0"},
					To: "trial.way-a"},
				{Label: "trial.other", If: severalPlots, Set: map[Field]string{FieldPage: "0"},
					To: "trial.which"},
			}},
		{ID: "trial.which", Ask: "trial.which", List: otherPlots},
		{ID: "trial.no-rows", Rest: true, Ask: "trial.no-rows"},
	}
	for _, half := range []struct {
		id    ScreenID
		field Field
		do    Act
		to    ScreenID
	}{{"trial.way-a", fWayA, nil, "trial.way-b"}, {"trial.way-b", fWayB, startTrial, "trial.begun"}} {
		second := half.field == fWayB
		way := func(w engine.TrialWay) map[Field]string { return map[Field]string{half.field: strconv.Itoa(int(w))} }
		inLines := func(c *scene) bool { return c.half(second).Plot.Method != engine.Broadcast }
		screens = append(screens, Screen{ID: half.id, Ask: "trial.way-ask", Args: trialHalf(second), Choices: []Choice{
			{Label: "trial.way.along", If: inLines, Set: way(engine.ToolAlong), Do: half.do, To: half.to},
			{Label: "trial.way.both", If: func(c *scene) bool { return c.half(second).Plot.Square() },
				Set: way(engine.ToolBoth), Do: half.do, To: half.to},
			{Label: "trial.way.then-hand", If: inLines, Set: way(engine.ToolThenHand), Do: half.do,
				To: half.to},
			{Label: "trial.way.hand", Set: way(engine.HandOnly), Do: half.do, To: half.to},
		}})
	}
	return append(screens,
		Screen{ID: "trial.begun", Rest: true, Ask: "trial.begun", Args: trialArgs},
		Screen{ID: "trial.standing", Rest: true, Ask: "trial.standing", Args: trialArgs, Choices: []Choice{
			{Label: "trial.compare", To: "trial.result"},
			{Label: "trial.bags", To: "trial.bags-a"},
			{Label: "trial.end", To: "trial.end"},
		}},
		Screen{ID: "trial.result", Rest: true, Head: trialResult},
		Screen{ID: "trial.bags-a", Ask: "trial.bags-ask",
			Args:  func(c *scene) text.Args { return text.Args{"plot": c.trialName(0)} },
			Typed: &Typed{Read: readNumber(fBagsA, answer.Bags), To: "trial.bags-b", Samples: []string{"12", "7.5"}}},
		Screen{ID: "trial.bags-b", Ask: "trial.bags-ask",
			Args: func(c *scene) text.Args { return text.Args{"plot": c.trialName(1)} },
			Typed: &Typed{Read: readNumber(fBagsB, answer.Bags), Do: setBags, To: "trial.result",
				Samples: []string{"12", "7.5"}}},
		Screen{ID: "trial.end", Ask: "trial.end-ask", Choices: []Choice{
			{Label: "word.yes", Do: endTrial, To: "trial.ended"},
			{Label: "word.no", To: "trial.standing"},
		}},
		Screen{ID: "trial.ended", Rest: true, Ask: "trial.ended"},
	)
}

// trial reads the trial that is running. trial returns false if there is none.
func (c *scene) trial() (engine.TrialRecord, bool) {
	t, ok, err := c.trials.Trial()
	c.fail(err)
	return t, ok && err == nil
}

func noTrial(c *scene) bool { _, ok := c.trial(); return !ok }

func hasTrial(c *scene) bool { return !noTrial(c) }

func canHalve(c *scene) bool { return !c.full() }

// noRowsToCompare shows a screen that explains the reason instead of the trial's questions if the rice is scattered
// (engine.Broadcast). Without rows, a plot can be weeded in one way only, so there is nothing to compare.
func noRowsToCompare(c *scene) (ScreenID, bool) {
	return "trial.no-rows", c.half(false).Plot.Method == engine.Broadcast
}

func severalPlots(c *scene) bool { return len(c.comparable()) > 0 }

// comparable returns the numbers of the grower's other open plots that are so similar to this plot that a trial can
// compare them (engine.Compared).
func (c *scene) comparable() []int {
	return slices.DeleteFunc(c.openPlots(), func(no int) bool {
		return no == c.s.int(fPlot) || engine.Compared(c.half(false).Plot, c.plotNo(no).Plot) != engine.Alike
	})
}

// otherPlots lists the plots that can be compared with this plot, one page at a time.
func otherPlots(c *scene) []Choice {
	others := c.comparable()
	page, from, end := c.listPage(len(others))
	var out []Choice
	for _, no := range others[from:end] {
		out = append(out, Choice{Label: "trial.name", To: "trial.way-a",
			Args: text.Args{"plot": c.label(no, c.plotNo(no).Plot)}, Set: map[Field]string{fOther: strconv.Itoa(no)}})
	}
	return c.withMore(out, end < len(others), page, "trial.which")
}

// half reads the season of the first or the second plot of a trial. In a trial on two halves of one plot, this plot is
// both.
func (c *scene) half(second bool) engine.Season { return c.plotNo(c.halfNo(second)) }

func (c *scene) halfNo(second bool) int {
	if other := c.s.int(fOther); second && other != 0 {
		return other
	}
	return c.s.int(fPlot)
}

// trialHalf makes the Args of a question about one half of a trial: the name that this half has or will get.
func trialHalf(second bool) func(*scene) text.Args {
	return func(c *scene) text.Args {
		no := c.halfNo(second)
		plot := c.plotNo(no).Plot
		name := c.label(no, plot)
		if c.s.int(fOther) == 0 {
			a, b := c.halves(no, plot)
			if name = a; second {
				name = b
			}
		}
		return text.Args{"plot": name}
	}
}

// halves returns the names of a plot's two halves: the plot's name with " A" or " B" after it. A name that is too long
// is cut. If the plot has no name and its usual label ("Parcelle 2") is too long, the number alone is used, because the
// cut could remove the number.
func (c *scene) halves(no int, plot engine.Plot) (a, b string) {
	name := c.label(no, plot)
	if cut := cutName(name, answer.MaxName-len(" A")); cut != name {
		name = cut
		if plot.Label == "" {
			name = strconv.Itoa(no)
		}
	}
	return name + " A", name + " B"
}

func startTrial(c *scene) (*Refusal, error) {
	no, other := c.s.int(fPlot), c.s.int(fOther)
	a, b := engine.TrialWay(c.s.int(fWayA)), engine.TrialWay(c.s.int(fWayB))
	if a == b {
		return &Refusal{Key: "refuse.same-way"}, nil
	}
	if _, running := c.trial(); running {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	if other == 0 {
		s, err := c.plots.Season(no)
		if err != nil {
			return nil, err
		}
		nameA, nameB := c.halves(no, s.Plot)
		for _, name := range []string{nameA, nameB} {
			if refused := c.nameTaken(name); refused != nil {
				return refused, nil
			}
		}
		if other, err = c.trials.SplitPlot(no, nameA, nameB); err != nil {
			return nil, err
		}
	}
	return nil, c.trials.StartTrial(no, other, a, b)
}

// ofTrial reports whether a prompt is about both halves of the trial. For such a prompt no hours are stored, because
// one number for both halves would hide the difference between the two ways.
func (c *scene) ofTrial(p prompt) bool {
	if len(p.Plots) < 2 {
		return false
	}
	t, ok := c.trial()
	return ok && slices.ContainsFunc(p.Plots, func(u subject) bool { return u.No == t.NoA }) &&
		slices.ContainsFunc(p.Plots, func(u subject) bool { return u.No == t.NoB })
}

// byTrialWay completes a pass that the grower logged with one digit. If the plot is part of the trial, the pass gets
// the way of weeding that the trial has for this plot.
func (c *scene) byTrialWay(no int, p engine.Pass) engine.Pass {
	t, ok := c.trial()
	if !ok {
		return p
	}
	way := t.A.Way
	switch no {
	case t.NoA:
	case t.NoB:
		way = t.B.Way
	default:
		return p
	}
	switch {
	case way == engine.HandOnly:
		p.With = engine.ByHand
	case p.With == engine.ByTool && way == engine.ToolBoth:
		p.Way = engine.Both
	case p.With == engine.ByTool:
		p.Way = engine.Along
	}
	return p
}

var trialWayKeys = map[engine.TrialWay]text.Key{engine.ToolAlong: "trial.way.along", engine.ToolBoth: "trial.way.both",
	engine.ToolThenHand: "trial.way.then-hand", engine.HandOnly: "trial.way.hand"}

// trialName returns the name of one half of the trial: half is 0 for A and 1 for B. It returns "" if no trial is
// running.
func (c *scene) trialName(half int) string {
	t, ok := c.trial()
	if !ok {
		return ""
	}
	h, no := t.A, t.WasA
	if half == 1 {
		h, no = t.B, t.WasB
	}
	return c.label(no, h.Season.Plot)
}

// trialArgs gives, for each half of the trial, the name, the way of weeding, the number of logged passes, and the
// logged hours per hectare ("?" if no hours are known).
func trialArgs(c *scene) text.Args {
	args := text.Args{}
	t, ok := c.trial()
	r := t.Compare(c.today())
	for _, x := range []struct {
		half   string
		name   string
		way    engine.TrialWay
		logged engine.Side
	}{{"a", c.trialName(0), t.A.Way, r.A}, {"b", c.trialName(1), t.B.Way, r.B}} {
		args[x.half], args["way_"+x.half] = x.name, ""
		if ok {
			args["way_"+x.half] = c.t(trialWayKeys[x.way], nil)
		}
		args["times_"+x.half], args["hours_"+x.half] = x.logged.Passes, "?"
		if x.logged.HoursPerHa > 0 {
			args["hours_"+x.half] = whole(x.logged.HoursPerHa)
		}
	}
	return args
}

// trialResult says in what the two halves differed and where the difference is too small to judge. trialResult never
// says why they differed.
func trialResult(c *scene) string {
	t, ok := c.trial()
	if !ok {
		return ""
	}
	r := t.Compare(c.today())
	if r.Unlike != engine.Alike {
		return c.t("trial.unlike", nil)
	}
	a, b := c.trialName(0), c.trialName(1)
	line := func(k text.Key, w engine.Which, less, more string) string {
		switch w {
		case engine.AIsLess:
			return c.t(k+".differs", text.Args{"plot": less})
		case engine.BIsLess:
			return c.t(k+".differs", text.Args{"plot": more})
		case engine.CloseToTell:
			return c.t(k+".close", nil)
		}
		return c.t(k+".untold", nil)
	}
	return line("trial.hours", r.Hours, a, b) + " " + line("trial.left", r.Left, a, b) + " " +
		// a and b are swapped, because for the harvest the text must name the half with more bags
		line("trial.harvest", r.Harvest, b, a) + " " + c.t("trial.no-proof", nil)
}

func setBags(c *scene) (*Refusal, error) {
	return nil, c.trials.SetBags(c.s.float(fBagsA), c.s.float(fBagsB))
}

func endTrial(c *scene) (*Refusal, error) { return nil, c.trials.EndTrial() }
