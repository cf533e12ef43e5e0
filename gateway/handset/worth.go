package handset

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/engine/simulate"
)

// What one request plays: 2,000 plots in all, in half a second.
const (
	worthPlots       = 800 // with the bell and without it; enough to tell a few percent from chance
	worthSeasons     = 4   // of a place that learns
	worthSeasonPlots = 300
)

// worthView is what the page on the bell's worth shows.
type worthView struct {
	view
	Growers, Years       []worthChoice
	Seed                 uint64
	Rate                 string
	Refused              string // why nothing was played
	Plots                int
	Bars                 []worthBar
	Texts, Err           string
	Verdict              string
	Pictured             string // the bars in words
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

// worthBar is one line of the comparison: shares of 100.
type worthBar struct {
	What          string
	Without, With worthShare
}

type worthShare struct {
	Percent int
	Words   string // "485 of 600"
}

type worthSeason struct {
	Season    int
	Rate, Err string
	First     worthShare
}

// worth plays a season of invented growers with the bell and without it. One
// is played at a time: it takes a processor.
func (p page) worth(w http.ResponseWriter, r *http.Request) {
	v, err := p.view(r.Context(), "")
	x := worthView{view: v, NoHelp: WhereNoHelp(), SeasonPlots: worthSeasonPlots, MinRate: engine.MinWeedRate, MaxRate: engine.MaxWeedRate}
	if err == nil {
		err = x.play(r.Context(), p.room, r.URL.Query())
	}
	render(w, "worth.html", x, err)
}

func (x *worthView) play(ctx context.Context, room *Room, q url.Values) error {
	o, err := x.options(q)
	if err != nil {
		x.Refused = sentence(err)
		return nil
	}
	select {
	case room.playing <- struct{}{}:
		defer func() { <-room.playing }()
	case <-ctx.Done(): // nobody waits for it any more
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
		x.Pictured += fmt.Sprintf("%s: %d%% by habit, %d%% with the bell", bar.What, bar.Without.Percent, bar.With.Percent)
	}
	for _, s := range seasons {
		x.Seasons = append(x.Seasons, worthSeason{s.Season, fmt.Sprintf("%.2f", s.Rate), fmt.Sprintf("%.1f", s.MeanErrDays), share(s.With.PlotsFirstInTime, s.With.Plots)})
	}
	return nil
}

// sentence is an error as it stands on the page.
func sentence(err error) string {
	said := strings.TrimPrefix(err.Error(), "simulate: ")
	return strings.ToUpper(said[:1]) + said[1:] + "."
}

// options reads the form; what is not in it is as usual.
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
	if o.TrueRate, err = strconv.ParseFloat(x.Rate, 64); err != nil || !(o.TrueRate >= engine.MinWeedRate && o.TrueRate <= engine.MaxWeedRate) {
		return o, fmt.Errorf("weeds go %g to %g times as fast as the table says, not %q", engine.MinWeedRate, engine.MaxWeedRate, x.Rate)
	}
	return o, nil
}

func share(n, of int) worthShare {
	if of == 0 {
		return worthShare{Words: "none"}
	}
	return worthShare{(200*n + of) / (2 * of), fmt.Sprintf("%d of %d", n, of)}
}

// worthRow is where the i-th bar of the picture stands, in its own units, and
// worthWidth how wide a share is.
func worthRow(i int) int { return 78 * i }

func worthWidth(percent int) int { return percent * worthFull / 100 }

// worthFull is the width of a whole in the picture.
const worthFull = 212
