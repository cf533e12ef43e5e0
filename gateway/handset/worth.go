package handset

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/engine/simulate"
)

// How much one request simulates. It takes about a second.
const (
	worthPlots       = 400           // plots per simulation: chance changes a share by a few percent
	worthSeasons     = 4             // number of consecutive seasons in which the service learns the place's weeds
	worthSeasonPlots = 100           // number of plots in each of these seasons
	worthClock       = "slow leaves" // weed clock of the place that learns; the service does not know it
	worthFields      = 40            // number of plots of each kind in the comparison with fixed days
)

// worthView has the values that the template of the page "What the bell is worth" uses. The page compares a simulated
// season with and without the texts of the bell (the reminder loop).
type worthView struct {
	view
	Growers, Years, Waters []worthChoice
	Habit                  string
	Seed                   uint64
	Rate                   string
	Refused                string // the reason if nothing was simulated, else ""
	Plots                  int
	Bars                   []worthBar
	Advised, Followed      worthShare
	Texts, Looks           string
	Verdict                string
	Pictured               string // describes the bars in words, for screen readers
	NoHelp                 []string
	SeasonPlots            int
	Clock                  string // weed clock of the place that learns
	Seasons                []worthSeason
	Fields, BestDay        int
	Grounds                []worthGround
	Comparison             []string
	Assumptions            []simulate.Assumption
	MinRate, MaxRate       float64
	GrowersName, InAYear   string
}

type worthChoice struct {
	Name   string
	Chosen bool
}

// worthBar compares a share of the plots without the bell to the same share with the bell.
type worthBar struct {
	What          string
	Without, With worthShare
}

type worthShare struct {
	Percent int
	Words   string // the count in words, such as "485 of 600"
}

type worthSeason struct {
	Season   int
	Foretold string
	First    worthShare
}

// worthGround has the shares of a kind of ground in the comparison with fixed days, in percent.
type worthGround struct {
	MeanC                         float64
	Water                         string
	Habit, One, Own, Never, Looks int
}

// worth serves the page "What the bell is worth", which shows a simulated season with the bell and without it.
func (p page) worth(w http.ResponseWriter, r *http.Request) {
	v, err := p.view(r.Context(), "")
	x := worthView{
		view: v, NoHelp: WhereNoHelp(), SeasonPlots: worthSeasonPlots, Clock: worthClock,
		MinRate: engine.MinWeedRate, MaxRate: engine.MaxWeedRate,
	}
	if err == nil {
		err = x.simulate(r.Context(), p.room, r.URL.Query())
	}
	render(w, "worth.html", x, err)
}

// simulate runs the simulations of one request. Other requests wait until they have ended, because each simulation
// keeps a processor busy.
func (x *worthView) simulate(ctx context.Context, room *Room, q url.Values) error {
	o, err := x.options(q)
	if err != nil {
		x.Refused = sentence(err)
		return nil
	}
	select {
	case room.simulation <- struct{}{}:
		defer func() { <-room.simulation }()
	case <-ctx.Done(): // the browser has closed the connection and no longer waits for the page
		return ctx.Err()
	}
	res, err := simulate.Run(o)
	if err != nil {
		x.Refused = sentence(err)
		return nil
	}
	o.Plots, o.Clock = worthSeasonPlots, worthClock
	seasons, err := simulate.Learn(o, worthSeasons)
	if err != nil {
		return err
	}
	grid, err := simulate.Compare(simulate.GridOptions{Seed: o.Seed, Fields: worthFields, Habit: o.Habit})
	if err != nil {
		return err
	}
	x.fill(res, seasons, grid)
	return nil
}

