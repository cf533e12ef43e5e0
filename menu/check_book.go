package menu

import (
	"maps"
	"slices"
	"strings"

	"rowbell/engine"
)

// notebook is a Book in memory: what the proof walks the menu with.
type notebook struct {
	today   engine.Day
	lang    string
	known   bool
	stopped bool
	silent  bool
	wrong   int    // codes typed
	branch  string // digits to follow from home, "" = all: what is the same for every grower is walked for one
	plots   map[int]engine.Season
	weather engine.Weather
	home    engine.Household
	places  []string
	place   string
	trial   *trialNote
}

// trialNote is a trial in a notebook: plots by number.
type trialNote struct {
	a, b         int
	wayA, wayB   engine.TrialWay
	bagsA, bagsB float64
	begun        engine.Day
}

func (n *notebook) clone() *notebook {
	c := *n
	c.plots = map[int]engine.Season{}
	for no, s := range n.plots {
		s.Passes, s.Sightings = slices.Clone(s.Passes), slices.Clone(s.Sightings)
		c.plots[no] = s
	}
	return &c
}

func (n *notebook) Today() engine.Day { return n.today }
func (n *notebook) Known() bool       { return n.known }
func (n *notebook) Language() string  { return n.lang }
func (n *notebook) Stopped() bool     { return n.stopped }

func (n *notebook) Via(string) {}
func (n *notebook) Consent(language, _, _ string) error {
	n.known, n.lang, n.stopped = true, language, false
	return nil
}
func (n *notebook) SetLanguage(l string) error { n.lang = l; return nil }
func (n *notebook) Stop() error                { n.stopped = true; return nil }
func (n *notebook) Start() error               { n.stopped = false; return nil }

// Kept is as much as many years leave, where there is anything.
func (n *notebook) Kept() (plots, passes, texts int, err error) {
	if len(n.plots) == 0 {
		return 0, 0, 1, nil
	}
	return 180, 720, 2500, nil
}

func (n *notebook) Erase() error {
	*n = notebook{today: n.today, weather: n.weather, plots: map[int]engine.Season{}}
	return nil
}

// noteCode is the code with which a notebook's records move.
const noteCode = "271828"

func (n *notebook) Silent() bool              { return n.silent }
func (n *notebook) Confirm() error            { n.silent = false; return nil }
func (n *notebook) Unlink() error             { return n.Erase() }
func (n *notebook) MoveCode() (string, error) { return noteCode, nil }

func (n *notebook) TakeOver(code string) (ok bool, left int, err error) {
	if n.wrong < 5 && code == noteCode {
		n.known = true
		return true, 0, nil
	}
	n.wrong++
	return false, max(0, 5-n.wrong), nil
}

func (n *notebook) Places() ([]string, int, error) {
	return n.places, slices.Index(n.places, n.place), nil
}
func (n *notebook) SetPlace(name string) error { n.place = name; return nil }

func (n *notebook) Plots() ([]int, error) { return slices.Sorted(maps.Keys(n.plots)), nil }

func (n *notebook) Season(no int) (engine.Season, error) {
	s, ok := n.plots[no]
	if !ok {
		return s, ErrNoPlot
	}
	return s, nil
}

func (n *notebook) AddPlot(p engine.Plot, t engine.Tool) (int, error) {
	for no := 1; no <= MaxPlots; no++ {
		if _, taken := n.plots[no]; !taken {
			n.plots[no] = engine.Season{Plot: p, Tool: t, Weather: n.weather, Since: n.today}
			return no, nil
		}
	}
	return 0, ErrNoPlot
}

// edit changes a plot that must exist.
func (n *notebook) edit(no int, f func(*engine.Season) error) error {
	s, ok := n.plots[no]
	if !ok {
		return ErrNoPlot
	}
	if err := f(&s); err != nil {
		return err
	}
	n.plots[no] = s
	return nil
}

func (n *notebook) ChangePlot(no int, p engine.Plot, t engine.Tool) error {
	return n.edit(no, func(s *engine.Season) error { s.Plot, s.Tool = p, t; return nil })
}

