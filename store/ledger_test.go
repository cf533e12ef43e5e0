package store

import (
	"errors"
	"math"
	"testing"
	"time"

	"rowbell/engine"
)

func TestLedgerOfAPhoneWithoutRecords(t *testing.T) {
	s := open(t)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		errorIf(t, l.Known() || l.Stopped() || l.Language() != "" || l.GrowerID() != 0,
			"an unknown phone has records: %+v", l)
		errorIf(t, l.Zone() != time.UTC || l.Today() != day0 || l.Phone() != ana || l.MorningHour() != 7,
			"zone %v, today %v, phone %v, morning %d", l.Zone(), l.Today(), l.Phone(), l.MorningHour())
		nos, err := l.Plots()
		errorIf(t, len(nos) != 0 || err != nil, "plots %v, %v", nos, err)
		for op, err := range map[string]error{
			"Season":      second(l.Season(1)),
			"ChangePlot":  l.ChangePlot(1, aPlot(), aTool()),
			"ClosePlot":   l.ClosePlot(1),
			"LogPass":     l.LogPass(1, aPass),
			"AmendPass":   l.AmendPass(1, aPass),
			"UndoPass":    l.UndoPass(1),
			"See":         l.See(1, engine.Sighting{On: day0}),
			"PlotID":      second(l.PlotID(1)),
			"AddPlot":     addPlot(l),
			"SetLanguage": l.SetLanguage("sw"),
		} {
			want := ErrNoPlot
			if op == "AddPlot" || op == "SetLanguage" {
				want = ErrUnknown
			}
			wantErr(t, err, want, "%s", op)
		}
		return nil
	})
}

func TestLedgerKeepsWhatItIsGiven(t *testing.T) {
	s := open(t)
	passes := []engine.Pass{
		{On: day0 - 4, With: engine.ByTool, Way: engine.Both, Hours: 6.5, People: 2, Left: engine.Some},
		{On: day0 - 1, With: engine.ByHand, Left: engine.Few, Share: 0.25},
	}
	seen := []engine.Sighting{
		{On: day0 - 5, Leaves: engine.TwoThree, Amount: engine.Many, Rows: engine.RowsOpen},
		{On: day0, Rows: engine.RowsClosed},
	}
	ledger(t, s, ana, noon, func(l *Ledger) error {
		consented := l.Consent("sw", "v3", "sms")
		no, err := l.AddPlot(aPlot(), aTool())
		errorIf(t, no != 1 || err != nil, "AddPlot: %d, %v", no, err)
		whole := passes[0]
		whole.Share = 1
		return errors.Join(consented, l.LogPass(1, passes[1]), l.LogPass(1, whole),
			l.See(1, seen[1]), l.See(1, seen[0]))
	})
	got := read(t, s, ana, noon, func(l *Ledger) (engine.Season, error) {
		errorIf(t, !l.Known() || l.Language() != "sw" || l.GrowerID() == 0,
			"known %v, language %q, id %d", l.Known(), l.Language(), l.GrowerID())
		return l.Season(1)
	})
	local := engine.NewLocal()
	want := engine.Season{Plot: aPlot(), Tool: aTool(), Passes: passes, Sightings: seen,
		Weather: engine.Weather{Normals: defaultPlace().Normals, LatitudeDeg: 15}, Local: &local, Since: day0,
	}
	equal(t, got, want, "season")
	ok(t, second(got.Plan(day0)))
}

// After each step, the ledger must return the same plots and passes in this transaction and in a later one.
func TestLedgerSeesItsOwnWrites(t *testing.T) {
	s := open(t)
	pass := func(d engine.Day, left engine.Amount) engine.Pass {
		return engine.Pass{On: d, With: engine.ByTool, Left: left}
	}
	few, late, some := pass(day0, engine.Few), pass(day0-3, engine.Many), pass(day0, engine.Some)
	amended, both := pass(day0-1, engine.Many), []int{1, 2}
	steps := []struct {
		name   string
		do     func(*Ledger) error
		plots  []int
		passes []engine.Pass // of plot 1
	}{
		{"first plot", addPlot, []int{1}, nil},
		{"second plot", addPlot, both, nil},
		{"a pass", logPass(1, few), both, []engine.Pass{few}},
		{"a pass told late", logPass(1, late), both, []engine.Pass{late, few}},
		{"another the same day", logPass(1, some), both, []engine.Pass{late, few, some}},
		{"amended", func(l *Ledger) error { return l.AmendPass(1, amended) }, both, []engine.Pass{late, amended, few}},
		{"undone", func(l *Ledger) error { return l.UndoPass(1) }, both, []engine.Pass{late, amended}},
		{"nothing to undo on plot 2", func(l *Ledger) error {
			wantErr(t, l.UndoPass(2), ErrNoPass, "UndoPass of a plot without passes")
			return nil
		}, both, []engine.Pass{late, amended}},
		{"first plot closed", closePlot(1), []int{2}, nil},
		{"its number is free again", addPlot, both, nil},
	}
	ledger(t, s, ana, noon, consent)
	for _, step := range steps {
		t.Run(step.name, func(t *testing.T) {
			check := func(l *Ledger) error {
				nos, err := l.Plots()
				equal(t, nos, step.plots, "plots")
				if nos[0] != 1 {
					return err
				}
				season, err2 := l.Season(1)
				equal(t, season.Passes, step.passes, "passes")
				return errors.Join(err, err2)
			}
			ledger(t, s, ana, noon, func(l *Ledger) error {
				cached := second(l.Plots()) // read the plots before the step, so that the step runs with cached plots
				return errors.Join(cached, step.do(l), check(l))
			})
			read(t, s, ana, noon, func(l *Ledger) (int, error) { return 0, check(l) })
		})
	}
}

