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

// At 28 °C on a flooded plot the first window is days 15 to 20 after planting: by the weed clock, weeds have two leaves
// after 14.7 days and four after 19.9. Rows of 20 cm close about day 42.
//
//revive:disable-next-line:function-length a table of cases
func TestSeasonsDayByDay(t *testing.T) {
	planted := Date(2026, 7, 1)
	at := func(d Day) Day { return planted + d }
	pass := func(d Day, left Amount) Pass { return Pass{On: at(d), With: ByTool, Way: Along, Left: left} }
	plot20, tool15 := square(20), Tool{WidthCM: 15}
	for _, c := range []struct {
		name          string
		season        Season
		off           []Day // first and last day on which the service does not run; nil = it always runs
		states, texts string
	}{
		{"nobody answers, in a cool place: the window is long enough for a nudge",
			Season{Plot: plot20, Tool: tool15, Weather: Steady(19, 29)}, nil,
			"0-16 too early, 17-18 prepare, 19-24 open, 25-26 last days, 27-43 missed, 44-45 prepare, 46-48 open, " +
				"49-50 last days, 51-60 closed",
			"17 prepare, 19 open, 22 nudge, 25 last-days, 27 missed, 44 prepare, 46 open, 49 last-days, 51 closed"},
		{"nobody answers", Season{Plot: plot20, Tool: tool15}, nil,
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed",
			"13 prepare, 15 open, 19 last-days, 21 missed, 34 prepare, 36 open, 40 last-days, 42 closed"},
		{"weeded on the best day, twice",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Few), pass(32, Few)}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-28 too early, 29-30 prepare, 31 open, " +
				"32-41 follow up, 42-60 closed", "13 prepare, 15 open, 29 prepare, 31 open, 42 closed"},
		{"many weeds left: again in 7 to 12 days",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Many), pass(25, Few)}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20 too early, 21-22 prepare, 23-24 open, " +
				"25-28 follow up, 29-37 too early, 38-39 prepare, 40-41 last days, 42-60 closed",
			"13 prepare, 15 open, 21 prepare, 23 open, 38 prepare, 40 last-days, 42 closed"},
		{"some weeds left: no flood holds the next ones back",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Some)}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-24 too early, 25-26 prepare, 27-30 open, " +
				"31-32 last days, 33-41 missed, 42-60 closed",
			"13 prepare, 15 open, 25 prepare, 27 open, 31 last-days, 33 missed, 42 closed"},
		{"not yet: one leaf seen when the text came", Season{Plot: plot20, Tool: tool15,
			Sightings: []Sighting{{On: at(15), Leaves: OneLeaf}}, Passes: []Pass{pass(19, Few)}}, nil,
			"0-12 too early, 13-14 prepare, 15 too early, 16-17 prepare, 18 open, 19-22 follow up, 23-31 too early, " +
				"32-33 prepare, 34-37 open, 38-39 last days, 40-41 missed, 42-60 closed",
			"13 prepare, 15 open, 16 prepare, 32 prepare, 34 open, 38 last-days, 40 missed, 42 closed"},
		{"two or three leaves seen early", Season{Plot: plot20, Tool: tool15, Sightings: []Sighting{{On: at(10),
			Leaves: TwoThree, Amount: Many}}, Passes: []Pass{pass(11, Few)}}, nil,
			"0-9 too early, 10 open, 11-14 follow up, 15-23 too early, 24-25 prepare, 26-29 open, 30-31 last days, " +
				"32-41 missed, 42-60 closed", "11 open, 24 prepare, 26 open, 30 last-days, 32 missed, 42 closed"},
		{"weeds seen too big, pulled by hand three days later",
			Season{Plot: plot20, Tool: tool15, Sightings: []Sighting{{On: at(14), Leaves: FourPlus}},
				Passes: []Pass{{On: at(17), With: ByHand, Left: Few}}}, nil,
			"0-12 too early, 13 prepare, 14-16 missed, 17-20 follow up, 21-29 too early, 30-31 prepare, 32-35 open, " +
				"36-37 last days, 38-41 missed, 42-60 closed",
			"13 prepare, 30 prepare, 32 open, 36 last-days, 38 missed, 42 closed"},
		{"rows seen open: five days more", Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Few)},
			Sightings: []Sighting{{On: at(39), Rows: RowsOpen}}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-28 too early, 29-30 prepare, 31-34 open, " +
				"35-36 last days, 37-43 missed, 44-60 closed",
			"13 prepare, 15 open, 29 prepare, 31 open, 35 last-days, 37 missed, 44 closed"},
		{"rows seen closed", Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Few)},
			Sightings: []Sighting{{On: at(33), Rows: RowsClosed}}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-28 too early, 29-30 prepare, 31-32 open, " +
				"33-60 closed", "13 prepare, 15 open, 29 prepare, 31 open"},
		{"the grower closes the plot",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(16, Few)}, ClosedOn: at(25)}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-24 too early, 25-60 closed",
			"13 prepare, 15 open"},
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
			Season{Plot: square(18), Tool: Tool{WidthCM: 12, MaxWidthCM: 18}, Passes: []Pass{pass(16, Few)}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-28 too early, 29-30 prepare, 31-34 open, " +
				"35-36 last days, 37-40 missed, 41-60 closed",
			"13 prepare, 15 open, 29 prepare, 31 open, 35 last-days, 37 missed, 41 closed"},
		{"no tool yet: the weeds' own days",
			Season{Plot: plot20, Passes: []Pass{{On: at(16), With: ByHand, Left: Few}}}, nil,
			"0-12 too early, 13-14 prepare, 15 open, 16-19 follow up, 20-28 too early, 29-30 prepare, 31-34 open, " +
				"35-36 last days, 37-41 missed, 42-60 closed",
			"13 prepare, 15 open, 29 prepare, 31 open, 35 last-days, 37 missed, 42 closed"},
		{"scattered seed", Season{Plot: Plot{Method: Broadcast, Planted: planted}, Tool: tool15}, nil,
			"0-7 too early, 8-9 prepare, 10-12 open, 13-14 last days, 15-37 missed, 38-39 prepare, 40-41 open, 42 " +
				"last days, 43-47 missed, 48-49 prepare, 50-51 open, 52 last days, 53-60 closed",
			"8 prepare, 10 open, 13 last-days, 15 missed, 38 prepare, 40 open, 42 last-days, 45 missed, 48 prepare, " +
				"50 open, 52 last-days, 55 closed"},
		{"sown in rows: no flood, no nursery", Season{Plot: Plot{Method: RowSown, Planted: planted, RowSpacingCM: 25},
			Tool: Tool{WidthCM: 20}, Passes: []Pass{pass(13, Few)}}, nil,
			"0-8 too early, 9-10 prepare, 11-12 open, 13-16 follow up, 17-21 too early, 22-23 prepare, 24-27 open, " +
				"28-29 last days, 30-38 missed, 39-40 prepare, 41-44 open, 45-46 last days, 47-50 missed, 51-60 closed",
			"9 prepare, 11 open, 22 prepare, 24 open, 28 last-days, 30 missed, 39 prepare, 41 open, 45 last-days, " +
				"47 missed, 51 closed"},
		{"not kept under water", Season{Plot: Plot{Method: Transplanted, Planted: planted, RowSpacingCM: 20,
			HillSpacingCM: 20, Flood: FloodMoist}, Tool: tool15, Passes: []Pass{pass(12, Few)}}, nil,
			"0-8 too early, 9-10 prepare, 11 open, 12-15 follow up, 16-20 too early, 21-22 prepare, 23-26 open, " +
				"27-28 last days, 29-37 missed, 38-39 prepare, 40-41 last days, 42-60 closed",
			"9 prepare, 11 open, 21 prepare, 23 open, 27 last-days, 29 missed, 38 prepare, 40 last-days, 42 closed"},
		{"registered late, in the window", Season{Plot: plot20, Tool: tool15, Since: at(18)}, nil,
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed",
			"18 open, 19 last-days, 21 missed, 34 prepare, 36 open, 40 last-days, 42 closed"},
		{"registered late, after the window", Season{Plot: plot20, Tool: tool15, Since: at(25)}, nil,
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed", "34 prepare, 36 open, 40 last-days, 42 closed"},
		{"registered after everything", Season{Plot: plot20, Tool: tool15, Since: at(50)}, nil,
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed", ""},
		{"out of order on days 13 to 15",
			Season{Plot: plot20, Tool: tool15, Passes: []Pass{pass(18, Few)}}, []Day{13, 15},
			"0-12 too early, 13-14 prepare, 15-17 open, 18-21 follow up, 22-30 too early, 31-32 prepare, 33-36 " +
				"open, 37-38 last days, 39-41 missed, 42-60 closed",
			"16 open, 31 prepare, 33 open, 37 last-days, 39 missed, 42 closed"},
		{"out of order on days 19 to 21", Season{Plot: plot20, Tool: tool15}, []Day{19, 21},
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed",
			"13 prepare, 15 open, 22 missed, 34 prepare, 36 open, 40 last-days, 42 closed"},
		{"out of order from day 12 to the end and past it", Season{Plot: plot20, Tool: tool15}, []Day{12, 55},
			"0-12 too early, 13-14 prepare, 15-18 open, 19-20 last days, 21-33 missed, 34-35 prepare, 36-39 open, " +
				"40-41 last days, 42-60 closed", ""},
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