func (n *notebook) ClosePlot(no int) error {
	if _, ok := n.plots[no]; !ok {
		return ErrNoPlot
	}
	delete(n.plots, no)
	return nil
}

func (n *notebook) LogPass(no int, p engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error { s.Passes = append(s.Passes, p); return nil })
}

func (n *notebook) AmendPass(no int, p engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error {
		if len(s.Passes) == 0 {
			return ErrNoPlot
		}
		s.Passes[len(s.Passes)-1] = p
		return nil
	})
}

func (n *notebook) UndoPass(no int) error {
	return n.edit(no, func(s *engine.Season) error {
		if len(s.Passes) == 0 {
			return ErrNoPlot
		}
		s.Passes = s.Passes[:len(s.Passes)-1]
		return nil
	})
}

func (n *notebook) See(no int, seen engine.Sighting) error {
	return n.edit(no, func(s *engine.Season) error { s.Sightings = append(s.Sightings, seen); return nil })
}

func (n *notebook) Household() (engine.Household, error) { return n.home, nil }

func (n *notebook) Weather() (engine.Weather, error) { return n.weather, nil }

func (n *notebook) SetHousehold(h engine.Household) error {
	n.home = h
	for no, s := range n.plots {
		h.Herbicide = s.Home.Herbicide
		s.Home = h
		n.plots[no] = s
	}
	return nil
}

func (n *notebook) TellHerbicide(no int, price float64) error {
	return n.edit(no, func(s *engine.Season) error { s.Home.Herbicide = price; return nil })
}

func (n *notebook) SplitPlot(no int, labelA, labelB string) (int, error) {
	s, ok := n.plots[no]
	if !ok {
		return 0, ErrNoPlot
	}
	s.Plot.AreaM2 /= 2
	s.Plot.Label = labelA
	n.plots[no] = s
	s.Plot.Label = labelB
	b, err := n.AddPlot(s.Plot, s.Tool)
	if err == nil {
		n.plots[b] = s
	}
	return b, err
}

func (n *notebook) StartTrial(a, b int, wayA, wayB engine.TrialWay) error {
	n.trial = &trialNote{a: a, b: b, wayA: wayA, wayB: wayB, begun: n.today}
	return nil
}

func (n *notebook) Trial() (engine.TrialRecord, bool, error) {
	if n.trial == nil {
		return engine.TrialRecord{}, false, nil
	}
	x := *n.trial
	return engine.TrialRecord{NoA: x.a, NoB: x.b, WasA: x.a, WasB: x.b, Trial: engine.Trial{Begun: x.begun,
		A: engine.Half{Way: x.wayA, Season: n.plots[x.a], Bags: x.bagsA},
		B: engine.Half{Way: x.wayB, Season: n.plots[x.b], Bags: x.bagsB}}}, true, nil
}

func (n *notebook) SetBags(a, b float64) error {
	x := *n.trial // notebooks share it
	x.bagsA, x.bagsB = a, b
	n.trial = &x
	return nil
}

func (n *notebook) EndTrial() error { n.trial = nil; return nil }

// longLabel is as wide as a plot's name gets.
var longLabel = strings.Repeat("W", 10)

