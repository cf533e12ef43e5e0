package store

import (
	"cmp"
	"errors"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// plotPlanted is a plot that was transplanted so many days before day0. At the default place its first window opens
// about two weeks after planting.
func plotPlanted(daysAgo int) engine.Plot {
	p := aPlot()
	p.Planted, p.Puddled = day0-engine.Day(daysAgo), 0
	return p
}

// keepAttention brings the table up to date, and reports an error if something is still to do then.
func keepAttention(t tester, s *Store, at int64) (planned int) {
	t.Helper()
	planned, refused, err := s.KeepAttention(ctx, at)
	ok(t, err)
	errorIf(t, refused > 0, "%d plots were refused", refused)
	view(t, s, func(tx *Tx) error {
		due, err := tx.AttentionDue(at)
		errorIf(t, due, "something is still to do")
		return err
	})
	return planned
}

// morningOf reads the list of the morning in pages of n plots.
func morningOf(t tester, s *Store, scope Scope, reasons engine.Reasons, n int) (list []MorningRow) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		var after *MorningKey
		for {
			page, err := tx.Morning(scope, reasons, after, n)
			list = append(list, page...)
			if err != nil || len(page) < n {
				return err
			}
			after = &page[n-1].MorningKey
		}
	})
	return list
}

// computed is the list of the morning from all plots.
func computed(t tester, s *Store, scope Scope, at int64, reasons engine.Reasons) (list []MorningRow) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		growers, err := column[int64](tx, "SELECT id FROM grower", nil)
		if err != nil {
			return err
		}
		all, err := tx.WatchedOf(growers, at, 0)
		for i := range all {
			w := &all[i]
			a, err := w.Attention()
			if err != nil {
				return err
			}
			if scope.Has(w.PlaceID) && a.Reasons&reasons != 0 {
				list = append(list, MorningRow{MorningKeyOf(w.PlotID, a), w.GrowerID, a.Reasons})
			}
		}
		return err
	})
	slices.SortFunc(list, func(a, b MorningRow) int {
		return cmp.Or(asCompare(a.Later, b.Later), cmp.Compare(a.Rank, b.Rank), cmp.Compare(a.PlotID, b.PlotID))
	})
	return list
}