// If a caller changes a season that Season returned, the next call of Season does not return that change.
func TestSeasonIsTheCallersOwn(t *testing.T) {
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, logPass(1, aPass))
	ledger(t, s, ana, noon, func(l *Ledger) error {
		a, err := l.Season(1)
		a.Passes[0].On = 7
		b, err2 := l.Season(1)
		equal(t, b.Passes[0].On, day0, "day of the pass")
		return errors.Join(err, err2)
	})
}

func TestNinePlotsAtMost(t *testing.T) {
	s := open(t)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		err := consent(l)
		for want := 1; want <= 9; want++ {
			no, err := l.AddPlot(aPlot(), aTool())
			errorIf(t, no != want || err != nil, "AddPlot %d: %d, %v", want, no, err)
		}
		wantErr(t, addPlot(l), ErrFull, "the tenth plot")
		err = errors.Join(err, l.ClosePlot(5))
		no, err2 := l.AddPlot(aPlot(), aTool())
		equal(t, no, 5, "number of a plot opened after 5 was closed")
		return errors.Join(err, err2)
	})
}

func TestLedgerRefusesWhatCannotBe(t *testing.T) {
	s := openWithPlot(t, ana)
	wide := aPlot()
	wide.RowSpacingCM = 250
	for name, do := range map[string]func(*Ledger) error{
		"rows too wide":        func(l *Ledger) error { return second(l.AddPlot(wide, aTool())) },
		"changed to too wide":  func(l *Ledger) error { return l.ChangePlot(1, wide, aTool()) },
		"no such tool":         func(l *Ledger) error { return second(l.AddPlot(aPlot(), engine.Tool{WidthCM: 1})) },
		"pass by nothing":      logPass(1, engine.Pass{On: day0}),
		"pass of no number":    logPass(1, engine.Pass{On: day0, With: 1, Hours: math.NaN()}),
		"sighting out of list": see(1, engine.Sighting{On: day0, Amount: 9}),
	} {
		errorIf(t, try(s, ana, noon, do) == nil, "%s: was taken", name)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM plot")
}

func TestTodayIsThePlacesOwn(t *testing.T) {
	s := open(t)
	for _, c := range []struct {
		zone string
		want engine.Day
	}{{"UTC", day0}, {"Pacific/Kiritimati", day0 + 1}, {"Pacific/Pago_Pago", day0}} {
		anotherPlace(t, s, DefaultPlace, c.zone)
		got := read(t, s, ana, noon, func(l *Ledger) (engine.Day, error) { return l.Today(), nil })
		equal(t, got, c.want, "noon UTC in %s", c.zone)
	}
}

func TestSetLanguage(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		err := l.SetLanguage("sw")
		errorIf(t, l.Language() != "sw", "language %q in the same transaction", l.Language())
		return err
	})
	for p, want := range map[Phone]string{ana: "sw", ben: "en"} {
		equal(t, read(t, s, p, noon, func(l *Ledger) (string, error) { return l.Language(), nil }), want,
			"language of %v", p)
	}
}

func TestVisitIsKeptToTheDay(t *testing.T) {
	s := openWithPlot(t, ana)
	for _, c := range []struct{ at, want int64 }{{noon + 60, noon}, {noon + day, noon + day},
		{noon + day + 1, noon + day}} {
		ledger(t, s, ana, c.at, (*Ledger).Visit)
		wantNumber(t, s, c.want, "SELECT seen_at FROM grower")
	}
}

func TestAGrowerMovesToAnotherPlace(t *testing.T) {
	s := openWithPlot(t, ana)
	hills := defaultPlace()
	hills.Name, hills.Zone, hills.Latitude = "hills", "Asia/Tokyo", 30
	for i := range hills.Normals {
		hills.Normals[i] = engine.Normal{MinC: 12, MaxC: 22, RainMM: 90}
	}
	id := putPlace(t, s, hills)
	write(t, s, func(tx *Tx) error { return tx.PutWeather(id, []WeatherDay{measured(day0, 9, 19, 3)}, noon) })
	wantPlace := func(name, zone string) {
		t.Helper()
		ledger(t, s, ana, noon, func(l *Ledger) error {
			all, i, err := l.Places()
			equal(t, all, []string{DefaultPlace, "hills"}, "places")
			errorIf(t, all[i] != name || l.Zone().String() != zone, "at %d of the places, in %v", i, l.Zone())
			return err
		})
	}
	wantPlace(DefaultPlace, "UTC")
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.SetPlace("hills") })
	wantPlace("hills", "Asia/Tokyo")
	w := read(t, s, ana, noon, func(l *Ledger) (engine.Weather, error) { return l.Weather() })
	errorIf(t, w.LatitudeDeg != 30 || w.On(day0).MinC != 9 || w.On(day0+1).MinC != 12, "weather %+v", w.On(day0))
	season := season(t, s, ana, 1)
	errorIf(t, season.Weather.LatitudeDeg != 30, "the season has the old weather")
	err := try(s, ana, noon, func(l *Ledger) error { return l.SetPlace("nowhere") })
	wantErr(t, err, ErrNoPlace, "nowhere")
}
