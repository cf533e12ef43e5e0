package menu

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

var errRecords = errors.New("the records cannot be read")

// failing is a book in which one call returns errRecords. failAt is the number of that call, counted from 1; if it is
// 0, no call fails.
type failing struct {
	*notebook.Book
	calls, failAt int
	failed        string   // name of the method that failed
	written       []string // names of the methods that were called and that change records
}

func (f *failing) do(method string, call func() error) error {
	reads := []string{"Plots", "Season", "Household", "Weather", "Places", "StoredCounts", "Trial"}
	if !slices.Contains(reads, method) {
		f.written = append(f.written, method)
	}
	if f.calls++; f.calls == f.failAt {
		f.failed = method
		return errRecords
	}
	return call()
}

// got calls a method of the book through f.do, which counts the call and lets it fail if it is the call number failAt.
func got[T any](f *failing, method string, call func() (T, error)) (v T, err error) {
	err = f.do(method, func() (err error) { v, err = call(); return err })
	return v, err
}

func (f *failing) Plots() ([]int, error) { return got(f, "Plots", f.Book.Plots) }
func (f *failing) Season(no int) (engine.Season, error) {
	return got(f, "Season", func() (engine.Season, error) { return f.Book.Season(no) })
}
func (f *failing) Household() (engine.Household, error) { return got(f, "Household", f.Book.Household) }
func (f *failing) Weather() (engine.Weather, error)     { return got(f, "Weather", f.Book.Weather) }
func (f *failing) Places() (names []string, own int, err error) {
	err = f.do("Places", func() (err error) { names, own, err = f.Book.Places(); return err })
	return names, own, err
}
func (f *failing) StoredCounts() (plots, passes, texts int, err error) {
	err = f.do("StoredCounts", func() (err error) { plots, passes, texts, err = f.Book.StoredCounts(); return err })
	return plots, passes, texts, err
}
func (f *failing) Trial() (t engine.TrialRecord, ok bool, err error) {
	err = f.do("Trial", func() (err error) { t, ok, err = f.Book.Trial(); return err })
	return t, ok, err
}
func (f *failing) TakeOver(code string) (ok bool, left int, err error) {
	err = f.do("TakeOver", func() (err error) { ok, left, err = f.Book.TakeOver(code); return err })
	return ok, left, err
}
func (f *failing) AddPlot(p engine.Plot, t engine.Tool) (int, error) {
	return got(f, "AddPlot", func() (int, error) { return f.Book.AddPlot(p, t) })
}
func (f *failing) SplitPlot(no int, a, b string) (int, error) {
	return got(f, "SplitPlot", func() (int, error) { return f.Book.SplitPlot(no, a, b) })
}
func (f *failing) MoveCode() (string, error) { return got(f, "MoveCode", f.Book.MoveCode) }
func (f *failing) Consent(language, words, channel string) error {
	return f.do("Consent", func() error { return f.Book.Consent(language, words, channel) })
}
func (f *failing) SetLanguage(l string) error {
	return f.do("SetLanguage", func() error { return f.Book.SetLanguage(l) })
}
func (f *failing) SetPlace(name string) error {
	return f.do("SetPlace", func() error { return f.Book.SetPlace(name) })
}
func (f *failing) Stop() error    { return f.do("Stop", f.Book.Stop) }
func (f *failing) Start() error   { return f.do("Start", f.Book.Start) }
func (f *failing) Erase() error   { return f.do("Erase", f.Book.Erase) }
func (f *failing) Confirm() error { return f.do("Confirm", f.Book.Confirm) }
func (f *failing) Unlink() error  { return f.do("Unlink", f.Book.Unlink) }
func (f *failing) ChangePlot(no int, p engine.Plot, t engine.Tool) error {
	return f.do("ChangePlot", func() error { return f.Book.ChangePlot(no, p, t) })
}
func (f *failing) ClosePlot(no int) error {
	return f.do("ClosePlot", func() error { return f.Book.ClosePlot(no) })
}
func (f *failing) CorrectPass(no int, was, now engine.Pass) error {
	return f.do("CorrectPass", func() error { return f.Book.CorrectPass(no, was, now) })
}
func (f *failing) RemovePass(no int, was engine.Pass) error {
	return f.do("RemovePass", func() error { return f.Book.RemovePass(no, was) })
}
func (f *failing) CorrectSighting(no int, was, now engine.Sighting) error {
	return f.do("CorrectSighting", func() error { return f.Book.CorrectSighting(no, was, now) })
}
func (f *failing) RemoveSighting(no int, was engine.Sighting) error {
	return f.do("RemoveSighting", func() error { return f.Book.RemoveSighting(no, was) })
}
func (f *failing) Replant(no int, p engine.Plot) error {
	return f.do("Replant", func() error { return f.Book.Replant(no, p) })
}
func (f *failing) LogPass(no int, p engine.Pass) error {
	return f.do("LogPass", func() error { return f.Book.LogPass(no, p) })
}
func (f *failing) AmendPass(no int, p engine.Pass) error {
	return f.do("AmendPass", func() error { return f.Book.AmendPass(no, p) })
}
func (f *failing) UndoPass(no int) error {
	return f.do("UndoPass", func() error { return f.Book.UndoPass(no) })
}
func (f *failing) See(no int, s engine.Sighting) error {
	return f.do("See", func() error { return f.Book.See(no, s) })
}
func (f *failing) SetHousehold(h engine.Household) error {
	return f.do("SetHousehold", func() error { return f.Book.SetHousehold(h) })
}
func (f *failing) TellHerbicide(no int, price float64) error {
	return f.do("TellHerbicide", func() error { return f.Book.TellHerbicide(no, price) })
}
func (f *failing) TellTrouble(t engine.Trouble) error {
	return f.do("TellTrouble", func() error { return f.Book.TellTrouble(t) })
}
func (f *failing) StartTrial(a, b int, wayA, wayB engine.TrialWay) error {
	return f.do("StartTrial", func() error { return f.Book.StartTrial(a, b, wayA, wayB) })
}
func (f *failing) SetBags(a, b float64) error {
	return f.do("SetBags", func() error { return f.Book.SetBags(a, b) })
}
func (f *failing) EndTrial() error { return f.do("EndTrial", f.Book.EndTrial) }