func asCompare(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

func TestMorning(t *testing.T) {
	s := open(t)
	for i, daysAgo := range []int{1, 12, 14, 20, 30} {
		ledger(t, s, phoneNo(i), noon, func(l *Ledger) error {
			return errors.Join(consent(l), second(l.AddPlot(plotPlanted(daysAgo), aTool())))
		})
	}
	scope := Scope{1}
	equal(t, len(morningOf(t, s, scope, engine.AllReasons, 10)), 0, "before anything was computed")
	equal(t, keepAttention(t, s, noon), 5, "planned")
	list := morningOf(t, s, scope, engine.AllReasons, 10)
	equal(t, list, computed(t, s, scope, noon, engine.AllReasons), "the list")
	fatalIf(t, len(list) < 2, "only %d plots need somebody", len(list))
	equal(t, keepAttention(t, s, noon+3600), 0, "planned again on the same day")
	equal(t, keepAttention(t, s, noon+day), 5, "planned on the next day")
	equal(t, len(morningOf(t, s, nil, engine.AllReasons, 10)), 0, "of no place")
	equal(t, len(morningOf(t, s, Scope{7}, engine.AllReasons, 10)), 0, "of another place")
}

func TestContactIsTakenBack(t *testing.T) {
	s := open(t)
	missed := plotPlanted(22)
	for _, p := range []Phone{ana, ben} {
		ledger(t, s, p, noon, func(l *Ledger) error {
			return errors.Join(consent(l), second(l.AddPlot(missed, aTool())), second(l.AddPlot(missed, aTool())))
		})
	}
	keepAttention(t, s, noon)
	waiting := func() int { return len(morningOf(t, s, Scope{1}, engine.AllReasons, 10)) }
	takeBack := func(p Phone, no int, id int64, at int64) (found bool) {
		t.Helper()
		ledger(t, s, p, at, func(l *Ledger) (err error) { found, err = l.TakeBackContact(no, id); return err })
		return found
	}
	reached := func(scope Scope, since int64) (list []ReachedLately) {
		t.Helper()
		view(t, s, func(tx *Tx) (err error) { list, err = tx.ReachedLately(scope, since, 10); return err })
		return list
	}
	ledger(t, s, ana, noon+1, func(l *Ledger) error { return l.Contacted(1, NotReached) })
	ledger(t, s, ana, noon+2, func(l *Ledger) error { return l.Contacted(2, ReachedByPhone) })
	equal(t, waiting(), 3, "the second plot of ana is left out")
	equal(t, reached(Scope{1}, noon),
		[]ReachedLately{{2, 2, 1, 1, noon + 2, ana, 2, missed.Label, day0, ReachedByPhone}}, "who was reached")
	equal(t, len(reached(Scope{7}, noon))+len(reached(Scope{1}, noon+3)), 0, "elsewhere, and later")
	equal(t, takeBack(ana, 1, 2, noon+2), false, "of another plot")
	equal(t, takeBack(ben, 2, 2, noon+2), false, "of another grower")
	equal(t, takeBack(ana, 2, 2, noon+day), false, "of yesterday")
	equal(t, waiting(), 3, "nothing was taken back")
	equal(t, takeBack(ana, 2, 2, noon+2), true, "taken back")
	equal(t, waiting(), 4, "the second plot of ana needs somebody again")
	equal(t, len(reached(Scope{1}, noon)), 0, "nobody was reached")
}

func TestContacts(t *testing.T) {
	s := open(t)
	missed, others := plotPlanted(22), plotPlanted(24)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(consent(l), second(l.AddPlot(missed, aTool())), second(l.AddPlot(missed, aTool())))
	})
	ledger(t, s, ben, noon, func(l *Ledger) error {
		return errors.Join(consent(l), second(l.AddPlot(others, aTool())))
	})
	keepAttention(t, s, noon)
	order := func(at int64) (plots []int64) {
		t.Helper()
		list := morningOf(t, s, Scope{1}, engine.AllReasons, 10)
		equal(t, list, computed(t, s, Scope{1}, at, engine.AllReasons), "the list")
		for _, r := range list {
			plots = append(plots, r.PlotID)
		}
		return plots
	}
	contacted := func(p Phone, no int, what ContactKind, at int64) {
		t.Helper()
		ledger(t, s, p, at, func(l *Ledger) error { return l.Contacted(no, what) })
	}
	fatalIf(t, !slices.Equal(order(noon), []int64{1, 2, 3}) && !slices.Equal(order(noon), []int64{3, 1, 2}),
		"at first %v", order(noon))
	first := order(noon)[0]
	contacted(ben, 1, NotReached, noon)
	equal(t, order(noon), []int64{1, 2, 3}, "ben was not reached")
	contacted(ana, 2, NotReached, noon+1)
	keepAttention(t, s, noon+1)
	equal(t, order(noon)[0], first, "nobody was reached: as at first")
	contacted(ana, 2, ReachedByPhone, noon+2)
	keepAttention(t, s, noon+2)
	equal(t, len(order(noon+2)), 2, "ana was reached about the second plot")
	view(t, s, func(tx *Tx) error {
		w, _, err := tx.WatchedPlot(1, noon+2)
		equal(t, w.Heard.TriedOn, engine.Day(0), "the day on which ana was not reached")
		return err
	})
	ledger(t, s, ben, noon+3, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool, Left: engine.Few}),
			l.Contacted(1, CameBy))
	})
	equal(t, order(noon+3), []int64{1}, "ben has weeded")
	wantErr(t, try(s, ana, noon, func(l *Ledger) error { return l.Contacted(9, CameBy) }), ErrNoPlot, "no such plot")
	ledger(t, s, ana, noon+3, func(l *Ledger) error { return l.ClosePlot(1) })
	equal(t, len(order(noon+3)), 0, "after the first plot was closed")
	view(t, s, func(tx *Tx) error {
		all, err := tx.Contacts([]int64{2, 3})
		equal(t, len(all[2])+len(all[3]), 4, "contacts")
		equal(t, all[2][1].What, ReachedByPhone, "the second contact")
		return err
	})
}

