package store

import (
	"errors"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

func TestHouseholdIsKept(t *testing.T) {
	s := open(t)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		h, err := l.Household()
		equal(t, h, engine.Household{}, "household of nobody")
		wantErr(t, l.SetHousehold(engine.Household{People: 2}), ErrUnknown, "of nobody")
		return err
	})
	withPlot(t, s, ana, ben)
	var full engine.Household
	fillFields(reflect.ValueOf(&full).Elem())
	full.Herbicide = 0 // stored with a plot, see TestHerbicideIsOfAPlot
	for _, want := range []engine.Household{full, {People: 3}, {}} {
		given := want
		given.Worked, given.Herbicide = []engine.Worked{{AreaM2: 1}}, 9 // SetHousehold must ignore both fields
		ledger(t, s, ana, noon, func(l *Ledger) error {
			err := l.SetHousehold(given)
			h, err2 := l.Household()
			equal(t, h, want, "household in the same transaction")
			return errors.Join(err, err2)
		})
		equal(t, read(t, s, ana, noon, (*Ledger).Household), want, "household")
		equal(t, season(t, s, ana, 1).Home, want, "household in the season")
	}
	equal(t, read(t, s, ben, noon, (*Ledger).Household), engine.Household{}, "household of the other grower")
	errorIf(t, try(s, ana, noon, func(l *Ledger) error { return l.SetHousehold(engine.Household{People: -1}) }) == nil,
		"fewer than nobody was taken")
	ledger(t, s, ana, noon, (*Ledger).Erase)
	ledger(t, s, ana, noon, consent)
	equal(t, read(t, s, ana, noon, (*Ledger).Household), engine.Household{}, "household after it was erased")
}

// deed is a pass (a weeding) that the test has logged.
type deed struct {
	plot int // index of the plot in the order in which the plots were opened
	pass engine.Pass
}

