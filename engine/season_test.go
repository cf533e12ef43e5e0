package engine

import (
	"fmt"
	"strings"
	"testing"
)

// diary describes a season by days after planting: the ranges of days with the same state in the evening, and the texts
// of a bell that looks every morning, before the grower logs anything.
type diary struct {
	states, texts string
}

func keep(t *testing.T, s Season, to Day, off []Day) diary {
	t.Helper()
	var runs, texts []string
	var told []Told
	planted := s.Plot.Planted
	since, state := Day(0), State(0)
	write := func(until Day) {
		switch {
		case state == 0:
		case since == until:
			runs = append(runs, fmt.Sprintf("%d %s", since, state))
		default:
			runs = append(runs, fmt.Sprintf("%d-%d %s", since, until, state))
		}
	}
	for d := Day(0); d <= to; d++ {
		today := planted + d
		if today >= s.Since && (off == nil || d < off[0] || d > off[1]) {
			morning := s.asOf(today - 1)
			if morning.ClosedOn >= today {
				morning.ClosedOn = 0
			}
			r, silence := must(morning.Plan(today)).Reminder(told)
			if silence == NotSilent {
				texts = append(texts, fmt.Sprintf("%d %s", d, r.Kind))
				told = append(told, Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: today})
				if r.LastUseful < today {
					t.Errorf("day %d: %s is useful until day %d only", d, r.Kind, r.LastUseful-planted)
				}
			}
		}
		if evening := must(s.Plan(today)).State; evening != state {
			write(d - 1)
			since, state = d, evening
		}
	}
	write(to)
	return diary{strings.Join(runs, ", "), strings.Join(texts, ", ")}
}