// fill sets the results of the simulations.
func (x *worthView) fill(res simulate.Result, seasons []simulate.SeasonLearned, grid simulate.Grid) {
	a, b := res.Without, res.With
	x.Plots, x.Assumptions = b.Plots, res.Assumptions
	x.Bars = []worthBar{
		{"First pass in time", share(a.PlotsFirstInTime, a.Plots), share(b.PlotsFirstInTime, b.Plots)},
		{"Every pass in time", share(a.PlotsAllInTime, a.Plots), share(b.PlotsAllInTime, b.Plots)},
		{"Passes in time", share(a.PassesInTime, a.Passes), share(b.PassesInTime, b.Passes)},
	}
	x.Advised, x.Followed = share(b.AdvisedInTime, b.Advised), share(b.Followed, b.Advised)
	plots := float64(max(1, b.Plots))
	x.Texts, x.Looks = fmt.Sprintf("%.1f", float64(b.Texts)/plots), fmt.Sprintf("%.1f", float64(b.Looks)/plots)
	x.Verdict = Verdict(res)
	for i, bar := range x.Bars {
		if i > 0 {
			x.Pictured += "; "
		}
		x.Pictured += fmt.Sprintf("%s: %d%% by habit, %d%% with the bell",
			bar.What, bar.Without.Percent, bar.With.Percent)
	}
	for _, s := range seasons {
		x.Seasons = append(x.Seasons, worthSeason{s.Season, fmt.Sprintf("%.2f", s.Foretold),
			share(s.With.PlotsFirstInTime, s.With.Plots)})
	}
	x.Fields, x.BestDay, x.Comparison = grid.Fields, grid.BestDay, Comparison(grid)
	for _, c := range grid.Grounds() {
		percent := func(share float64) int { return int(math.Round(100 * share)) }
		x.Grounds = append(x.Grounds, worthGround{c.MeanC, c.Water.String(), percent(c.Habit), percent(c.One),
			percent(c.Own), percent(c.Never), percent(c.Look)})
	}
}

// sentence returns the message of an error as a sentence for the page: without the package name, with a capital letter
// and a full stop.
func sentence(err error) string {
	said := strings.TrimPrefix(err.Error(), "simulate: ")
	return strings.ToUpper(said[:1]) + said[1:] + "."
}

// options reads the form. A missing field gets its default: the first of each list, the usual habit, rate 1, seed 0.
func (x *worthView) options(q url.Values) (simulate.Options, error) {
	choose := func(name string, of []string) (string, []worthChoice) {
		chosen, list := cmp.Or(q.Get(name), of[0]), []worthChoice(nil)
		for _, n := range of {
			list = append(list, worthChoice{n, n == chosen})
		}
		return chosen, list
	}
	var growers, year, water string
	growers, x.Growers = choose("growers", simulate.KindsOfGrowers())
	year, x.Years = choose("year", simulate.Years())
	water, x.Waters = choose("water", simulate.Waters())
	x.GrowersName, x.InAYear, x.Rate = growers, year, cmp.Or(q.Get("rate"), "1")
	x.Habit = cmp.Or(q.Get("habit"), simulate.DefaultHabit.String())
	o := simulate.Options{Plots: worthPlots, Measured: true}
	var ok bool
	if o.Growers, ok = simulate.GrowersNamed(growers); !ok {
		return o, fmt.Errorf("there are no growers called %q", growers)
	}
	if o.Weather, ok = simulate.WeatherOf(year); !ok {
		return o, fmt.Errorf("there is no year called %q", year)
	}
	if o.Water, ok = simulate.WaterNamed(water); !ok {
		return o, fmt.Errorf("there is no water called %q", water)
	}
	var err error
	if s := q.Get("seed"); s != "" {
		if o.Seed, err = strconv.ParseUint(s, 10, 32); err != nil {
			return o, fmt.Errorf("the seed is a whole number, not %q", s)
		}
	}
	x.Seed = o.Seed
	if o.Habit, err = simulate.ParseHabit(x.Habit); err != nil {
		return o, err
	}
	const low, high = engine.MinWeedRate, engine.MaxWeedRate
	o.Rate, err = strconv.ParseFloat(x.Rate, 64)
	if err != nil || !(o.Rate >= low && o.Rate <= high) { // written with ! so that NaN is refused too
		return o, fmt.Errorf("weeds grow %g to %g times as fast as their clock says, not %q", low, high, x.Rate)
	}
	return o, nil
}

// share returns n out of a total: as a percentage, rounded to a whole number (a half is rounded up), and in words.
func share(n, of int) worthShare {
	if of == 0 {
		return worthShare{Words: "none"}
	}
	return worthShare{(200*n + of) / (2 * of), fmt.Sprintf("%d of %d", n, of)}
}

// worthRow is the y coordinate of the top of the i-th pair of bars, in units of the page's SVG.
func worthRow(i int) int { return 78 * i }

// worthWidth is the width of a bar for a percentage, in units of the page's SVG.
func worthWidth(percent int) int { return percent * worthFull / 100 }

const worthFull = 212 // width of a bar of 100 %, in units of the page's SVG

