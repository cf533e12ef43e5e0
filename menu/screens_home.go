package menu

import (
	"slices"
	"strconv"

	"rowbell/menu/text"
)

// homeScreens are the screens of the first contact, the home screen, and the screens about the grower rather than a
// plot: language, place, stopping texts, erasing the records.
func homeScreens() []Screen {
	return []Screen{
		{ID: sWelcome, Root: true, Head: func(c *scene) string { return c.t("welcome.head", nil) }, Ask: "welcome.ask",
			Choices: []Choice{
				{Label: "welcome.yes", Do: consent, To: ScreenHome},
				{Label: "welcome.no", To: "declined"},
				{Label: "welcome.language", If: severalLanguages, To: ScreenLanguage},
				{Label: "welcome.code", To: "number.type"},
			}},
		{ID: "declined", Last: true, Ask: "declined.text",
			Args: func(c *scene) text.Args { return text.Args{"code": c.m.opt.DialCode} }},
		{ID: ScreenHome, Root: true, Head: homeHead, Ask: "home.ask", Choices: []Choice{
			{Label: "home.new", To: "new.method"},
			{Label: "home.plots", Set: map[Field]string{fGoal: "plot", FieldPage: "0"}, To: "plots"},
			{Label: "home.weeded", Set: map[Field]string{fGoal: "pass", FieldPage: "0"}, To: "plots"},
			{Label: "home.see", Set: map[Field]string{fGoal: "see", FieldPage: "0"}, To: "plots"},
			{Label: "home.tools", To: "tools"},
			{Label: "home.more", To: "more"},
		}},
		{ID: "more", Rest: true, Ask: "more.ask", Choices: []Choice{
			{Label: "more.help", To: "help"},
			{Label: "more.number", To: "number"},
			// The text "stopped.text" says that 3 starts texts again, so what may be left out stands below.
			{Label: "more.stop", If: func(c *scene) bool { return !c.grower.Stopped() }, To: "stop"},
			{Label: "more.start", If: func(c *scene) bool { return c.grower.Stopped() }, Do: start,
				To: "started"},
			{Label: "more.erase", To: "erase"},
			{Label: "more.place", If: severalPlaces, To: "place"},
			{Label: "more.language", If: severalLanguages, To: ScreenLanguage},
		}},
		{ID: "place", Rest: true, Ask: "place.ask", List: placeList},
		{ID: ScreenFirstLanguage, When: severalLanguages, Else: sWelcome, Root: true, Ask: "language.first",
			List: languages},
		{ID: ScreenLanguage, List: languages},
		{ID: "stop", Ask: "stop.ask", Choices: []Choice{
			{Label: "stop.yes", Do: stop, To: "stopped"},
			{Label: "stop.no", To: ScreenHome},
		}},
		{ID: "stopped", Rest: true, Ask: "stopped.text"},
		{ID: "started", Rest: true, Ask: "started.text"},
		{ID: "erase", Ask: "erase.ask", Args: storedArgs, Choices: []Choice{
			{Label: "erase.yes", Do: erase, To: "erased"},
			{Label: "erase.no", To: ScreenHome},
		}},
		{ID: "erased", Last: true, Ask: "erased.text",
			Args: func(c *scene) text.Args { return text.Args{"code": c.m.opt.DialCode} }},
	}
}

// homeHead says what to do on the most urgent plot, because most growers call to learn that. An open question from a
// circle comes first; the plot then follows if there is room.
func homeHead(c *scene) string {
	if !hasQuestions(c) {
		return plotsHead(c)
	}
	asked := c.t("home.asked", text.Args{"name": c.called(c.person(c.openAsks()[0].From))})
	if both := stack(asked, plotsHead(c)); c.homeFits(both) {
		return both
	}
	return asked
}

// plotsHead says what to do on the most urgent plot.
func plotsHead(c *scene) string {
	if c.grower.Stopped() {
		return c.t("home.stopped", nil)
	}
	nos := c.openPlots()
	if len(nos) == 0 {
		return c.t("home.empty", nil)
	}
	best, at := "", -1
	for _, no := range nos {
		s, p := c.season(no)
		if u := urgency[p.State]; u > at {
			label := c.label(no, s.Plot)
			at, best = u, c.t("home.plot", text.Args{"plot": label, "next": c.next(p)})
			if !c.homeFits(best) {
				best = c.t("home.plot", text.Args{"plot": label, "next": c.short(p)})
			}
		}
	}
	return best
}

