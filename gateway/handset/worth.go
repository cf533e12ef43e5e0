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

// How much one request simulates: about 2,000 plots (800 and 4 times 300), which take half a second.
const (
	worthPlots       = 800 // plots per simulation: chance changes a share by a few percent at most
	worthSeasons     = 4   // number of consecutive seasons, in which the service learns the place's weed rate
	worthSeasonPlots = 300 // number of plots in each of these seasons
)

// worthView has the values that the template of the page "What the bell is worth" uses. The page compares a simulated
// season with and without the texts of the bell (the reminder loop).
type worthView struct {
	view
	Growers, Years       []worthChoice
	Seed                 uint64
	Rate                 string
	Refused              string // the reason if nothing was simulated, else ""
	Plots                int
	Bars                 []worthBar
	Texts, Err           string
	Verdict              string
	Pictured             string // describes the bars in words, for screen readers
	NoHelp               []string
	SeasonPlots          int
	Seasons              []worthSeason
	Assumptions          []simulate.Assumption
	MinRate, MaxRate     float64
	GrowersName, InAYear string
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
	Season    int
	Rate, Err string
	First     worthShare
}

// worth serves the page "What the bell is worth", which shows a simulated season with the bell and without it.
func (p page) worth(w http.ResponseWriter, r *http.Request) {
	v, err := p.view(r.Context(), "")
	x := worthView{
		view: v, NoHelp: WhereNoHelp(), SeasonPlots: worthSeasonPlots,
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
	o.Plots = worthSeasonPlots
	seasons, err := simulate.Learn(o, worthSeasons)
	if err != nil {
		return err
	}
	a, b := res.Without, res.With
	x.Plots, x.Assumptions = b.Plots, res.Assumptions
	x.Bars = []worthBar{
		{"First pass in time", share(a.PlotsFirstInTime, a.Plots), share(b.PlotsFirstInTime, b.Plots)},
		{"Every pass in time", share(a.PlotsAllInTime, a.Plots), share(b.PlotsAllInTime, b.Plots)},
		{"Passes in time", share(a.PassesInTime, a.Passes), share(b.PassesInTime, b.Passes)},
	}
	x.Texts = fmt.Sprintf("%.1f", float64(b.TextsSent)/float64(max(1, b.Plots)))
	x.Err = fmt.Sprintf("%.1f", b.MeanErrDays)
	x.Verdict = Verdict(res)
	for i, bar := range x.Bars {
		if i > 0 {
			x.Pictured += "; "
		}
		x.Pictured += fmt.Sprintf("%s: %d%% by habit, %d%% with the bell",
			bar.What, bar.Without.Percent, bar.With.Percent)
	}
	for _, s := range seasons {
		x.Seasons = append(x.Seasons, worthSeason{
			s.Season, fmt.Sprintf("%.2f", s.Rate), fmt.Sprintf("%.1f", s.MeanErrDays),
			share(s.With.PlotsFirstInTime, s.With.Plots),
		})
	}
	return nil
}

// sentence returns the message of an error as a sentence for the page: without the package name, with a capital letter
// and a full stop.
func sentence(err error) string {
	said := strings.TrimPrefix(err.Error(), "simulate: ")
	return strings.ToUpper(said[:1]) + said[1:] + "."
}

// options reads the form. A missing field gets its default: the first kind of growers, the first kind of year, rate 1,
// seed 0.
func (x *worthView) options(q url.Values) (simulate.Options, error) {
	growers, year := cmp.Or(q.Get("growers"), simulate.Natures()[0]), cmp.Or(q.Get("year"), simulate.Years()[0])
	for _, n := range simulate.Natures() {
		x.Growers = append(x.Growers, worthChoice{n, n == growers})
	}
	for _, n := range simulate.Years() {
		x.Years = append(x.Years, worthChoice{n, n == year})
	}
	x.GrowersName, x.InAYear, x.Rate = growers, year, cmp.Or(q.Get("rate"), "1")
	o := simulate.Options{Plots: worthPlots, Measured: true}
	var ok bool
	if o.Nature, ok = simulate.NatureNamed(growers); !ok {
		return o, fmt.Errorf("there are no growers called %q", growers)
	}
	if o.Weather, ok = simulate.WeatherOf(year); !ok {
		return o, fmt.Errorf("there is no year called %q", year)
	}
	var err error
	if s := q.Get("seed"); s != "" {
		if o.Seed, err = strconv.ParseUint(s, 10, 32); err != nil {
			return o, fmt.Errorf("chance begins at a whole number, not at %q", s)
		}
	}
	x.Seed = o.Seed
	const low, high = engine.MinWeedRate, engine.MaxWeedRate
	o.TrueRate, err = strconv.ParseFloat(x.Rate, 64)
	if err != nil || !(o.TrueRate >= low && o.TrueRate <= high) { // written with ! so that NaN is refused too
		return o, fmt.Errorf("weeds go %g to %g times as fast as the table says, not %q", low, high, x.Rate)
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
		return "Here the bell does not help: what difference there is may be chance. " + figures
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
		"Growers who wait for a text and then do not act, as many of the sloppy and the lying: " +
			"they weed later than their habit would have had them.",
		"Seasons in which habit meets the window anyway, as in a hot dry year: " +
			"the first pass has little to gain from a text.",
		"A place whose weeds go faster than the service believes: " +
			"it rings too late until it has learned, and habit may do better.",
	}
}
