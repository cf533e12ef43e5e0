package store

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// toolPass returns a pass with the tool on a day.
func toolPass(on engine.Day) engine.Pass {
	return engine.Pass{On: on, With: engine.ByTool, Way: engine.Along, Left: engine.Few}
}

func corrections(t *testing.T, s *Store, no int) (list []PersonCorrection) {
	t.Helper()
	for _, p := range person(t, s, ana).Records.Plots {
		if p.No == no {
			list = p.Corrections
		}
	}
	return list
}

// wantCorrections compares the corrections of plot 1. A correction is written as "kind by channel: was > now".
func wantCorrections(t *testing.T, s *Store, want ...string) {
	t.Helper()
	var got []string
	for _, c := range corrections(t, s, 1) {
		got = append(got, fmt.Sprintf("%s by %s: %s > %s", c.What, c.Channel, c.Was, c.Now))
	}
	equal(t, got, want, "corrections")
}

func TestCorrectionsKeepWhatStoodBefore(t *testing.T) {
	s := openWithPlot(t, ana)
	first, second := toolPass(day0-5), toolPass(day0-1)
	look := engine.Sighting{On: day0 - 6, Leaves: engine.TwoThree, Amount: engine.Some}
	moved, right := first, look
	moved.On, right.Leaves = day0-7, engine.OneLeaf
	ledger(t, s, ana, noon, func(l *Ledger) error {
		l.Via("ussd")
		return errors.Join(l.LogPass(1, first), l.LogPass(1, second), l.See(1, look))
	})
	ledger(t, s, ana, noon+60, func(l *Ledger) error {
		l.Via("sms")
		return errors.Join(l.CorrectPass(1, first, moved), l.RemovePass(1, second), l.CorrectSighting(1, look, right),
			l.RemoveSighting(1, right))
	})
	got := season(t, s, ana, 1)
	equal(t, got.Passes, []engine.Pass{moved}, "passes")
	equal(t, len(got.Sightings), 0, "sightings")
	wantCorrections(t, s,
		`pass by sms: {"day":"2026-05-27","with":"tool","way":"along","weeds_left":"few"} > `+
			`{"day":"2026-05-25","with":"tool","way":"along","weeds_left":"few"}`,
		`pass by sms: {"day":"2026-05-31","with":"tool","way":"along","weeds_left":"few"} > null`,
		`sighting by sms: `+
			`{"day":"2026-05-26","weed_leaves":"2-3","weeds":"some","rows":"unknown","water":"unknown"} > `+
			`{"day":"2026-05-26","weed_leaves":"1","weeds":"some","rows":"unknown","water":"unknown"}`,
		`sighting by sms: `+
			`{"day":"2026-05-26","weed_leaves":"1","weeds":"some","rows":"unknown","water":"unknown"} > null`)
}

// The answers that follow a weeding only add to it. They are no corrections.
func TestDetailsToldLaterAreNoCorrection(t *testing.T) {
	s := openWithPlot(t, ana)
	bare := engine.Pass{On: day0, With: engine.ByTool}
	left, hours := bare, bare
	left.Left = engine.Few
	hours.Left, hours.Hours, hours.People = engine.Few, 3, 2
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, bare), l.AmendPass(1, left), l.AmendPass(1, hours))
	})
	wantCorrections(t, s)
	fewer := hours
	fewer.Hours = 2
	ledger(t, s, ana, noon, func(l *Ledger) error { return errors.Join(l.AmendPass(1, fewer), l.UndoPass(1)) })
	wantNumber(t, s, 2, "SELECT count(*) FROM correction")
}

func TestACorrectionOfWhatIsGoneChangesNothing(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, toolPass(day0-1)), l.See(1, engine.Sighting{On: day0, Leaves: engine.OneLeaf}))
	})
	before := season(t, s, ana, 1)
	gone, unseen := toolPass(day0-2), engine.Sighting{On: day0, Leaves: engine.FourPlus}
	for name, c := range map[string]struct {
		do   func(*Ledger) error
		want error
	}{
		"correct pass":     {func(l *Ledger) error { return l.CorrectPass(1, gone, toolPass(day0)) }, ErrNoPass},
		"remove pass":      {func(l *Ledger) error { return l.RemovePass(1, gone) }, ErrNoPass},
		"correct sighting": {func(l *Ledger) error { return l.CorrectSighting(1, unseen, unseen) }, ErrNoSighting},
		"remove sighting":  {func(l *Ledger) error { return l.RemoveSighting(1, unseen) }, ErrNoSighting},
		"no plot":          {func(l *Ledger) error { return l.RemovePass(2, gone) }, ErrNoPlot},
		"replant":          {func(l *Ledger) error { return l.Replant(2, aPlot()) }, ErrNoPlot},
		"amend no plot":    {func(l *Ledger) error { return l.AmendPass(2, gone) }, ErrNoPlot},
	} {
		wantErr(t, try(s, ana, noon, c.do), c.want, "%s", name)
	}
	equal(t, season(t, s, ana, 1), before, "season")
	wantNumber(t, s, 0, "SELECT count(*) FROM correction")
}

