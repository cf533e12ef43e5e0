package main

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"rowbell/engine"
	"rowbell/engine/simulate"
	"rowbell/gateway/handset"
	"rowbell/store/weathercsv"
)

// simulateFlags play seasons of invented growers instead of opening the
// practice room.
type simulateFlags struct {
	Simulate int     `help:"Play a season of N invented plots with the bell and without it, print what became of them, and stop." placeholder:"N"`
	Growers  string  `help:"How the growers of --simulate are: usual, honest, sloppy or lying." placeholder:"NATURE"`
	Year     string  `help:"The weather of --simulate: normal, dry, wet or cool, or a daily CSV file as for import weather." placeholder:"YEAR"`
	Seed     uint64  `help:"Where chance begins: the same seed plays the same season."`
	Rate     float64 `help:"How fast weeds really go, to the table's clock, 0.7 to 1.4." placeholder:"RATE"`
	Learn    int     `help:"Play N seasons more, one after the other, in which the place learns its weeds' rate." placeholder:"N"`
}

// asked reports that any of them was given.
func (f simulateFlags) asked() bool { return f != simulateFlags{} }

// run plays and prints.
func (f simulateFlags) run(out io.Writer, now time.Time) error {
	o, err := f.options(now)
	if err != nil {
		return &usageError{err, "rowbell practice --simulate 1000 --growers usual --year dry"}
	}
	r, err := simulate.Run(o)
	if err != nil {
		return simulateRefusal(err)
	}
	var seasons []simulate.SeasonError
	if f.Learn > 0 {
		if seasons, err = simulate.Learn(o, f.Learn); err != nil {
			return simulateRefusal(err)
		}
	}
	fmt.Fprintf(out, "%s.\n", f.played())
	return simulateReport(out, r, seasons)
}

// played says who and what weather is played.
func (f simulateFlags) played() string {
	growers, year := cmp.Or(f.Growers, simulate.Natures()[0]), cmp.Or(f.Year, simulate.Years()[0])
	if slices.Contains(simulate.Years(), year) {
		return fmt.Sprintf("Growers: %s. Weather: an invented %s year, seed %d", growers, year, f.Seed)
	}
	return fmt.Sprintf("Growers: %s. Weather: %s, seed %d; days that it lacks, and what is usual, are those of an invented valley", growers, year, f.Seed)
}

func simulateRefusal(err error) error {
	return &usageError{fmt.Errorf("%s", strings.TrimPrefix(err.Error(), "simulate: ")), "rowbell practice --simulate 1000"}
}

// options are what the flags say.
func (f simulateFlags) options(now time.Time) (simulate.Options, error) {
	o := simulate.Options{Seed: f.Seed, Plots: f.Simulate, TrueRate: f.Rate, Measured: true}
	if f.Simulate <= 0 {
		return o, fmt.Errorf("--simulate %d: say how many plots are played", f.Simulate)
	}
	if f.Learn < 0 {
		return o, fmt.Errorf("--learn %d is below 0", f.Learn)
	}
	var ok bool
	if o.Nature, ok = simulate.NatureNamed(cmp.Or(f.Growers, simulate.Natures()[0])); !ok {
		return o, fmt.Errorf("--growers %q is not one of %s", f.Growers, strings.Join(simulate.Natures(), ", "))
	}
	year := cmp.Or(f.Year, simulate.Years()[0])
	if o.Weather, ok = simulate.WeatherOf(year); ok {
		return o, nil
	}
	file, err := os.Open(year)
	if err != nil {
		return o, fmt.Errorf("--year %q is not one of %s, and no file: %w", year, strings.Join(simulate.Years(), ", "), err)
	}
	defer file.Close()
	days, err := weathercsv.Parse(file, engine.DayOf(now, now.Location())+simulateAhead)
	if err != nil {
		return o, fmt.Errorf("%s: %w", year, err)
	}
	o.Weather = engine.Weather{Normals: simulate.Valley(), Daily: weathercsv.Daily(days)}
	o.First = firstPlanting(o.Weather.Daily)
	if end := days[len(days)-1].On; end < o.First {
		return o, fmt.Errorf("%s: its days end on %s, before planting would begin on %s", year, end, o.First)
	}
	return o, nil
}

// simulateAhead is how far ahead of today an invented year may lie, in days.
const simulateAhead = 10 * 366

// firstPlanting is a planting that has its season within the measured days:
// the fifteenth of June of their first year, or the first day if that is later.
func firstPlanting(d engine.Daily) engine.Day {
	year, _, _ := d.From.Date()
	return max(d.From, engine.Date(year, time.June, 15))
}

func simulateReport(out io.Writer, r simulate.Result, seasons []simulate.SeasonError) error {
	fmt.Fprintf(out, "%d plots of invented growers, the same twice. In time is between two and four leaves of the true weeds.\n\n", r.With.Plots)
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "\twithout the bell\twith the bell\t")
	share := func(n, of int) string {
		if of == 0 {
			return "-"
		}
		return fmt.Sprintf("%d (%d%%)", n, (200*n+of)/(2*of)) // halves go up, as in the verdict
	}
	a, b := r.Without, r.With
	fmt.Fprintf(t, "first pass in time\t%s\t%s\t\n", share(a.PlotsFirstInTime, a.Plots), share(b.PlotsFirstInTime, b.Plots))
	fmt.Fprintf(t, "every pass in time\t%s\t%s\t\n", share(a.PlotsAllInTime, a.Plots), share(b.PlotsAllInTime, b.Plots))
	fmt.Fprintf(t, "passes in time\t%s\t%s\t\n", share(a.PassesInTime, a.Passes), share(b.PassesInTime, b.Passes))
	fmt.Fprintf(t, "texts a plot\t-\t%.1f\t\n", float64(b.TextsSent)/float64(max(1, b.Plots)))
	fmt.Fprintf(t, "days from the true opening\t-\t%.1f\t\n", b.MeanErrDays)
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s\n\nWhere it helps little or not at all:\n", handset.Verdict(r))
	for _, where := range handset.WhereNoHelp() {
		fmt.Fprintf(out, "  %s\n", where)
	}
	if len(seasons) > 0 {
		fmt.Fprintln(out, "\nA place that learns, season by season:")
		t = tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(t, "season\trate reckoned with\tdays from the true opening\tfirst pass in time\tobservations\t")
		for _, s := range seasons {
			fmt.Fprintf(t, "%d\t%.2f\t%.1f\t%s\t%d\t\n", s.Season, s.Rate, s.MeanErrDays, share(s.With.PlotsFirstInTime, s.With.Plots), s.Learned.N)
		}
		if err := t.Flush(); err != nil {
			return err
		}
	}
	fmt.Fprintln(out, "\nWhat it rests on, all of it chosen here and none of it a survey. No field was measured, and nothing here promises a yield:")
	t = tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, x := range slices.Clone(r.Assumptions) {
		unit := x.Unit
		if unit == "1" {
			unit = ""
		}
		fmt.Fprintf(t, "  %s\t%g %s\t%s\n", x.Name, x.Value, unit, x.Meaning)
	}
	return t.Flush()
}