// notebooks are growers of every kind: unknown, without a plot, with one plot
// in each state, with all nine.
func notebooks(lang string) []*notebook {
	weather := engine.Steady(21, 31)
	today := engine.Date(2026, 11, 25) // a Wednesday: the longest name in most languages
	blank := notebook{today: today, weather: weather, plots: map[int]engine.Season{}}
	blank.places, blank.place = slices.Repeat([]string{longLabel}, maxPlaces), longLabel
	unknown := blank
	unknown.plots = map[int]engine.Season{}
	empty := blank
	empty.known, empty.lang, empty.plots = true, lang, map[int]engine.Season{}
	unknown.branch = "1"
	blocked := unknown
	blocked.plots, blocked.wrong = map[int]engine.Season{}, 4
	silent := empty
	blocked.branch, silent.branch = "-", "-"
	silent.plots, silent.silent = map[int]engine.Season{}, true
	out := []*notebook{&unknown, &empty, &blocked, &silent}
	with := func(n int, s engine.Season) {
		b := blank
		b.branch = "234"
		if n == MaxPlots {
			b.branch = "1234"
		}
		b.known, b.lang, b.plots = true, lang, map[int]engine.Season{}
		for no := 1; no <= n; no++ {
			b.plots[no] = s
		}
		out = append(out, &b)
	}
	lines := engine.Plot{Label: longLabel, Method: engine.Transplanted, RowSpacingCM: 22.5, HillSpacingCM: 22.5, AreaM2: engine.MaxAreaM2}
	for _, age := range []engine.Day{0, 13, 16, 21, 30, 44, 60} {
		s := engine.Season{Plot: lines, Tool: engine.Tool{WidthCM: 17.5}, Weather: weather, Since: today}
		s.Plot.Planted = today - age
		with(1, s)
		if age == 21 {
			s.Passes = []engine.Pass{{On: today - 5, With: engine.ByTool}}
			with(1, s)
			with(MaxPlots, s)
			s.Tool = engine.Tool{WidthCM: 22.5}
			with(1, s)
		}
	}
	priced := engine.Season{Plot: lines, Tool: engine.Tool{WidthCM: 17.5}, Weather: weather, Since: today, Local: pricedPlace(), Home: engine.Household{Herbicide: 987_654_321}}
	priced.Plot.Planted = today - 16
	with(1, priced)
	out[len(out)-1].home = priced.Home
	scattered := engine.Season{Plot: engine.Plot{Label: longLabel, Method: engine.Broadcast, Planted: today - 41, AreaM2: engine.MaxAreaM2}, Weather: weather, Since: today}
	with(5, scattered)
	sown := engine.Season{Plot: engine.Plot{Label: longLabel, Method: engine.RowSown, Planted: today - 20, RowSpacingCM: 22.5}, Weather: weather, Since: today}
	with(2, sown)
	// A trial with all that can be told of it.
	weeded := engine.Season{Plot: lines, Tool: engine.Tool{WidthCM: 17.5}, Weather: weather, Since: today}
	weeded.Plot.Planted = today - 70
	weeded.Plot.AreaM2 = 100
	for d := range engine.Day(4) {
		weeded.Passes = append(weeded.Passes, engine.Pass{On: today - 55 + 10*d, With: engine.ByTool, Hours: 499, People: 50, Left: engine.Some})
	}
	with(2, weeded)
	trial := out[len(out)-1]
	trial.trial = &trialNote{a: 1, b: 2, wayA: engine.ToolThenHand, wayB: engine.ToolBoth, bagsA: 12, bagsB: 12, begun: today - 60}
	// The shortest values: nothing told that need not be.
	short := blank
	short.known, short.lang, short.places, short.place = true, lang, nil, ""
	bare := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: today - 16, RowSpacingCM: 20, HillSpacingCM: 20}, Weather: weather, Since: today}
	short.plots = map[int]engine.Season{1: bare}
	out = append(out, &short)
	stopped := trial.clone()
	stopped.stopped, stopped.branch = true, "6"
	return append(out, stopped)
}

// pricedPlace is a place where every way of weeding has its price, with as many
// digits as money has.
func pricedPlace() *engine.Local {
	l := engine.NewLocal()
	l.Prices = engine.Prices{Currency: strings.Repeat("W", engine.MaxCurrency), Tool: 98_765_432, InterestYear: 0.24, HireDay: 1_234_567, ServiceHa: 23_456_789, LabourDay: 1_234_567}
	return &l
}

// pathBooks are who a plot is registered for when the way there is measured:
// growers who are known, with a plot in each state or none, and a stranger.
func pathBooks(lang string) (known []*notebook, unknown *notebook) {
	for _, b := range notebooks(lang) {
		if b.known && !b.silent && len(b.plots) < MaxPlots {
			b.branch = "1"
			known = append(known, b)
		}
	}
	return known, notebooks(lang)[0]
}