// At a mean of 28 °C on a flooded plot the first window is days 12 to 15 after planting, and the grower is asked to
// look from day 8 on. Rows of 20 cm close about day 42.
//
//revive:disable-next-line:function-length a table of cases
func TestSeasonsDayByDay(t *testing.T) {
	planted := Date(2026, 7, 1)
	at := func(d Day) Day { return planted + d }
	pass := func(d Day, left Amount) Pass { return Pass{On: at(d), With: ByTool, Way: Along, Left: left} }
	plot20, tool15 := flooded(20), Tool{WidthCM: 15}
	for _, c := range []struct {
		name          string
		season        Season
		off           []Day // first and last day on which the service does not run; nil = it always runs
		states, texts string
	}{
		{"nobody answers, in a cool place", Season{Plot: plot20, Tool: tool15, Weather: Steady(19, 29)}, nil,
			"0-9 too early, 10-13 prepare, 14-17 open, 18-19 last days, 20-29 missed, 30-33 prepare, 34-37 open, " +
				"38-39 last days, 40-50 missed, 51-60 closed",
			"10 prepare, 14 open, 18 last-days, 20 missed, 30 prepare, 34 open, 38 last-days, 40 missed, 51 closed"},
		{"nobody answers", Season{Plot: plot20, Tool: tool15}, nil,
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-23 missed, 24-27 prepare, 28-29 open, " +
				"30-31 last days, 32-41 missed, 42-60 closed",
			"8 prepare, 12 open, 14 last-days, 16 missed, 24 prepare, 28 open, 30 last-days, 32 missed, 42 closed"},
		{"weeded on the best day, twice",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Few), pass(27, Few)}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-30 follow up, 31-34 too early, 35-38 prepare, 39-40 open, 41 last days, 42-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 35 prepare, 39 open, 41 last-days, 42 closed"},
		{"many weeds left: again in 7 to 12 days",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Many), pass(22, Few)}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17 too early, 18-19 prepare, 20-21 open, 22-25 " +
				"follow up, 26-29 too early, 30-33 prepare, 34-35 open, 36-37 last days, 38-41 missed, 42-60 closed",
			"8 prepare, 12 open, 18 prepare, 20 open, 30 prepare, 34 open, 36 last-days, 38 missed, 42 closed"},
		{"some weeds left: no flood holds the next ones back",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Some)}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-19 prepare, 20-21 open, 22-23 last days, " +
				"24-31 missed, 32-35 prepare, 36-37 open, 38-39 last days, 40-41 missed, 42-60 closed",
			"8 prepare, 12 open, 17 prepare, 20 open, 22 last-days, 24 missed, 32 prepare, 36 open, 38 last-days, " +
				"42 closed"},
		{"not yet: one leaf seen when the text came", Season{Plot: plot20, Tool: tool15,
			Sightings: []Sighting{{On: at(12), Leaves: OneLeaf}}, Passes: []Pass{pass(17, Few)}}, nil,
			"0-7 too early, 8-11 prepare, 12-14 too early, 15 prepare, 16 open, 17-20 follow up, 21-26 too early, " +
				"27-31 prepare, 32-33 open, 34-35 last days, 36-41 missed, 42-60 closed",
			"8 prepare, 12 open, 15 prepare, 16 open, 27 prepare, 32 open, 34 last-days, 36 missed, 42 closed"},
		{"two or three leaves seen early", Season{Plot: plot20, Tool: tool15, Sightings: []Sighting{{On: at(10),
			Leaves: TwoThree, Amount: Many}}, Passes: []Pass{pass(11, Few)}}, nil,
			"0-7 too early, 8-9 prepare, 10 open, 11-14 follow up, 15-18 too early, 19-21 prepare, 22-23 open, " +
				"24-25 last days, 26-33 missed, 34-36 prepare, 37-38 open, 39-40 last days, 41 missed, 42-60 closed",
			"8 prepare, 19 prepare, 22 open, 24 last-days, 26 missed, 34 prepare, 37 open, 39 last-days, 42 " +
				"closed"},
		{"weeds seen too big, pulled by hand three days later",
			Season{Plot: plot20, Tool: tool15, Sightings: []Sighting{{On: at(12), Leaves: FourPlus}},
				Passes: []Pass{{On: at(15), With: ByHand, Left: Few}}}, nil,
			"0-7 too early, 8-11 prepare, 12 last days, 13-14 missed, 15-18 follow up, 19-21 too early, 22-24 " +
				"prepare, 25-26 open, 27 last days, 28-34 missed, 35-37 prepare, 38-39 open, 40 last days, 41 " +
				"missed, 42-60 closed",
			"8 prepare, 12 open, 13 missed, 22 prepare, 25 open, 27 last-days, 29 missed, 35 prepare, 38 open, 40 " +
				"last-days, 42 closed"},
		{"rows seen open: five days more", Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Few)},
			Sightings: []Sighting{{On: at(39), Rows: RowsOpen}}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-28 last days, 29-36 missed, 37-40 prepare, 41 last days, 42-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 29 missed, 37 prepare, 41 last-days, 42 " +
				"closed"},
		{"rows seen closed", Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Few)},
			Sightings: []Sighting{{On: at(33), Rows: RowsClosed}}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-28 last days, 29-32 missed, 33-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 29 missed"},
		{"the grower closes the plot",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(13, Few)}, ClosedOn: at(25)}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open"},
		{"tool too wide: the usual hand-weeding days", Season{Plot: square(18), Tool: tool15}, nil,
			"0-7 too early, 8-9 prepare, 10-12 open, 13-14 last days, 15-27 missed, 28-29 prepare, 30-31 open, 32 " +
				"last days, 33-37 missed, 38-39 prepare, 40-41 open, 42 last days, 43-60 closed",
			"8 prepare, 10 open, 13 last-days, 15 missed, 28 prepare, 30 open, 32 last-days, 35 missed, 38 prepare, " +
				"40 open, 42 last-days, 45 closed"},
		{"tool too wide, weeded by hand each time", Season{Plot: square(18), Tool: tool15, Passes: []Pass{{On: at(12),
			With: ByHand}, {On: at(31), With: ByHand}, {On: at(40), With: ByHand}}}, nil,
			"0-7 too early, 8-9 prepare, 10-11 open, 12-15 follow up, 16-27 too early, 28-29 prepare, 30 open, " +
				"31-34 follow up, 35-37 too early, 38-39 prepare, 40-42 follow up, 43-60 closed",
			"8 prepare, 10 open, 28 prepare, 30 open, 38 prepare, 40 open, 43 closed"},
		{"an adjustable tool in the same rows",
			Season{Plot: square(18), Tool: Tool{WidthCM: 12, MaxWidthCM: 18}, Passes: []Pass{pass(13, Few)}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-28 last days, 29-40 missed, 41-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 29 missed, 41 closed"},
		{"no tool yet: the weeds' own days",
			Season{Plot: plot20, Passes: []Pass{{On: at(13), With: ByHand, Left: Few}}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-28 last days, 29-36 missed, 37-40 prepare, 41 last days, 42-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 29 missed, 37 prepare, 41 last-days, 42 " +
				"closed"},
		{"scattered seed", Season{Plot: Plot{Method: Broadcast, Planted: planted}, Tool: tool15}, nil,
			"0-7 too early, 8-9 prepare, 10-12 open, 13-14 last days, 15-37 missed, 38-39 prepare, 40-41 open, 42 " +
				"last days, 43-47 missed, 48-49 prepare, 50-51 open, 52 last days, 53-60 closed",
			"8 prepare, 10 open, 13 last-days, 15 missed, 38 prepare, 40 open, 42 last-days, 45 missed, 48 prepare, " +
				"50 open, 52 last-days, 55 closed"},
		{"sown in rows: no flood, no nursery", Season{Plot: Plot{Method: RowSown, Planted: planted, RowSpacingCM: 25},
			Tool: Tool{WidthCM: 20}, Passes: []Pass{pass(20, Few)}}, nil,
			"0-11 too early, 12-14 prepare, 15-18 open, 19 last days, 20-23 follow up, 24-27 too early, 28-31 " +
				"prepare, 32-33 open, 34-35 last days, 36-43 missed, 44-47 prepare, 48-49 open, 50 last days, " +
				"51-60 closed",
			"12 prepare, 15 open, 17 nudge, 19 last-days, 28 prepare, 32 open, 34 last-days, 36 missed, 44 prepare, " +
				"48 open, 50 last-days, 51 closed"},
		{"not kept under water", Season{Plot: Plot{Method: Transplanted, Planted: planted, RowSpacingCM: 20,
			HillSpacingCM: 20, Flood: FloodMoist}, Tool: tool15, Passes: []Pass{pass(13, Few)}}, nil,
			"0-7 too early, 8-11 prepare, 12 open, 13-16 follow up, 17-20 too early, 21-24 prepare, 25-26 open, " +
				"27-28 last days, 29-36 missed, 37-40 prepare, 41 last days, 42-60 closed",
			"8 prepare, 12 open, 21 prepare, 25 open, 27 last-days, 29 missed, 37 prepare, 41 last-days, 42 " +
				"closed"},
		{"registered late, in the window", Season{Plot: plot20, Tool: tool15, Since: at(14)}, nil,
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-23 missed, 24-27 prepare, 28-29 open, " +
				"30-31 last days, 32-41 missed, 42-60 closed",
			"14 last-days, 16 missed, 24 prepare, 28 open, 30 last-days, 32 missed, 42 closed"},
		{"registered late, after the window", Season{Plot: plot20, Tool: tool15, Since: at(25)}, nil,
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-32 missed, 33-36 prepare, 37-38 open, " +
				"39-40 last days, 41 missed, 42-60 closed",
			"25 prepare, 33 prepare, 37 open, 39 last-days, 42 closed"},
		{"registered late, weeded on day 14",
			Season{Plot: plot20, Tool: tool15, Since: at(22), Passes: []Pass{pass(14, AmountUnknown)}}, nil,
			"0-7 too early, 8-11 prepare, 12-13 open, 14-17 follow up, 18-21 too early, 22-25 prepare, 26-27 open, " +
				"28-29 last days, 30-41 missed, 42-60 closed",
			"22 prepare, 26 open, 28 last-days, 30 missed, 42 closed"},
		{"registered after everything", Season{Plot: plot20, Tool: tool15, Since: at(50)}, nil,
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-41 missed, 42-60 closed", ""},
		{"out of order on days 11 to 13",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(15, Few)}}, []Day{11, 13},
			"0-7 too early, 8-11 prepare, 12-13 open, 14 last days, 15-18 follow up, 19-22 too early, 23-26 " +
				"prepare, 27-28 open, 29-30 last days, 31-41 missed, 42-60 closed",
			"8 prepare, 14 last-days, 23 prepare, 27 open, 29 last-days, 31 missed, 42 closed"},
		{"out of order on days 14 to 16", Season{Plot: plot20, Tool: tool15}, []Day{14, 16},
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-23 missed, 24-27 prepare, 28-29 open, " +
				"30-31 last days, 32-41 missed, 42-60 closed",
			"8 prepare, 12 open, 17 missed, 24 prepare, 28 open, 30 last-days, 32 missed, 42 closed"},
		{"out of order from day 12 to the end and past it", Season{Plot: plot20, Tool: tool15}, []Day{12, 55},
			"0-7 too early, 8-11 prepare, 12-13 open, 14-15 last days, 16-23 missed, 24-27 prepare, 28-29 open, " +
				"30-31 last days, 32-41 missed, 42-60 closed",
			"8 prepare"},
	} {
		if c.season.Weather.Normals == (Normals{}) {
			c.season.Weather = Steady(23, 33)
		}
		got := keep(t, c.season, 60, c.off)
		if got.states != c.states {
			t.Errorf("%s: states\n got %s\nwant %s", c.name, got.states, c.states)
		}
		if got.texts != c.texts {
			t.Errorf("%s: texts\n got %s\nwant %s", c.name, got.texts, c.texts)
		}
	}
}