// The growers of a place are planned page by page, and a broken-off run goes on at the same page.
func TestAttentionInPages(t *testing.T) {
	const growers = 2*attentionPage + 30
	s := open(t)
	write(t, s, func(tx *Tx) error {
		for i := range growers {
			l, err := tx.Ledger(phoneNo(i), noon)
			if err == nil {
				err = errors.Join(consent(l), second(l.AddPlot(plotPlanted(10+i%30), aTool())))
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	view(t, s, func(tx *Tx) error {
		part, more, err := tx.nextAttention(noon)
		equal(t, more && len(part.watched) == attentionPage && part.last == part.watched[attentionPage-1].GrowerID,
			true, "the first page")
		return err
	})
	var part attentionDue
	view(t, s, func(tx *Tx) (err error) { part, _, err = tx.nextAttention(noon); return err })
	list, _ := part.plan()
	ok(t, s.writeAttention(ctx, list, part.end))
	equal(t, keepAttention(t, s, noon), growers-attentionPage, "planned after the first page")
	for _, n := range []int{7, 50, 1000} {
		equal(t, morningOf(t, s, Scope{1}, engine.AllReasons, n),
			computed(t, s, Scope{1}, noon, engine.AllReasons), "in pages of %d", n)
	}
}

// A change that comes between reading and writing is not lost.
func TestAttentionOfAChangeMeanwhile(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.ChangePlot(1, plotPlanted(14), aTool()) })
	keepAttention(t, s, noon)
	write(t, s, func(tx *Tx) error { return tx.AttendSoon([]int64{1}) })
	var part attentionDue
	view(t, s, func(tx *Tx) (err error) { part, _, err = tx.nextAttention(noon); return err })
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}), l.tx.AttendSoon([]int64{1}))
	})
	list, _ := part.plan()
	ok(t, s.writeAttention(ctx, list, part.end))
	keepAttention(t, s, noon)
	equal(t, morningOf(t, s, Scope{1}, engine.AllReasons, 9), computed(t, s, Scope{1}, noon, engine.AllReasons),
		"the list")
}

// A call that reached nobody counts for all plots of the grower, until its plot is closed.
func TestAttentionAfterThePlotOfACallIsClosed(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		p := aPlot()
		p.Planted, p.Puddled = day0-30, 0
		return errors.Join(second(l.AddPlot(p, engine.Tool{})), second(l.AddPlot(p, engine.Tool{})),
			l.Contacted(3, NotReached))
	})
	keepAttention(t, s, noon)
	before := morningOf(t, s, Scope{1}, engine.AllReasons, 9)
	errorIf(t, len(before) == 0 || !before[0].Later, "nobody was called: %v", before)
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.ClosePlot(3) })
	keepAttention(t, s, noon)
	equal(t, morningOf(t, s, Scope{1}, engine.AllReasons, 9), computed(t, s, Scope{1}, noon, engine.AllReasons),
		"the list")
}

