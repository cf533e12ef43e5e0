package practice

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"rowbell/engine"
	"rowbell/engine/simulate"
	"rowbell/gateway/handset"
	"rowbell/store/weathercsv"
)

// Simulation has the flags of the simulation. A season is simulated twice with the same invented growers: with the bell
// (reminders) and without the bell.
type Simulation struct {
	Simulate int     `help:"Print how a season of N invented plots goes, with and without the bell." placeholder:"N"`
	Compare  int     `help:"Compare named days with fixed days, on N plots of each kind." placeholder:"N"`
	Growers  string  `help:"Growers of --simulate: usual, honest, sloppy, lying or blind." placeholder:"KIND"`
	Habit    string  `help:"Day of a pass without the bell, or days, such as 21 or 14-21 (default)." placeholder:"DAYS"`
	Year     string  `help:"Weather of --simulate: normal, dry, wet, cool, 15 to 31 °C, a CSV file." placeholder:"YEAR"`
	Water    string  `help:"Water of --simulate: kept (default), on-off or moist." placeholder:"WATER"`
	Clock    string  `help:"Weed clock of --simulate (default: all); --compare names them." placeholder:"CLOCK"`
	Rate     float64 `help:"Speed of the weeds of --simulate, relative to their clock: 0.7 to 1.4." placeholder:"RATE"`
	Learn    int     `help:"With --simulate: N more seasons in which the place learns its weeds." placeholder:"N"`
	Seed     uint64  `help:"Seed of the random numbers: the same seed gives the same season."`
}

// Run runs the simulation and prints the result. After each plot, and after each kind of plots of the comparison, Run
// calls step with the number of finished ones and the total number.
func (f Simulation) Run(out io.Writer, now time.Time, step func(done, total int)) error {
	o, err := f.options(now)
	if err != nil {
		return &InputError{err}
	}
	compare := simulate.GridOptions{Seed: f.Seed, Fields: f.Compare, Habit: o.Habit}
	played, total := 0, (2+f.Learn)*f.Simulate
	if f.Compare > 0 {
		total += compare.Cells()
	}
	o.Played = func() {
		played++
		step(played, total)
	}
	compare.Played = o.Played
	if f.Simulate > 0 {
		if err := f.season(out, o); err != nil {
			return err
		}
	}
	if f.Compare == 0 {
		return nil
	}
	g, err := simulate.Compare(compare)
	if err != nil {
		return refusal(err)
	}
	if f.Simulate > 0 {
		fmt.Fprintln(out)
	}
	return printGrid(out, g, f.Seed)
}

// season simulates a season, and the seasons in which the place learns.
func (f Simulation) season(out io.Writer, o simulate.Options) error {
	r, err := simulate.Run(o)
	if err != nil {
		return refusal(err)
	}
	var seasons []simulate.SeasonLearned
	if f.Learn > 0 {
		if seasons, err = simulate.Learn(o, f.Learn); err != nil {
			return refusal(err)
		}
	}
	clock := cmp.Or(o.Clock, "all, each on as many plots")
	fmt.Fprintf(out, "%s.\nWater: %s. Weed clock: %s.\n", f.played(), o.Water, clock)
	return printResult(out, r, seasons)
}