// Two passes on one day keep their order when one of them is corrected: the order of a day matters for what was seen.
func TestACorrectionKeepsTheOrderOfADay(t *testing.T) {
	s := openWithPlot(t, ana)
	looks := []engine.Sighting{{On: day0, Leaves: engine.OneLeaf}, {On: day0, Leaves: engine.TwoThree}}
	passes := []engine.Pass{toolPass(day0), {On: day0, With: engine.ByHand, Left: engine.Few}}
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.See(1, looks[0]), l.See(1, looks[1]), l.LogPass(1, passes[0]), l.LogPass(1, passes[1]))
	})
	look, pass := looks[0], passes[0]
	look.Leaves, pass.Left = engine.NoneUp, engine.Many
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.CorrectSighting(1, looks[0], look), l.CorrectPass(1, passes[0], pass))
	})
	got := season(t, s, ana, 1)
	equal(t, got.Sightings, []engine.Sighting{look, looks[1]}, "sightings")
	equal(t, got.Passes, []engine.Pass{pass, passes[1]}, "passes")
}

func TestReplant(t *testing.T) {
	s := openWithPlot(t, ana)
	before, after := toolPass(day0-6), toolPass(day0-1)
	look := engine.Sighting{On: day0 - 7, Leaves: engine.TwoThree}
	ledger(t, s, ana, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		told := engine.Told{Kind: engine.KindClosed, Window: 1, On: day0 - 1}
		return errors.Join(err, l.LogPass(1, before), l.LogPass(1, after), l.See(1, look), second(l.tx.Tell(id, told)))
	})
	again := aPlot()
	again.Planted, again.Puddled, again.SeedlingAgeDays = day0-3, 0, 0
	ledger(t, s, ana, noon+day, func(l *Ledger) error { return l.Replant(1, again) })
	got := season(t, s, ana, 1)
	equal(t, got.Plot, again, "plot")
	equal(t, got.Passes, []engine.Pass{after}, "passes")
	equal(t, len(got.Sightings), 0, "sightings")
	equal(t, got.Since, day0+1, "since")
	wantNumber(t, s, 0, "SELECT count(*) FROM told") // the texts about the former planting do not count
	var kinds []string
	for _, c := range corrections(t, s, 1) {
		kinds = append(kinds, c.What)
	}
	equal(t, kinds, []string{"pass", "sighting", "replanted"}, "kinds of corrections")
	last := corrections(t, s, 1)[2]
	equal(t, string(last.Was), `{"planted_day":"2026-05-22","puddled_day":"2026-05-21","seedling_age_days":15}`,
		"values before")
	equal(t, string(last.Now), `{"planted_day":"2026-05-29"}`, "values after")
}

// What was weeded and seen on the new planting day was that of the former rice, but for the water.
func TestReplantOnTheDayOfALook(t *testing.T) {
	s := openWithPlot(t, ana)
	big := engine.Sighting{On: day0, Leaves: engine.FourPlus}
	water := engine.Sighting{On: day0, Water: engine.StandsFingers}
	again := aPlot()
	again.Planted, again.Puddled, again.SeedlingAgeDays = day0, 0, 0
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, toolPass(day0)), l.See(1, big), l.See(1, water), l.Replant(1, again))
	})
	got := season(t, s, ana, 1)
	equal(t, len(got.Passes), 0, "passes")
	equal(t, got.Sightings, []engine.Sighting{water}, "sightings")
}

// A changed answer about the plot is a correction, the same answer again is none.
func TestAChangedPlotIsACorrection(t *testing.T) {
	s := openWithPlot(t, ana)
	p := aPlot()
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.ChangePlot(1, p, aTool()) })
	wantCorrections(t, s)
	p.SeedlingAgeDays = 20
	ledger(t, s, ana, noon, func(l *Ledger) error { l.Via("ussd"); return l.ChangePlot(1, p, aTool()) })
	wantCorrections(t, s, `plot by ussd: {"seedling_age_days":15} > {"seedling_age_days":20}`)
}

