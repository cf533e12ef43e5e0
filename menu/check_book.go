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
	plots   map[int]engine.Season
	weather engine.Weather
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

func (n *notebook) Consent(language, _, _ string) error {
	n.known, n.lang, n.stopped = true, language, false
	return nil
}
func (n *notebook) SetLanguage(l string) error { n.lang = l; return nil }
func (n *notebook) Stop() error                { n.stopped = true; return nil }
func (n *notebook) Start() error               { n.stopped = false; return nil }
func (n *notebook) Erase() error {
	*n = notebook{today: n.today, weather: n.weather, plots: map[int]engine.Season{}}
	return nil
}

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

// longLabel is as wide as a plot's name gets.
var longLabel = strings.Repeat("W", 10)

// notebooks are growers of every kind: unknown, without a plot, with one plot
// in each state, with all nine.
func notebooks(lang string) []*notebook {
	weather := engine.Steady(21, 31)
	today := engine.Date(2026, 11, 25) // a Wednesday: the longest name in most languages
	blank := notebook{today: today, weather: weather, plots: map[int]engine.Season{}}
	unknown := blank
	unknown.plots = map[int]engine.Season{}
	empty := blank
	empty.known, empty.lang, empty.plots = true, lang, map[int]engine.Season{}
	out := []*notebook{&unknown, &empty}
	with := func(n int, s engine.Season) {
		b := blank
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
	scattered := engine.Season{Plot: engine.Plot{Label: longLabel, Method: engine.Broadcast, Planted: today - 41, AreaM2: engine.MaxAreaM2}, Weather: weather, Since: today}
	with(5, scattered)
	sown := engine.Season{Plot: engine.Plot{Label: longLabel, Method: engine.RowSown, Planted: today - 20, RowSpacingCM: 22.5}, Weather: weather, Since: today}
	with(2, sown)
	stopped := out[len(out)-1].clone()
	stopped.stopped = true
	return append(out, stopped)
}