// A season must contain exactly the hours that the grower logged on other plots. The test opens and closes plots, and
// logs and undoes passes, in random order.
//
//revive:disable-next-line:function-length the actions share the model
func TestWorkedAgreesWithItsModel(t *testing.T) {
	s := open(t)
	rapid.Check(t, func(t *rapid.T) {
		type ground struct {
			no   int // number of the plot; 0 if the plot is closed
			plot engine.Plot
		}
		var grounds []ground
		var jobs []deed // ordered by day; within one day, in the order of logging
		do := func(fn func(*Ledger) error) { ledger(t, s, ana, noon, fn) }
		do(func(l *Ledger) error { return errors.Join(l.Erase(), consent(l)) })
		open := func(t *rapid.T) int {
			var list []int
			for i, g := range grounds {
				if g.no > 0 {
					list = append(list, i)
				}
			}
			if len(list) == 0 {
				t.Skip("no open plot")
			}
			return rapid.SampledFrom(list).Draw(t, "plot")
		}
		day := day0 - 9
		t.Repeat(map[string]func(*rapid.T){
			"open": func(t *rapid.T) {
				g := ground{plot: aPlot()}
				g.plot.AreaM2 = float64(rapid.IntRange(0, 5).Draw(t, "area") * 100)
				do(func(l *Ledger) (err error) {
					if nos, _ := l.Plots(); len(nos) == maxPlots {
						return nil
					}
					g.no, err = l.AddPlot(g.plot, aTool())
					return err
				})
				if g.no > 0 {
					grounds = append(grounds, g)
				}
			},
			"close": func(t *rapid.T) {
				i := open(t)
				do(func(l *Ledger) error { return l.ClosePlot(grounds[i].no) })
				grounds[i].no = 0
			},
			"log": func(t *rapid.T) {
				i := open(t)
				day++ // only one pass a day, so that the order of the passes is unambiguous
				p := engine.Pass{On: day, With: engine.ByTool, Way: engine.Way(rapid.IntRange(0, 3).Draw(t, "way")),
					Hours: float64(rapid.IntRange(0, 3).Draw(t, "hours")), People: rapid.IntRange(0, 3).Draw(t,
						"people")}
				if rapid.Bool().Draw(t, "by hand") {
					p.With = engine.ByHand
				}
				p.Share = float64(rapid.IntRange(0, 3).Draw(t, "quarters")) / 4
				jobs = append(jobs, deed{i, p})
				do(func(l *Ledger) error { return l.LogPass(grounds[i].no, p) })
			},
			"undo": func(t *rapid.T) {
				i := open(t)
				for n := len(jobs) - 1; n >= 0; n-- {
					if jobs[n].plot == i {
						do(func(l *Ledger) error { return l.UndoPass(grounds[i].no) })
						jobs = append(jobs[:n:n], jobs[n+1:]...)
						return
					}
				}
			},
			"": func(t *rapid.T) {
				want := func(but int) (list []engine.Worked) {
					for n, j := range jobs {
						p := j.pass
						if j.plot == but || p.Hours == 0 || p.People == 0 || p.With == engine.ByHand &&
							pulledBehind(jobs[:n], j) {
							continue
						}
						g := grounds[j.plot].plot
						if p.Share > 0 {
							g.AreaM2 *= p.Share
						}
						list = append(list, engine.Worked{With: p.With, Way: p.Way, AreaM2: g.AreaM2,
							RowCM:  g.RowSpacingCM,
							HillCM: g.HillSpacingCM, PersonHours: p.Hours * float64(p.People)})
					}
					return list[max(0, len(list)-20):]
				}
				do(func(l *Ledger) error {
					h, err := l.Household()
					fatalIf(t, err != nil || !reflect.DeepEqual(h.Worked, want(-1)),
						"all: %+v, want %+v, %v", h.Worked, want(-1), err)
					for i, g := range grounds {
						if g.no == 0 {
							continue
						}
						season, err := l.Season(g.no)
						fatalIf(t, err != nil || !reflect.DeepEqual(season.Home.Worked, want(i)),
							"beside plot %d: %+v, want %+v, %v", g.no, season.Home.Worked, want(i), err)
					}
					return nil
				})
			},
		})
	})
}

// pulledBehind reports whether a pass with the tool was logged before j on the same plot, at most three days earlier.
// If so, and if j is a weeding by hand, j only finished that pass, and its hours must not be counted. Two parts of a
// plot are two grounds.
func pulledBehind(before []deed, j deed) bool {
	for _, b := range before {
		if b.plot == j.plot && b.pass.With == engine.ByTool && j.pass.On-b.pass.On <= 3 &&
			(b.pass.Share == 0 || j.pass.Share == 0) {
			return true
		}
	}
	return false
}

// If a grower never logged hours, the grower's passes are not searched for hours.
func TestHoursAreLookedForOnlyWhereTheyAre(t *testing.T) {
	s := openWithPlot(t, ana)
	has := func() int64 { return number(t, s, "SELECT has_hours FROM grower") }
	ledger(t, s, ana, noon, logPass(1, aPass))
	errorIf(t, has() != 0, "a pass without hours counts")
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return l.AmendPass(1, engine.Pass{On: day0, With: engine.ByTool, Hours: 2, People: 1})
	})
	errorIf(t, has() != 1, "a pass with hours does not count")
}

// A herbicide price that the grower gave for one plot is not used for another plot.
func TestHerbicideIsOfAPlot(t *testing.T) {
	s := openWithTwoPlots(t)
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.TellHerbicide(2, 45.5) })
	for no, want := range map[int]float64{1: 0, 2: 45.5} {
		equal(t, season(t, s, ana, no).Home.Herbicide, want, "plot %d", no)
	}
	errorIf(t, try(s, ana, noon, func(l *Ledger) error { return l.TellHerbicide(1, -1) }) == nil,
		"less than nothing was taken")
}
