// Package notebook stores one grower's records in memory. It implements menu.Book for the proof of the menu, for the
// trainers' booklet and for tests. It stores what it is given and checks only plot numbers. It makes no decisions and
// imports only the engine.
package notebook

import (
	"maps"
	"slices"

	"rowbell/engine"
)

// Book has the records of one grower. The caller must make the map Seasons. A Book with only an empty map Seasons is an
// unknown phone number on day 0. Methods that change something change the Book itself. The only error that they return
// is engine.ErrNoPlot.
type Book struct {
	Day        engine.Day            // today
	Lang       string                // language tag; "": the grower has not chosen a language yet
	Registered bool                  // the grower has consented
	NoTexts    bool                  // the grower has sent STOP
	Unheard    bool                  // the grower has not called for so long that the menu asks who is calling
	WrongCodes int                   // number of wrong codes that were typed to take over the records of another number
	Seasons    map[int]engine.Season // open plots by number, 1 to 9
	Climate    engine.Weather
	Home       engine.Household
	Trouble    engine.Trouble // what the grower last said of the tool; 0: nothing
	PlaceNames []string
	Place      string // one of PlaceNames
	OpenTrial  *Trial // nil: no comparison of plots is running
	Circles    Circles
}

// Trial is a comparison of two plots, which are given by their numbers.
type Trial struct {
	A, B         int
	WayA, WayB   engine.TrialWay
	BagsA, BagsB float64 // harvest in bags; 0: the grower has not told the harvest
	Begun        engine.Day
}

const (
	// Code is the only code that TakeOver accepts, and the code that MoveCode returns.
	Code = "271828"

	maxPlots      = 9 // because the number of a plot must be one digit
	maxWrongCodes = 5
)

// Clone returns a copy. Changing the copy does not change the original, and changing the original does not change the
// copy.
func (n *Book) Clone() *Book {
	c := *n
	c.Seasons = maps.Clone(n.Seasons) // both books share the slices of passes and sightings: see edit
	return &c
}

func (n *Book) Today() engine.Day  { return n.Day }
func (n *Book) SaidOn() engine.Day { return n.Day }
func (n *Book) Known() bool        { return n.Registered }
func (n *Book) Language() string   { return n.Lang }
func (n *Book) Stopped() bool      { return n.NoTexts }

func (n *Book) Via(string) {}
func (n *Book) Consent(language, _, _ string) error {
	n.Registered, n.Lang, n.NoTexts = true, language, false
	return nil
}
func (n *Book) SetLanguage(l string) error { n.Lang = l; return nil }
func (n *Book) Stop() error                { n.NoTexts = true; return nil }
func (n *Book) Start() error               { n.NoTexts = false; return nil }

// StoredCounts returns invented counts: large ones, as after many years, if the grower has a plot; otherwise the
// smallest possible ones.
func (n *Book) StoredCounts() (plots, passes, texts int, err error) {
	if len(n.Seasons) == 0 {
		return 0, 0, 1, nil
	}
	return 180, 720, 2500, nil
}

func (n *Book) Erase() error {
	*n = Book{Day: n.Day, Climate: n.Climate, Seasons: map[int]engine.Season{}}
	return nil
}

func (n *Book) Silent() bool              { return n.Unheard }
func (n *Book) Confirm() error            { n.Unheard = false; return nil }
func (n *Book) Unlink() error             { return n.Erase() }
func (n *Book) MoveCode() (string, error) { return Code, nil }

func (n *Book) TakeOver(code string) (ok bool, left int, err error) {
	if n.WrongCodes < maxWrongCodes && code == Code {
		n.Registered = true
		return true, 0, nil
	}
	n.WrongCodes++
	return false, max(0, maxWrongCodes-n.WrongCodes), nil
}

func (n *Book) Places() ([]string, int, error) {
	return n.PlaceNames, slices.Index(n.PlaceNames, n.Place), nil
}
func (n *Book) SetPlace(name string) error { n.Place = name; return nil }

func (n *Book) Plots() ([]int, error) { return slices.Sorted(maps.Keys(n.Seasons)), nil }

func (n *Book) Season(no int) (engine.Season, error) {
	s, ok := n.Seasons[no]
	if !ok {
		return s, engine.ErrNoPlot
	}
	return s, nil
}

func (n *Book) AddPlot(p engine.Plot, t engine.Tool) (int, error) {
	for no := 1; no <= maxPlots; no++ {
		if _, taken := n.Seasons[no]; !taken {
			n.Seasons[no] = engine.Season{Plot: p, Tool: t, Weather: n.Climate, Since: n.Day}
			return no, nil
		}
	}
	return 0, engine.ErrNoPlot
}

// edit calls f with a copy of the season of plot no, and stores the copy if f returns no error. A clone of the book may
// have the same slices of passes and sightings, so the copy has its own. edit returns engine.ErrNoPlot if there is no
// such plot.
func (n *Book) edit(no int, f func(*engine.Season) error) error {
	s, ok := n.Seasons[no]
	if !ok {
		return engine.ErrNoPlot
	}
	s.Passes, s.Sightings = slices.Clone(s.Passes), slices.Clone(s.Sightings)
	if err := f(&s); err != nil {
		return err
	}
	n.Seasons[no] = s
	return nil
}

func (n *Book) ChangePlot(no int, p engine.Plot, t engine.Tool) error {
	return n.edit(no, func(s *engine.Season) error { s.Plot, s.Tool = p, t; return nil })
}