// variedBooks returns growers who are so different that nearly every screen is shown to one of them.
func variedBooks() []*notebook.Book {
	stranger, empty, silent := newBook(), knownBook(), silentBook()
	stopped := knownBook()
	stopped.NoTexts = true
	plots := knownBook()
	plots.PlaceNames, plots.Place = []string{"default", "Upland"}, "default"
	local := engine.NewLocal()
	local.Prices = engine.Prices{Tool: 2400, LabourDay: 400}
	season := func(m engine.Method, age engine.Day, passes ...engine.Pass) engine.Season {
		s := engine.Season{Weather: plots.Climate, Since: wednesday - age, Local: &local,
			Tool:   engine.Tool{WidthCM: 15},
			Plot:   engine.Plot{Method: m, Planted: wednesday - age, RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 600},
			Passes: passes}
		if m == engine.Broadcast {
			s.Plot.RowSpacingCM, s.Plot.HillSpacingCM, s.Tool = 0, 0, engine.Tool{}
		}
		return s
	}
	weeded := engine.Pass{On: wednesday - 14, With: engine.ByTool, Hours: 5, People: 1, Left: engine.Few}
	plots.Seasons = map[int]engine.Season{
		1: season(engine.Transplanted, 45, weeded), 2: season(engine.Transplanted, 17), 3: season(engine.Broadcast, 20),
		4: season(engine.Transplanted, 16), 5: season(engine.RowSown, 20)}
	looked := plots.Seasons[1]
	looked.Sightings = []engine.Sighting{{On: wednesday - 15, Leaves: engine.TwoThree, Amount: engine.Some}}
	plots.Seasons[1] = looked
	bare := plots.Clone()
	s := bare.Seasons[2]
	s.Local, s.Plot.AreaM2 = nil, 0
	bare.Seasons = map[int]engine.Season{2: s}
	trial := plots.Clone()
	trial.OpenTrial = &notebook.Trial{A: 2, B: 4, WayA: engine.ToolThenHand, WayB: engine.HandOnly,
		Begun: wednesday - 10}
	return []*notebook.Book{stranger, empty, silent, stopped, plots, bare, trial}
}

// step is an entry of a dialogue, with the records and the state before it.
type step struct {
	book  *notebook.Book
	state []byte
	entry string
}

