package practice

import (
	"cmp"
	"errors"
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

// Simulation has the flags of a simulated season. The season is simulated twice with the same invented growers: with
// the bell (reminders) and without the bell.
type Simulation struct {
	Simulate int     `help:"Print how a season of N invented plots goes, with and without the bell." placeholder:"N"`
	Growers  string  `help:"The growers of --simulate: usual, honest, sloppy or lying." placeholder:"NATURE"`
	Year     string  `help:"The weather of --simulate: normal, dry, wet, cool, or a CSV file." placeholder:"YEAR"`
	Seed     uint64  `help:"Seed of the random numbers: the same seed gives the same season."`
	Rate     float64 `help:"The true weed growth rate, relative to the published one: 0.7 to 1.4." placeholder:"RATE"`
	Learn    int     `help:"Simulate N more seasons in which the place learns its weed growth rate." placeholder:"N"`
}

// Run simulates the season and prints the result. After each plot, Run calls step with the number of finished plots and
// the total number of plots.
func (f Simulation) Run(out io.Writer, now time.Time, step func(done, total int)) error {
	o, err := f.options(now)
	if err != nil {
		return &InputError{err}
	}
	played := 0
	o.Played = func() {
		played++
		step(played, (2+f.Learn)*f.Simulate)
	}
	r, err := simulate.Run(o)
	if err != nil {
		return refusal(err)
	}
	var seasons []simulate.SeasonError
	if f.Learn > 0 {
		if seasons, err = simulate.Learn(o, f.Learn); err != nil {
			return refusal(err)
		}
	}
	fmt.Fprintf(out, "%s.\n", f.played())
	return printResult(out, r, seasons)
}

// played describes the simulated growers and the weather.
func (f Simulation) played() string {
	growers, year := cmp.Or(f.Growers, simulate.Natures()[0]), cmp.Or(f.Year, simulate.Years()[0])
	if slices.Contains(simulate.Years(), year) {
		return fmt.Sprintf("Growers: %s. Weather: an invented %s year, seed %d", growers, year, f.Seed)
	}
	return fmt.Sprintf("Growers: %s. Weather: %s, seed %d; days that it lacks, and what is usual, "+
		"are those of an invented valley", growers, year, f.Seed)
}

// refusal turns an error of package simulate into an InputError and removes the package name from the message.
func refusal(err error) error {
	return &InputError{errors.New(strings.TrimPrefix(err.Error(), "simulate: "))}
}

// options turns the flags into the options of package simulate.
func (f Simulation) options(now time.Time) (simulate.Options, error) {
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
		return o, fmt.Errorf("--year %q is not one of %s, and no file: %w",
			year, strings.Join(simulate.Years(), ", "), err)
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

// simulateAhead is how many days in the future a day of a weather file may be.
const simulateAhead = 10 * 366

// firstPlanting returns the first planting day: 15 June of the first measured year, or the first measured day if that
// is later. The whole season is then within the measured days.
func firstPlanting(d engine.Daily) engine.Day {
	year, _, _ := d.From.Date()
	return max(d.From, engine.Date(year, time.June, 15))
}

// printResult prints the season with and without the bell, the seasons in which the weed growth rate of the place was
// learned, and the assumptions of the simulation.
func printResult(out io.Writer, r simulate.Result, seasons []simulate.SeasonError) error {
	fmt.Fprintf(out, "%d plots of invented growers, the same twice. "+
		"In time is between two and four leaves of the true weeds.\n\n", r.With.Plots)
	a, b := r.Without, r.With
	texts := float64(b.TextsSent) / float64(max(1, b.Plots))
	err := printTable(out, tabwriter.AlignRight, [][]any{
		{"", "without the bell", "with the bell"},
		{"first pass in time", share(a.PlotsFirstInTime, a.Plots), share(b.PlotsFirstInTime, b.Plots)},
		{"every pass in time", share(a.PlotsAllInTime, a.Plots), share(b.PlotsAllInTime, b.Plots)},
		{"passes in time", share(a.PassesInTime, a.Passes), share(b.PassesInTime, b.Passes)},
		{"texts a plot", "-", fmt.Sprintf("%.1f", texts)},
		{"days from the true opening", "-", fmt.Sprintf("%.1f", b.MeanErrDays)},
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s\n\nWhere it helps little or not at all:\n", handset.Verdict(r))
	for _, where := range handset.WhereNoHelp() {
		fmt.Fprintf(out, "  %s\n", where)
	}
	if len(seasons) > 0 {
		fmt.Fprintln(out, "\nA place that learns, season by season:")
		rows := [][]any{
			{"season", "rate reckoned with", "days from the true opening", "first pass in time", "observations"}}
		for _, s := range seasons {
			rows = append(rows, []any{s.Season, fmt.Sprintf("%.2f", s.Rate), fmt.Sprintf("%.1f", s.MeanErrDays),
				share(s.With.PlotsFirstInTime, s.With.Plots), s.Learned.N})
		}
		if err := printTable(out, tabwriter.AlignRight, rows); err != nil {
			return err
		}
	}
	fmt.Fprintln(out, "\nWhat it rests on, all of it chosen here and none of it a survey. "+
		"No field was measured, and nothing here promises a yield:")
	var rows [][]any
	for _, x := range r.Assumptions {
		unit := x.Unit
		if unit == "1" {
			unit = ""
		}
		rows = append(rows, []any{"  " + x.Name, fmt.Sprintf("%g %s", x.Value, unit), x.Meaning})
	}
	return printTable(out, 0, rows)
}

// share formats n together with the percentage that n is of total. Half a percent is rounded up.
func share(n, total int) string {
	if total == 0 {
		return "-"
	}
	return fmt.Sprintf("%d (%d%%)", n, (200*n+total)/(2*total))
}

// printTable prints rows in columns.
func printTable(out io.Writer, flags uint, rows [][]any) error {
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', flags)
	for _, row := range rows {
		for i, cell := range row {
			if fmt.Fprint(t, cell); flags != 0 || i < len(row)-1 {
				fmt.Fprint(t, "\t")
			}
		}
		fmt.Fprintln(t)
	}
	return t.Flush()
}