func (n *Book) ClosePlot(no int) error {
	if _, ok := n.Seasons[no]; !ok {
		return engine.ErrNoPlot
	}
	delete(n.Seasons, no)
	return nil
}

func (n *Book) LogPass(no int, p engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error { s.Passes = put(s.Passes, p, passDay); return nil })
}

func (n *Book) AmendPass(no int, p engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error {
		if len(s.Passes) == 0 {
			return engine.ErrNoPlot
		}
		s.Passes[len(s.Passes)-1] = p
		return nil
	})
}

func (n *Book) UndoPass(no int) error {
	return n.edit(no, func(s *engine.Season) error {
		if len(s.Passes) == 0 {
			return engine.ErrNoPlot
		}
		s.Passes = s.Passes[:len(s.Passes)-1]
		return nil
	})
}

func (n *Book) See(no int, seen engine.Sighting) error {
	return n.edit(no, func(s *engine.Season) error { s.Sightings = put(s.Sightings, seen, lookDay); return nil })
}

func passDay(p engine.Pass) engine.Day     { return p.On }
func lookDay(x engine.Sighting) engine.Day { return x.On }

// put inserts x into a list that is in order of day, after the others of its day.
func put[T any](list []T, x T, on func(T) engine.Day) []T {
	i := len(list)
	for i > 0 && on(list[i-1]) > on(x) {
		i--
	}
	return slices.Insert(list, i, x)
}

// take removes x from the list. take returns engine.ErrNoPlot if the list does not have x.
func take[T comparable](list *[]T, x T) error {
	i := slices.Index(*list, x)
	if i < 0 {
		return engine.ErrNoPlot
	}
	*list = slices.Delete(*list, i, i+1)
	return nil
}

// replace puts now into the place of was. If the day stays, so does the place in the order of that day.
func replace[T comparable](list *[]T, was, now T, on func(T) engine.Day) error {
	if i := slices.Index(*list, was); i >= 0 && on(was) == on(now) {
		(*list)[i] = now
		return nil
	}
	if err := take(list, was); err != nil {
		return err
	}
	*list = put(*list, now, on)
	return nil
}

func (n *Book) CorrectPass(no int, was, now engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error { return replace(&s.Passes, was, now, passDay) })
}

func (n *Book) RemovePass(no int, was engine.Pass) error {
	return n.edit(no, func(s *engine.Season) error { return take(&s.Passes, was) })
}

func (n *Book) CorrectSighting(no int, was, now engine.Sighting) error {
	return n.edit(no, func(s *engine.Season) error { return replace(&s.Sightings, was, now, lookDay) })
}

func (n *Book) RemoveSighting(no int, was engine.Sighting) error {
	return n.edit(no, func(s *engine.Season) error { return take(&s.Sightings, was) })
}

func (n *Book) Replant(no int, p engine.Plot) error {
	return n.edit(no, func(s *engine.Season) error {
		s.Plot, s.Since = p, n.Day
		s.Passes = slices.DeleteFunc(s.Passes, func(x engine.Pass) bool { return x.BeforePlanting(p.Planted) })
		s.Sightings = slices.DeleteFunc(s.Sightings, func(x engine.Sighting) bool {
			return x.BeforePlanting(p.Planted)
		})
		return nil
	})
}

func (n *Book) Household() (engine.Household, error) { return n.Home, nil }

func (n *Book) Weather() (engine.Weather, error) { return n.Climate, nil }

func (n *Book) SetHousehold(h engine.Household) error {
	n.Home = h
	for no, s := range n.Seasons {
		h.Herbicide = s.Home.Herbicide
		s.Home = h
		n.Seasons[no] = s
	}
	return nil
}

func (n *Book) TellHerbicide(no int, price float64) error {
	return n.edit(no, func(s *engine.Season) error { s.Home.Herbicide = price; return nil })
}

func (n *Book) TellTrouble(t engine.Trouble) error { n.Trouble = t; return nil }

func (n *Book) SplitPlot(no int, labelA, labelB string) (int, error) {
	s, ok := n.Seasons[no]
	if !ok {
		return 0, engine.ErrNoPlot
	}
	s.Plot.AreaM2 /= 2
	s.Plot.Label = labelA
	n.Seasons[no] = s
	s.Plot.Label = labelB
	b, err := n.AddPlot(s.Plot, s.Tool)
	if err == nil {
		n.Seasons[b] = s
	}
	return b, err
}

func (n *Book) StartTrial(a, b int, wayA, wayB engine.TrialWay) error {
	n.OpenTrial = &Trial{A: a, B: b, WayA: wayA, WayB: wayB, Begun: n.Day}
	return nil
}

func (n *Book) Trial() (engine.TrialRecord, bool, error) {
	if n.OpenTrial == nil {
		return engine.TrialRecord{}, false, nil
	}
	x := *n.OpenTrial
	return engine.TrialRecord{NoA: x.A, NoB: x.B, WasA: x.A, WasB: x.B, Trial: engine.Trial{Begun: x.Begun,
		A: engine.Half{Way: x.WayA, Season: n.Seasons[x.A], Bags: x.BagsA},
		B: engine.Half{Way: x.WayB, Season: n.Seasons[x.B], Bags: x.BagsB}}}, true, nil
}

func (n *Book) SetBags(a, b float64) error {
	x := *n.OpenTrial // a clone may have the same pointer, so the trial is copied before it is changed
	x.BagsA, x.BagsB = a, b
	n.OpenTrial = &x
	return nil
}

func (n *Book) EndTrial() error { n.OpenTrial = nil; return nil }