// everyStep walks through the menu as each grower of variedBooks. On each different screen it calls f once with each
// entry that is possible there. A screen with other options or about another plot counts as a different screen.
// everyStep returns the names of the screens that it reached.
func everyStep(m *Menu, f func(step)) map[ScreenID]bool {
	screens := map[ScreenID]bool{}
	for _, book := range variedBooks() {
		state, _, err := m.Dial(book.Clone(), USSD, nil, "")
		must(0, err)
		seen := map[string]bool{}
		for queue := []step{{book, state, ""}}; len(queue) > 0; queue = queue[1:] {
			at := queue[0]
			v := must(m.Inspect(at.book.Clone(), USSD, at.state))
			screens[v.Screen] = true
			face := fmt.Sprint(v.Screen, v.Options, v.Answers[fPlot], v.Answers[fGoal])
			if seen[face] {
				continue
			}
			seen[face] = true
			entries := slices.Clone(v.Samples)
			for _, o := range v.Options {
				entries = append(entries, string(o.Digit))
			}
			for _, e := range append(entries, BackKey) {
				f(step{at.book, at.state, e})
				next := step{book: at.book.Clone()}
				next.state, _, err = m.Enter(next.book, USSD, at.state, e)
				must(0, err)
				if next.state != nil {
					queue = append(queue, next)
				}
			}
		}
	}
	return screens
}

// TestRecordErrorsReachTheCaller lets each call to the records fail once, at every step of the menu. The step must
// return that error. The menu must not continue as if the plot had no rows or no area, or did not exist.
func TestRecordErrorsReachTheCaller(t *testing.T) {
	m := newMenu().CalculatedBy(new(notebook.WindowMemo).Of)
	swallowed, tested := map[string]int{}, map[string]bool{}
	eachCallFails := func(what string, book *notebook.Book, step func(Book) error) {
		counted := &failing{Book: book.Clone()}
		must(0, step(counted))
		for n := 1; n <= counted.calls; n++ {
			f := &failing{Book: book.Clone(), failAt: n}
			if err := step(f); !errors.Is(err, errRecords) {
				swallowed[what+": an error of "+f.failed]++
			}
		}
	}
	screens := everyStep(m, func(at step) {
		s := must(decodeSession(at.state))
		what := fmt.Sprintf("screen %s, entry %q", s.Screen, at.entry)
		kind := fmt.Sprint(what, s.Answers[fPlot], len(at.book.Seasons), at.book.NoTexts, at.book.OpenTrial != nil)
		if tested[kind] { // this entry was already tested, when the walk reached the screen in another way
			return
		}
		tested[kind] = true
		eachCallFails(what, at.book, func(b Book) error {
			_, _, err := m.Enter(b, USSD, at.state, at.entry)
			return err
		})
		if at.entry != BackKey { // for each screen, Dial and Text are tested only once, together with BackKey
			return
		}
		eachCallFails("dialled again on "+what, at.book, func(b Book) error {
			_, _, err := m.Dial(b, USSD, at.state, "")
			return err
		})
		eachCallFails("texted "+what, at.book, func(b Book) error {
			_, err := m.Text(b, Inbound{Text: at.entry, State: at.state})
			return err
		})
	})
	for _, plots := range []int{1, 2} {
		x := withPlots(t, plots)
		x.ring([]int{1, 2}[:plots]...)
		for _, e := range []string{"4", "2", "3", "1", "2", "3h2", "0", "STOP", "START"} {
			eachCallFails(fmt.Sprintf("%q to a reminder of %d plots", e, plots), x.b, func(b Book) error {
				_, err := m.Text(b, x.inbound(e))
				return err
			})
			if e != "3" && e != "STOP" { // after 3 or STOP no question is open that a digit could answer
				x.text(e)
			}
		}
	}
	for what, times := range swallowed {
		t.Errorf("%s is swallowed (%d times)", what, times)
	}
	if len(screens) < 150 {
		t.Errorf("only %d screens were reached", len(screens))
	}
}

// TestRenderingWritesNothing renders every screen and checks that this changes neither the session nor the records.
func TestRenderingWritesNothing(t *testing.T) {
	m := newMenu().CalculatedBy(new(notebook.WindowMemo).Of)
	wrote := map[ScreenID]bool{}
	everyStep(m, func(at step) {
		s := must(decodeSession(at.state))
		delete(s.Answers, fShown) // fShown is missing in a dialled path, because no list was shown
		book, before := &failing{Book: at.book}, fmt.Sprint(*s)
		c := m.scene(book, USSD, s)
		c.pages(nil)
		if fmt.Sprint(*s) != before || len(book.written) > 0 || c.err != nil {
			wrote[s.Screen] = true
		}
	})
	for id := range wrote {
		t.Errorf("drawing %s changes the dialogue", id)
	}
}