// Whatever growers and staff do: once KeepAttention has run, the list and its counts are those that are computed from
// all plots. The bell marks who changed; here the test does it.
func TestMorningAgreesWithAFullComputation(t *testing.T) {
	s := open(t)
	second := anotherPlace(t, s, "north", "Asia/Manila")
	runs := 0
	rapid.Check(t, func(t *rapid.T) {
		runs++
		execSQL(t, s, "DELETE FROM grower")
		at := noon + int64(runs)*100*day
		today := func() engine.Day { return dayIn(time.UTC, at) }
		growers := rapid.IntRange(1, 4).Draw(t, "growers")
		for i := range growers {
			ledger(t, s, phoneNo(i), at, func(l *Ledger) error { return consent(l) })
		}
		for range rapid.IntRange(1, 12).Draw(t, "steps") {
			p := phoneNo(rapid.IntRange(0, growers-1).Draw(t, "who"))
			ok(t, try(s, p, at, func(l *Ledger) error { return drawDeed(t, l, today()) }))
			if rapid.IntRange(0, 3).Draw(t, "sleeps") == 0 {
				at += int64(rapid.IntRange(1, 6).Draw(t, "days")) * day
			}
			if rapid.Bool().Draw(t, "keeps") {
				keepAttention(t, s, at)
			}
		}
		keepAttention(t, s, at)
		for _, scope := range []Scope{{1}, {second}, {1, second}, {}} {
			all := computed(t, s, scope, at, engine.AllReasons)
			equal(t, morningOf(t, s, scope, engine.AllReasons, rapid.IntRange(1, 4).Draw(t, "page")), all, "list")
			counts := MorningCounts{All: len(all), Of: map[engine.Reason]int{}}
			for _, r := range engine.AllReasons.List() {
				of := computed(t, s, scope, at, 1<<r)
				equal(t, morningOf(t, s, scope, 1<<r, 50), of, "list of %s", r)
				if len(of) > 0 {
					counts.Of[r] = len(of)
				}
			}
			view(t, s, func(tx *Tx) error {
				got, err := tx.MorningCounts(scope)
				equal(t, got, counts, "counts")
				return err
			})
		}
	})
}

// drawDeed does something that may change the list, and marks the grower as the bell does.
func drawDeed(t *rapid.T, l *Ledger, today engine.Day) error {
	if !l.Known() {
		return nil
	}
	nos, err := l.Plots()
	if err != nil {
		return err
	}
	mark := func(err error) error { return errors.Join(err, l.tx.AttendSoon([]int64{l.GrowerID()})) }
	if len(nos) == 0 || rapid.IntRange(0, 4).Draw(t, "adds") == 0 {
		p := aPlot()
		p.Planted, p.Puddled = today-engine.Day(rapid.IntRange(0, 40).Draw(t, "age")), 0
		tool := rapid.SampledFrom([]engine.Tool{{}, aTool()}).Draw(t, "tool")
		return mark(second(l.AddPlot(p, tool)))
	}
	no := rapid.SampledFrom(nos).Draw(t, "plot")
	on := today - engine.Day(rapid.IntRange(0, 3).Draw(t, "ago"))
	switch rapid.SampledFrom([]string{"pass", "sight", "trouble", "tried", "reached", "closes", "stops", "moves",
		"unlinks", "told"}).Draw(t, "deed") {
	case "pass":
		return mark(l.LogPass(no, engine.Pass{On: on, With: engine.ByTool, Left: engine.Few}))
	case "sight":
		return mark(l.See(no, engine.Sighting{On: on, Leaves: engine.Leaves(rapid.IntRange(0, 4).Draw(t, "leaves")),
			Water: engine.Stands(rapid.IntRange(0, 4).Draw(t, "water"))}))
	case "trouble":
		return l.TellTrouble(engine.Clogs)
	case "tried":
		return l.Contacted(no, NotReached)
	case "reached":
		return l.Contacted(no, ReachedByPhone)
	case "closes":
		return l.ClosePlot(no)
	case "stops":
		return l.Stop()
	case "moves":
		return mark(l.SetPlace(rapid.SampledFrom([]string{DefaultPlace, "north"}).Draw(t, "place")))
	case "unlinks":
		return l.Unlink()
	}
	id, err := l.PlotID(no)
	told := engine.Told{Kind: rapid.SampledFrom(engine.Kinds()).Draw(t, "kind"), Window: 1, On: on}
	return mark(errors.Join(err, second(l.tx.Tell(id, told))))
}