// homeFits reports whether at least the first choice ("1 new plot") fits on the same page below head. In UCS-2 a page
// has only 80 characters, so the choice may not fit.
func (c *scene) homeFits(head string) bool {
	return c.fits(stack(head, c.t("home.ask", nil), "1 "+c.t("home.new", nil), c.t("keys.more", nil)))
}

// consent stores the exact words that the grower agreed to: the words of the screen sWelcome without its choices.
func consent(c *scene) (*Refusal, error) {
	words := c.t("welcome.head", nil) + "\n" + c.t("welcome.ask", nil)
	if c.err != nil {
		return nil, c.err
	}
	if err := c.consents.Consent(c.lang, words, c.ch.String()); err != nil {
		return nil, err
	}
	c.send = append(c.send, Note{Kind: "welcome", Text: c.t("sms.welcome", text.Args{"code": c.m.opt.DialCode})})
	return nil, c.err
}

// storedArgs gives the numbers of plots, passes and texts that erasing will delete.
func storedArgs(c *scene) text.Args {
	plots, passes, texts, err := c.consents.StoredCounts()
	c.fail(err)
	return text.Args{"plots": strconv.Itoa(plots), "passes": strconv.Itoa(passes), "texts": strconv.Itoa(texts)}
}

func stop(c *scene) (*Refusal, error)  { return nil, c.consents.Stop() }
func start(c *scene) (*Refusal, error) { return nil, c.consents.Start() }
func erase(c *scene) (*Refusal, error) { return nil, c.consents.Erase() }

func severalLanguages(c *scene) bool { return len(c.cat.Languages()) > 1 }

// languages lists the offered languages, each by its own name, those of the grower's place first. After the choice the
// dialogue continues on the same screen, in the chosen language.
func languages(c *scene) []Choice {
	var out []Choice
	for _, l := range c.languageOrder() {
		out = append(out, Choice{Label: "language.name",
			Args: text.Args{"name": text.Verbatim(c.cat.Name(l))}, To: sBefore, Do: func(c *scene) (*Refusal, error) {
				c.s.Lang = l
				if !c.grower.Known() || c.numbers.Silent() { // store nothing without consent or for another person
					return nil, nil
				}
				return nil, c.grower.SetLanguage(l)
			}})
	}
	return out
}

// languageOrder returns the offered languages in the order of the list: those of the grower's place first. A grower who
// calls for the first time is at the first place.
func (c *scene) languageOrder() []string {
	order := c.cat.Languages()
	if len(c.m.opt.PlaceLanguages) == 0 {
		return order
	}
	names, own, err := c.places.Places()
	c.fail(err)
	if own < 0 || own >= len(names) {
		return order
	}
	first := c.m.opt.PlaceLanguages[names[own]]
	order = slices.DeleteFunc(order, func(lang string) bool { return slices.Contains(first, lang) })
	return slices.Concat(first, order)
}

// MaxPlaces is how many places one screen can list. Further places are not offered.
const MaxPlaces = 5

// UsualPlace is the name that the records have for the place of growers who have not chosen a place.
const UsualPlace = "default"

func severalPlaces(c *scene) bool {
	names, _, err := c.places.Places()
	c.fail(err)
	return len(names) > 1
}

// placeList offers each place of the operator, marks the grower's own, and stores the chosen one.
func placeList(c *scene) []Choice {
	names, own, err := c.places.Places()
	c.fail(err)
	var out []Choice
	for i, name := range names[:min(len(names), MaxPlaces)] {
		shown := name
		if name == UsualPlace {
			shown = c.t("place.usual", nil)
		}
		label := text.Key("place.name")
		if i == own {
			label = "place.own"
		}
		out = append(out, Choice{Label: label, Args: text.Args{"name": shown}, To: ScreenHome,
			Do: func(c *scene) (*Refusal, error) { return nil, c.places.SetPlace(name) }})
	}
	return out
}
