package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// importCmd is rowbell import.
type importCmd struct {
	Weather importWeatherCmd `cmd:"" help:"Bring daily weather of a place from a CSV file with a head such as date,min_c,max_c,rain_mm."`
}

// importWeatherCmd is rowbell import weather.
type importWeatherCmd struct {
	File   string `arg:"" help:"The file; - reads standard input. Columns: date with min_c and max_c (or min_f, max_f), rain_mm (or rain_in)."`
	Place  string `help:"The place where it was measured." default:"default" placeholder:"NAME"`
	DB     string `name:"db" help:"Database file (default ${default_db}); the service may be running on it." placeholder:"FILE"`
	Config string `help:"Configuration that names the database (default ${default_config}, if there is one)." placeholder:"FILE"`
	Today  string `help:"The day after which nothing can have been measured (default: today, there)." placeholder:"YYYY-MM-DD"`
	Check  bool   `help:"Only check the file; nothing is written and no database is needed."`
}

// Run reads the file whole before it touches the records: it is taken as a
// whole or not at all.
func (c *importWeatherCmd) Run(w *world) error {
	if c.Check {
		now := w.now()
		days, err := c.read(w, engine.DayOf(now, now.Location()))
		if err != nil {
			return err
		}
		fmt.Fprintf(w.out, "%s: %s\n", c.File, weatherRead(days))
		weatherGaps(w.out, dailyOf(days), days)
		_, err = fmt.Fprintln(w.out, "Nothing was written.")
		return err
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	s, err := openRecords(w.ctx, cmp.Or(c.DB, conf.DB))
	if err != nil {
		return err
	}
	return errors.Join(c.into(w, s), s.Close())
}

// into brings the file into the records.
func (c *importWeatherCmd) into(w *world, s *store.Store) error {
	today, err := c.today(w, s)
	if err != nil {
		return err
	}
	days, err := c.read(w, today)
	if err != nil {
		return err
	}
	var had, has engine.Daily
	err = s.InTx(w.ctx, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(c.Place)
		switch {
		case err != nil:
			return err
		case !ok:
			return store.ErrNoPlace
		}
		if had, err = tx.Weather(p.ID); err != nil {
			return err
		}
		if err := tx.PutWeather(p.ID, days, w.now().Unix()); err != nil {
			return err
		}
		has, err = tx.Weather(p.ID)
		return err
	})
	if err != nil {
		return fmt.Errorf("nothing was brought in: %w", err)
	}
	fmt.Fprintf(w.out, "%s: %s\n", c.Place, weatherRead(days))
	fresh, replaced, same := weatherChanges(had, has, days)
	fmt.Fprintf(w.out, "New: %d; replaced: %d; as before: %d.\n", fresh, replaced, same)
	weatherGaps(w.out, has, days)
	return nil
}

// today is the civil day of the place, which must be there.
func (c *importWeatherCmd) today(w *world, s *store.Store) (engine.Day, error) {
	var today engine.Day
	err := s.View(w.ctx, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(c.Place)
		if err == nil && !ok {
			var names []string
			names, err = placeNames(tx)
			if err == nil {
				err = fmt.Errorf("there is no place %s; there are: %s", quoteField(c.Place), strings.Join(names, ", "))
			}
		}
		if err == nil {
			today, err = placeToday(p, w.now())
		}
		return err
	})
	return today, err
}

func placeNames(tx *store.Tx) ([]string, error) {
	places, err := tx.Places()
	var names []string
	for _, p := range places {
		names = append(names, p.Name)
	}
	return names, err
}

// read reads the file; nothing in it may be from after the day today, or
// after --today.
func (c *importWeatherCmd) read(w *world, today engine.Day) ([]store.WeatherDay, error) {
	if c.Today != "" {
		var err error
		if today, err = engine.ParseDay(c.Today); err != nil {
			return nil, &usageError{fmt.Errorf("--today %s is not a day written YYYY-MM-DD", quoteField(c.Today)), "rowbell import weather --help"}
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
	days, err := parseWeather(in, today)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.File, err)
	}
	return days, nil
}

// dailyOf are days, in order, as a season takes them.
func dailyOf(days []store.WeatherDay) engine.Daily {
	if len(days) == 0 {
		return engine.Daily{}
	}
	y := engine.Daily{From: days[0].On, Days: make([]engine.Measured, days[len(days)-1].On-days[0].On+1)}
	for i := range y.Days {
		y.Days[i] = engine.Unmeasured()
	}
	for _, d := range days {
		y.Days[d.On-y.From] = d.Measured
	}
	return y
}

// weatherRead says what was read.
func weatherRead(days []store.WeatherDay) string {
	return fmt.Sprintf("%s read, %s to %s.", counted(len(days), "day"), days[0].On, days[len(days)-1].On)
}

// weatherChanges counts the days that the records did not have, those that
// they have otherwise, and those that say what was known.
func weatherChanges(had, has engine.Daily, days []store.WeatherDay) (fresh, replaced, same int) {
	for _, d := range days {
		before, ok := had.On(d.On)
		if !ok {
			before = engine.Unmeasured()
		}
		after, ok := has.On(d.On)
		if !ok {
			after = engine.Unmeasured()
		}
		switch known := before.HasTemperature() || before.HasRain(); {
		case weatherSame(before, after):
			same++
		case known:
			replaced++
		default:
			fresh++
		}
	}
	return fresh, replaced, same
}

func weatherSame(a, b engine.Measured) bool {
	return a.HasTemperature() == b.HasTemperature() && a.HasRain() == b.HasRain() &&
		(!a.HasTemperature() || a.MinC == b.MinC && a.MaxC == b.MaxC) && (!a.HasRain() || a.RainMM == b.RainMM)
}

// weatherGaps tells of the days, from the first to the last that were read,
// for which a season takes the normals.
func weatherGaps(w io.Writer, known engine.Daily, days []store.WeatherDay) {
	from, to := days[0].On, days[len(days)-1].On
	for _, g := range []struct {
		what string
		has  func(engine.Measured) bool
	}{{"temperature", engine.Measured.HasTemperature}, {"rain", engine.Measured.HasRain}} {
		var gaps []string
		for d := from; d <= to; d++ {
			begin := d
			for d <= to && !weatherHas(known, d, g.has) {
				d++
			}
			switch n := d - begin; {
			case n == 1:
				gaps = append(gaps, begin.String())
			case n > 1:
				gaps = append(gaps, fmt.Sprintf("%s to %s (%d days)", begin, d-1, n))
			}
		}
		if more := len(gaps) - maxToldGaps; more > 0 {
			gaps = append(gaps[:maxToldGaps], fmt.Sprintf("and %d gaps more", more))
		}
		if len(gaps) > 0 {
			fmt.Fprintf(w, "No %s, so that the normals stand in: %s.\n", g.what, strings.Join(gaps, ", "))
		}
	}
}

// maxToldGaps is how many are told one by one.
const maxToldGaps = 20

func weatherHas(known engine.Daily, d engine.Day, has func(engine.Measured) bool) bool {
	m, ok := known.On(d)
	return ok && has(m)
}