// played describes the simulated growers and the weather.
func (f Simulation) played() string {
	growers, year := cmp.Or(f.Growers, simulate.KindsOfGrowers()[0]), cmp.Or(f.Year, simulate.Years()[0])
	if _, err := strconv.ParseFloat(year, 64); err == nil {
		return fmt.Sprintf("Growers: %s. Weather: %s degrees all year, seed %d", growers, year, f.Seed)
	}
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
	o := simulate.Options{Seed: f.Seed, Plots: f.Simulate, Clock: f.Clock, Rate: f.Rate, Measured: true}
	if f.Simulate < 0 || f.Compare < 0 || f.Simulate == 0 && f.Compare == 0 {
		return o, fmt.Errorf("--simulate %d, --compare %d: say how many plots are played", f.Simulate, f.Compare)
	}
	if f.Learn < 0 {
		return o, fmt.Errorf("--learn %d is below 0", f.Learn)
	}
	var ok bool
	if o.Growers, ok = simulate.GrowersNamed(cmp.Or(f.Growers, simulate.KindsOfGrowers()[0])); !ok {
		return o, fmt.Errorf("--growers %q is not one of %s", f.Growers, strings.Join(simulate.KindsOfGrowers(), ", "))
	}
	if o.Water, ok = simulate.WaterNamed(cmp.Or(f.Water, simulate.WaterKept.String())); !ok {
		return o, fmt.Errorf("--water %q is not one of %s", f.Water, strings.Join(simulate.Waters(), ", "))
	}
	var err error
	if o.Habit, err = simulate.ParseHabit(cmp.Or(f.Habit, simulate.DefaultHabit.String())); err != nil {
		return o, refusal(err)
	}
	year := cmp.Or(f.Year, simulate.Years()[0])
	if o.Weather, ok = simulate.WeatherOf(year); ok {
		return o, nil
	}
	file, err := os.Open(year)
	if err != nil {
		return o, fmt.Errorf("--year %q is not one of %s, no degrees from 15 to 31, and no file: %w",
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

// printResult prints the season with and without the bell, the seasons in which the place learned its weeds, and the
// assumptions of the simulation.
func printResult(out io.Writer, r simulate.Result, seasons []simulate.SeasonLearned) error {
	fmt.Fprintf(out, "%d plots of invented growers, the same twice. "+
		"In time means that most weeds have two to four leaves.\n\n", r.With.Plots)
	a, b := r.Without, r.With
	plots := float64(max(1, b.Plots))
	err := printTable(out, tabwriter.AlignRight, [][]any{
		{"", "without the bell", "with the bell"},
		{"the bell named a good day", "-", share(b.AdvisedInTime, b.Advised)},
		{"growers weeded when it said", "-", share(b.Followed, b.Advised)},
		{"first pass in time", share(a.PlotsFirstInTime, a.Plots), share(b.PlotsFirstInTime, b.Plots)},
		{"every pass in time", share(a.PlotsAllInTime, a.Plots), share(b.PlotsAllInTime, b.Plots)},
		{"passes in time", share(a.PassesInTime, a.Passes), share(b.PassesInTime, b.Passes)},
		{"texts a plot", "-", fmt.Sprintf("%.1f", float64(b.Texts)/plots)},
		{"looks a plot", "-", fmt.Sprintf("%.1f", float64(b.Looks)/plots)},
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s\n\nWhere it helps little or not at all:\n", handset.Verdict(r))
	for _, where := range handset.WhereNoHelp() {
		fmt.Fprintf(out, "  %s\n", where)
	}
	if len(seasons) > 0 {
		fmt.Fprintln(out, "\nA place that learns, season by season. The days to the middle of the first window, "+
			"as the bell foretells them, over the true days:")
		rows := [][]any{{"season", "foretold / true", "a good day named", "first pass in time", "observations"}}
		for _, s := range seasons {
			rows = append(rows, []any{s.Season, fmt.Sprintf("%.2f", s.Foretold),
				share(s.With.AdvisedInTime, s.With.Advised), share(s.With.PlotsFirstInTime, s.With.Plots), s.Learned.N})
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

// printGrid prints the comparison of named days with fixed days: the means over the weed clocks, all cells, and in
// words where the bell is worse.
func printGrid(out io.Writer, g simulate.Grid, seed uint64) error {
	fmt.Fprintf(out, "The first pass on %d invented plots of each kind, seed %d. In percent of the plots: how often a "+
		"day is in time, which means that most weeds have two to four leaves on it.\n\n", g.Fields, seed)
	columns := []any{"habit " + g.Habit.String(), fmt.Sprint("day ", g.BestDay), "best day", "nobody looks",
		"half look", "all look", "looks"}
	shares := func(c simulate.Cell) []any {
		return []any{percent(c.Habit), percent(c.One), percent(c.Own), percent(c.Never), percent(c.Half),
			percent(c.Look), fmt.Sprintf("%.1f", c.Looks)}
	}
	rows := [][]any{append([]any{"degrees", "water"}, columns...)}
	for _, c := range g.Grounds() {
		rows = append(rows, append([]any{c.MeanC, c.Water}, shares(c)...))
	}
	if err := printTable(out, tabwriter.AlignRight, rows); err != nil {
		return err
	}
	fmt.Fprintln(out)
	for _, sentence := range handset.Comparison(g) {
		fmt.Fprintln(out, sentence)
	}
	fmt.Fprintln(out, "\nAll kinds. \"days\" are the days after planting from two to four leaves, on a plot of mean "+
		"speed:")
	rows = [][]any{append([]any{"degrees", "water", "weed clock", "days"}, columns...)}
	for _, c := range g.Cells {
		days := fmt.Sprintf("%.0f-%.0f", c.Opens, c.Closes)
		row := append([]any{c.MeanC, c.Water, c.Clock, days}, shares(c)...)
		row[6] = fmt.Sprintf("%s (day %d)", row[6], c.OwnDay)
		rows = append(rows, row)
	}
	return printTable(out, tabwriter.AlignRight, rows)
}

// percent formats a share, 0 to 1, as a percentage without the sign.
func percent(share float64) string { return fmt.Sprintf("%.0f", 100*share) }

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