// Whatever is put right and then back again is the same season.
func TestPutRightAndBackAgain(t *testing.T) {
	s := openWithPlot(t, ana)
	rapid.Check(t, func(t *rapid.T) {
		execSQL(t, s, "DELETE FROM pass")
		execSQL(t, s, "DELETE FROM sighting")
		days := rapid.Map(rapid.IntRange(-9, 0), func(n int) engine.Day { return day0 + engine.Day(n) })
		aPass := rapid.Custom(func(t *rapid.T) engine.Pass {
			return engine.Pass{On: days.Draw(t, "day"), With: rapid.SampledFrom([]engine.Means{engine.ByTool,
				engine.ByHand}).Draw(t, "means"), Left: engine.Amount(rapid.IntRange(0, 3).Draw(t, "left"))}
		})
		aLook := rapid.Custom(func(t *rapid.T) engine.Sighting {
			return engine.Sighting{On: days.Draw(t, "day"),
				Leaves: engine.Leaves(rapid.IntRange(0, 4).Draw(t, "leaves"))}
		})
		passes := rapid.SliceOfNDistinct(aPass, 1, 5, rapid.ID).Draw(t, "passes")
		looks := rapid.SliceOfNDistinct(aLook, 1, 5, rapid.ID).Draw(t, "looks")
		ledger(t, s, ana, noon, func(l *Ledger) (err error) {
			for _, p := range passes {
				err = errors.Join(err, l.LogPass(1, p))
			}
			for _, x := range looks {
				err = errors.Join(err, l.See(1, x))
			}
			return err
		})
		before := season(t, s, ana, 1)
		was, seen := rapid.SampledFrom(passes).Draw(t, "pass"), rapid.SampledFrom(looks).Draw(t, "look")
		now := aPass.Filter(func(p engine.Pass) bool { return p == was || !slices.Contains(passes, p) }).Draw(t, "now")
		saw := aLook.Filter(func(x engine.Sighting) bool {
			return x == seen || !slices.Contains(looks, x)
		}).Draw(t, "saw")
		ledger(t, s, ana, noon, func(l *Ledger) error {
			return errors.Join(l.CorrectPass(1, was, now), l.CorrectSighting(1, seen, saw))
		})
		ledger(t, s, ana, noon, func(l *Ledger) error {
			return errors.Join(l.CorrectPass(1, now, was), l.CorrectSighting(1, saw, seen))
		})
		if after := season(t, s, ana, 1); !reflect.DeepEqual(after, before) {
			t.Fatalf("put right and back again:\n%+v\nnot\n%+v", after, before)
		}
	})
}

// An older pass is listed on its day, and the days that a text announced no longer hold: there is a pass more before.
func TestAnOlderPassIsAdded(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		w := engine.Window{Number: 2, Opens: day0 + 3, Best: day0 + 5, Closes: day0 + 8}
		return errors.Join(err, l.LogPass(1, toolPass(day0-2)), l.tx.announce(id, w))
	})
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.LogPass(1, toolPass(day0-8)) })
	got := season(t, s, ana, 1)
	equal(t, got.Passes, []engine.Pass{toolPass(day0 - 8), toolPass(day0 - 2)}, "passes")
	equal(t, got.Announced, engine.Window{}, "announced window")
}

// The days that the grower was told stay if a part of the plot was weeded in their window before the part that is
// logged: the rest is due on these days.
func TestAnOlderPartOfTheWindowIsAdded(t *testing.T) {
	s := openWithPlot(t, ana)
	w := engine.Window{Number: 1, Opens: day0 - 3, Best: day0 - 1, Closes: day0 + 2}
	part, older := toolPass(day0), toolPass(day0-1)
	part.Share, older.Share = 0.5, 0.25
	ledger(t, s, ana, noon, func(l *Ledger) error {
		id, err := l.PlotID(1)
		return errors.Join(err, l.tx.announce(id, w))
	})
	ledger(t, s, ana, noon, func(l *Ledger) error { return errors.Join(l.LogPass(1, part), l.LogPass(1, older)) })
	got := season(t, s, ana, 1)
	equal(t, got.Passes, []engine.Pass{older, part}, "passes")
	equal(t, got.Announced, w, "announced window")
}

// Days that the grower was told stay if the pass that ended their window is put right or taken out. They do not stay if
// they were told after the pass.
func TestTheAnnouncedDaysAfterACorrection(t *testing.T) {
	told := engine.Window{Number: 1, Opens: day0 - 4, Best: day0 - 3, Closes: day0 + 1}
	pass := toolPass(day0 - 2)
	right := pass
	right.Way = engine.Both
	takeOut := func(l *Ledger) error { return l.RemovePass(1, pass) }
	correct := func(l *Ledger) error { return l.CorrectPass(1, pass, right) }
	for name, c := range map[string]struct {
		opens engine.Day
		do    func(*Ledger) error
		stays bool
	}{
		"pass of the window, taken out": {told.Opens, takeOut, true},
		"pass of the window, corrected": {told.Opens, correct, true},
		"earlier pass, taken out":       {day0 + 9, takeOut, false},
		"earlier pass, corrected":       {day0 + 9, correct, false},
		"hours of an earlier pass": {day0 + 9, func(l *Ledger) error {
			took := pass
			took.Hours, took.People = 3, 2
			return l.CorrectPass(1, pass, took)
		}, true},
	} {
		s := openWithPlot(t, ana)
		w := told
		w.Opens = c.opens
		ledger(t, s, ana, noon, func(l *Ledger) error {
			id, err := l.PlotID(1)
			return errors.Join(err, l.LogPass(1, pass), l.tx.announce(id, w))
		})
		ledger(t, s, ana, noon, c.do)
		equal(t, season(t, s, ana, 1).Announced.Exists(), c.stays, "%s: the days stay", name)
	}
}
