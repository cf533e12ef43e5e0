package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/store"
	"rowbell/store/weathercsv"
)

// importCmd is rowbell import; its subcommands import data into the records.
type importCmd struct {
	Weather importWeatherCmd `cmd:"" help:"Import daily weather of a place from a CSV file."`
	Growers importGrowersCmd `cmd:"" help:"Add and correct growers and plots from a CSV file."`
}

// importWeatherCmd is rowbell import weather, which imports the daily weather of a place from CSV.
type importWeatherCmd struct {
	File  string `arg:"" help:"The file; - reads standard input."`
	Place string `help:"The place where it was measured." default:"default" placeholder:"NAME"`
	Today string `help:"Last day that the file may hold (default: today at the place)." placeholder:"YYYY-MM-DD"`
	Check bool   `help:"Only check the file; nothing is written and no database is needed."`
	recordsFlags
}

// Help describes the columns of the file.
func (*importWeatherCmd) Help() string {
	return "The first line names the columns: date, min_c with max_c (or min_f with max_f), rain_mm (or rain_in)."
}

// Run imports the days of the file. With Check, it only reads the file.
func (c *importWeatherCmd) Run(w *world) error {
	if c.Check {
		now := w.now()
		days, err := c.read(w, engine.DayOf(now, now.Location()))
		if err != nil {
			return err
		}
		printDaysRead(w.out, c.File, days)
		printGaps(w.out, weathercsv.Daily(days), days)
		_, err = fmt.Fprintln(w.out, "Nothing was written.")
		return err
	}
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	return errors.Join(c.write(w, s), s.Close())
}

// write writes the days of the file to the records and prints what has changed. It reads the complete file first, so a
// mistake in the file imports nothing. It writes the days in parts, so that the service need not wait for all of them.
func (c *importWeatherCmd) write(w *world, s *store.Store) error {
	place, today, err := c.place(w, s)
	if err != nil {
		return err
	}
	days, err := c.read(w, today)
	if err != nil {
		return err
	}
	left := make([]store.WeatherDay, len(days))
	for i, d := range days {
		left[i] = store.WeatherDay(d)
	}
	before, err := weatherOf(w, s, place)
	if err != nil {
		return err
	}
	shown := w.progress("writing the days")
	err = s.Background(w.ctx, func(tx *store.Tx) (done bool, err error) {
		part := left[:min(importPart, len(left))]
		if err := tx.PutWeather(place.ID, part, w.now().Unix()); err != nil {
			return false, err
		}
		tx.Kept(func() {
			left = left[len(part):]
			shown.step(len(days)-len(left), len(days))
		})
		return len(part) == len(left), nil
	})
	shown.stop()
	if err != nil {
		return fmt.Errorf("not all days were imported; import the file again: %w", err)
	}
	after, err := weatherOf(w, s, place)
	if err != nil {
		return err
	}
	printDaysRead(w.out, c.Place, days)
	added, replaced, same := weathercsv.Changes(before, after, days)
	fmt.Fprintf(w.out, "New: %d; replaced: %d; unchanged: %d.\n", added, replaced, same)
	printGaps(w.out, after, days)
	return nil
}

// weatherOf returns all measurements at a place.
func weatherOf(w *world, s *store.Store, place store.Place) (daily engine.Daily, err error) {
	err = s.View(w.ctx, func(tx *store.Tx) (err error) {
		daily, err = tx.Weather(place.ID)
		return err
	})
	return daily, err
}

// place returns the place of --place and the present day there. An error lists all places.
func (c *importWeatherCmd) place(w *world, s *store.Store) (place store.Place, today engine.Day, err error) {
	err = s.View(w.ctx, func(tx *store.Tx) error {
		places, err := tx.Places()
		if err != nil {
			return err
		}
		var names []string
		for _, place = range places {
			if place.Name == c.Place {
				today, err = placeToday(place, w.now())
				return err
			}
			names = append(names, place.Name)
		}
		return fmt.Errorf("there is no place %q; there are: %s", c.Place, strings.Join(names, ", "))
	})
	return place, today, err
}

// read parses the file, in which no day may be later than --today or, without that flag, today.
func (c *importWeatherCmd) read(w *world, today engine.Day) ([]weathercsv.Day, error) {
	if c.Today != "" {
		var err error
		if today, err = engine.ParseDay(c.Today); err != nil {
			err = fmt.Errorf("--today %q is not a day written YYYY-MM-DD", c.Today)
			return nil, &usageError{err, "rowbell import weather --help"}
		}
	}
	var in io.Reader = w.in
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		in = f
	}
	days, err := weathercsv.Parse(in, today)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.File, err)
	}
	return days, nil
}

func printDaysRead(out io.Writer, from string, days []weathercsv.Day) {
	fmt.Fprintf(out, "%s: %s read, %s to %s.\n", from, plan.Count(len(days), "day", "days"), days[0].On,
		days[len(days)-1].On)
}

// printGaps lists the days without a measured value, for which plans use the climate normals.
func printGaps(out io.Writer, known engine.Daily, days []weathercsv.Day) {
	for _, q := range []struct {
		name string
		has  func(engine.Measured) bool
	}{{"temperature", engine.Measured.HasTemperature}, {"rain", engine.Measured.HasRain}} {
		var words []string
		for _, g := range weathercsv.Gaps(known, days[0].On, days[len(days)-1].On, q.has) {
			if g.From == g.To {
				words = append(words, g.From.String())
			} else {
				words = append(words, fmt.Sprintf("%s to %s (%d days)", g.From, g.To, g.To-g.From+1))
			}
		}
		if more := len(words) - maxListedGaps; more > 0 {
			words = append(words[:maxListedGaps], fmt.Sprintf("and %d gaps more", more))
		}
		if len(words) > 0 {
			fmt.Fprintf(out, "No %s, so the climate normals are used: %s.\n", q.name, strings.Join(words, ", "))
		}
	}
}

// importPart is the number of days in one transaction: they take a few milliseconds.
const importPart = 500

// maxListedGaps is how many gaps in the measured weather printGaps lists; it only counts the others.
const maxListedGaps = 20
