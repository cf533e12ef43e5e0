package plan

import (
	"cmp"
	"fmt"
	"io"
	"os"

	"rowbell/engine"
	"rowbell/store/weathercsv"
)

// Climate has the flags that describe the weather.
type Climate struct {
	Temps    string   `xor:"weather" help:"${plan_temps}" placeholder:"MIN-MAX"`
	Months   string   `xor:"weather" help:"CSV file, a line a month: month,min,max,rain (°C, mm)." placeholder:"FILE"`
	Daily    string   `help:"CSV file of measured days, as for rowbell import weather." placeholder:"FILE"`
	Latitude *float64 `help:"${plan_latitude}" placeholder:"DEG"`
}

// Weather returns the weather of a usual year with the measured days of --daily, and a phrase that names the sources.
// No measured day may be after today.
func (in *Climate) Weather(today engine.Day) (w engine.Weather, words string, err error) {
	if w, words, err = in.year(); err != nil {
		return w, "", err
	}
	w.LatitudeDeg = defaultLatitude
	assumed := " (taken, as none was told)"
	if in.Latitude != nil {
		w.LatitudeDeg, assumed = *in.Latitude, ""
		if !(w.LatitudeDeg >= -90 && w.LatitudeDeg <= 90) {
			return w, "", fmt.Errorf("--latitude %g is not between -90 and 90 degrees", w.LatitudeDeg)
		}
	}
	words += fmt.Sprintf("; latitude %g°%s", w.LatitudeDeg, assumed)
	if in.Daily != "" {
		parse := func(r io.Reader) ([]weathercsv.Day, error) { return weathercsv.Parse(r, today) }
		days, err := readFile(in.Daily, parse)
		if err != nil {
			return w, "", err
		}
		w.Daily = weathercsv.Daily(days)
		words += "; measured " + MeasuredDays(w.Daily)
	}
	return w, words, nil
}

// year returns the weather of a usual year from --months or --temps, and a phrase that names the source.
func (in *Climate) year() (w engine.Weather, words string, err error) {
	if in.Months != "" {
		w.Normals, err = readFile(in.Months, parseMonths)
		return w, "the months of " + in.Months, err
	}
	low, high, err := parseRange("--temps", cmp.Or(in.Temps, defaultTemps), "22-32")
	if err != nil {
		return w, "", err
	}
	words = fmt.Sprintf("%g to %g °C all year", low, high)
	if in.Temps == "" {
		words += " (taken, as none was told)"
	}
	return engine.Steady(low, high), words + " and no rain", nil
}

// readFile parses a file. An error of the parser gets the name of the file.
func readFile[T any](file string, parse func(io.Reader) (T, error)) (v T, err error) {
	f, err := os.Open(file)
	if err != nil {
		return v, err
	}
	defer f.Close()
	if v, err = parse(f); err != nil {
		err = fmt.Errorf("%s: %w", file, err)
	}
	return v, err
}