// Verdict says in two sentences whether the bell helps, with the figures. A difference between two shares counts if it
// is more than twice its standard error for two independent samples.
func Verdict(r simulate.Result) string {
	a, b := r.Without, r.With
	first := beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots)
	all := beyondChance(a.PlotsAllInTime, b.PlotsAllInTime, a.Plots)
	figures := fmt.Sprintf("First pass in time on %d%% of plots by habit and %d%% with the bell; "+
		"every pass on %d%% and %d%%.",
		share(a.PlotsFirstInTime, a.Plots).Percent, share(b.PlotsFirstInTime, b.Plots).Percent,
		share(a.PlotsAllInTime, a.Plots).Percent, share(b.PlotsAllInTime, b.Plots).Percent)
	switch {
	case first == 0 && all == 0:
		return "From these plots it cannot be told whether the bell helps: the difference may be chance. " + figures
	case first < 0 && all <= 0 || first <= 0 && all < 0:
		return "Here the bell does not help: with it fewer are in time. " + figures
	case first < 0 || all < 0:
		return "Here the bell helps in one thing and harms in the other. " + figures
	case all == 0:
		return "Here the bell helps with the first pass, and beyond that it cannot be told. " + figures
	case first == 0:
		return "Here the bell helps with the later passes, not with the first. " + figures
	}
	return "Here the bell helps. " + figures
}

// beyondChance compares two counts, each out of n plots: 1 if with is larger than chance explains, -1 if it is smaller,
// else 0.
func beyondChance(without, with, n int) int {
	if n == 0 {
		return 0
	}
	p, q := float64(without)/float64(n), float64(with)/float64(n)
	margin := 2 * math.Sqrt((p*(1-p)+q*(1-q))/float64(n))
	switch {
	case q-p > margin:
		return 1
	case p-q > margin:
		return -1
	}
	return 0
}

// WhereNoHelp lists the cases in which the bell (the reminder loop) helps growers little or not at all, as the
// simulation shows.
func WhereNoHelp() []string {
	return []string{
		"Growers who do not act on the day: the bell names good days, and few plots are weeded on them.",
		"Growers who never look, where weeds follow a slow clock: the named day is a guess, and habit can be better.",
		"A cool place whose weeds follow a clock that the service does not know: a fixed day that the village has " +
			"found out is better, until the place has learned.",
		"A place whose plots follow different clocks: what the service learns on some plots misleads it on others.",
	}
}

// Comparison says in words how the days that the bell names compare with fixed days, and where they are worse. A
// difference counts if it is more than twice its standard error, and from the best day of a kind also more than
// behindPercent.
func Comparison(g simulate.Grid) []string {
	all := func(share func(simulate.Cell) float64) float64 {
		return 100 * g.Score(func(simulate.Cell) bool { return true }, share).Mean
	}
	worse := func(share, than func(simulate.Cell) float64, by float64) string {
		var list []string
		for _, c := range g.Cells {
			n := float64(g.Fields)
			if than(c)-share(c) > by && beyondChance(int(than(c)*n+0.5), int(share(c)*n+0.5), g.Fields) < 0 {
				list = append(list, fmt.Sprintf("%g °C, %s, %s (%.0f and %.0f%%)", c.MeanC, c.Water, c.Clock,
					100*share(c), 100*than(c)))
			}
		}
		if len(list) == 0 {
			return fmt.Sprintf("on none of %d kinds of plots.", len(g.Cells))
		}
		return fmt.Sprintf("on %d of %d kinds of plots: %s.", len(list), len(g.Cells), strings.Join(list, "; "))
	}
	habit, own := func(c simulate.Cell) float64 { return c.Habit }, func(c simulate.Cell) float64 { return c.Own }
	look, never := func(c simulate.Cell) float64 { return c.Look }, func(c simulate.Cell) float64 { return c.Never }
	return []string{
		fmt.Sprintf("The day that the bell names is in time on %.0f%% of the plots where growers look, and on %.0f%% "+
			"where nobody looks. Habit is in time on %.0f%%, the same day everywhere (day %d) on %.0f%%, and the best "+
			"day of each kind, which nobody can know, on %.0f%%.", all(look), all(never), all(habit), g.BestDay,
			all(func(c simulate.Cell) float64 { return c.One }), all(own)),
		"Where growers look, the bell is worse than habit " + worse(look, habit, 0),
		fmt.Sprintf("Where growers look, it is more than %d points behind the best day of the kind ", behindPercent) +
			worse(look, own, behindPercent/100.0),
		"Where nobody looks, it is worse than habit " + worse(never, habit, 0),
	}
}

const behindPercent = 6
