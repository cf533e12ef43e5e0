package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

var importToday = engine.Date(2026, time.June, 30)

// importAt runs rowbell import weather at noon (UTC) of importToday.
func importAt(stdin string, args ...string) (string, error) {
	var out, errs strings.Builder
	args = append([]string{"--test-clock", importToday.At(12, time.UTC).Format(time.RFC3339), "import", "weather"},
		args...)
	if code := run(args, noEnv, strings.NewReader(stdin), &out, &errs); code != 0 {
		return out.String(), errors.New(errs.String())
	}
	return out.String(), nil
}

func weatherDB(t *testing.T) (path string, s *store.Store) {
	t.Helper()
	path = newRecords(t)
	return path, openRecords(t, path)
}

func weatherFile(t *testing.T, content string) string {
	t.Helper()
	return filepath.Join(writeFiles(t, map[string]string{"weather.csv": content}), "weather.csv")
}

// measuredAt lists the measured days of a place, with - for a missing value.
func measuredAt(t *testing.T, s *store.Store, place string) (days string) {
	t.Helper()
	read(t, s, func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(place)
		if err != nil || !ok {
			return errors.Join(err, errors.New("no such place"))
		}
		y, err := tx.Weather(p.ID)
		for i, m := range y.Days {
			days += fmt.Sprintf("%s %g %g %g\n", y.From+engine.Day(i), m.MinC, m.MaxC, m.RainMM)
		}
		return err
	})
	return strings.ReplaceAll(days, "NaN", "-")
}

// The service has the records open during an import and sees the new weather without a restart.
func TestImportWeather(t *testing.T) {
	db, s := weatherDB(t)
	phone := store.Phone("+447700900001")
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, importToday.At(9, time.UTC).Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "v", "sms"); err != nil {
			return err
		}
		_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: importToday - 20, RowSpacingCM: 25},
			engine.Tool{WidthCM: 15})
		return err
	})
	for _, c := range []struct{ name, file, out, measured string }{
		{"first", "date,min_c,max_c,rain_mm\n2026-06-01,22,33,5\n2026-06-02,,,0\n2026-06-05,21,32,\n",
			"default: 3 days read, 2026-06-01 to 2026-06-05.\nNew: 3; replaced: 0; unchanged: 0.\n" +
				"No temperature, so the climate normals are used: 2026-06-02 to 2026-06-04 (3 days).\n" +
				"No rain, so the climate normals are used: 2026-06-03 to 2026-06-05 (3 days).\n",
			"2026-06-01 22 33 5\n2026-06-02 - - 0\n2026-06-03 - - -\n2026-06-04 - - -\n2026-06-05 21 32 -\n"},
		{"corrected and filled",
			"date,min_c,max_c\n2026-06-01,22,34\n2026-06-02,20,30\n2026-06-03,20,30\n2026-06-05,21,32\n",
			"default: 4 days read, 2026-06-01 to 2026-06-05.\nNew: 1; replaced: 2; unchanged: 1.\n" +
				"No temperature, so the climate normals are used: 2026-06-04.\n" +
				"No rain, so the climate normals are used: 2026-06-03 to 2026-06-05 (3 days).\n",
			"2026-06-01 22 34 5\n2026-06-02 20 30 0\n2026-06-03 20 30 -\n2026-06-04 - - -\n2026-06-05 21 32 -\n"},
	} {
		out, err := importAt("", weatherFile(t, c.file), "--db", db)
		if err != nil || out != c.out {
			t.Errorf("%s: %v\n%s\nwant\n%s", c.name, err, out, c.out)
		}
		if got := measuredAt(t, s, "default"); got != c.measured {
			t.Errorf("%s: the records have\n%s\nwant\n%s", c.name, got, c.measured)
		}
	}
	read(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, importToday.At(12, time.UTC).Unix())
		if err != nil {
			return err
		}
		season, err := l.Season(1)
		if w := season.Weather.On(engine.Date(2026, time.June, 1)); w.MaxC != 34 || w.RainMM != 5 {
			t.Errorf("the season's weather is %+v", w)
		}
		return err
	})
}

// A file with one invalid row changes nothing in the records.
func TestImportWeatherWithAMistake(t *testing.T) {
	db, s := weatherDB(t)
	file := weatherFile(t, "date,rain_mm\n2026-06-01,5\n2026-06-02,x\n")
	_, err := importAt("", file, "--db", db)
	if err == nil || !strings.Contains(err.Error(), "weather.csv: 1 row cannot be used\n  line 3: rain_mm: ") {
		t.Errorf("error %v", err)
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("something was imported: %s", got)
	}
}

func TestImportWeatherOnlyChecks(t *testing.T) {
	db, s := weatherDB(t)
	const file = "date,rain_mm\n2026-06-01,5\n2026-06-03,1\n"
	out, err := importAt(file, "-", "--db", db, "--check")
	want := "-: 2 days read, 2026-06-01 to 2026-06-03.\n" +
		"No temperature, so the climate normals are used: 2026-06-01 to 2026-06-03 (3 days).\n" +
		"No rain, so the climate normals are used: 2026-06-02.\nNothing was written.\n"
	if err != nil || out != want {
		t.Errorf("%v\n%s\nwant\n%s", err, out, want)
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("it was written: %s", got)
	}
	if _, err := importAt("date,rain_mm\n2026-06-31,5\n", "-", "--check"); err == nil {
		t.Error("a day that is none passes the check")
	}
}

func TestImportWeatherOfAnotherPlaceAndDay(t *testing.T) {
	db, s := weatherDB(t)
	write(t, s, func(tx *store.Tx) error {
		p, _, err := tx.PlaceByName(store.DefaultPlace)
		if err == nil {
			p.Name, p.Zone = "islands", "Pacific/Kiritimati" // at UTC+14 it is already the next day
			_, err = tx.PutPlace(p)
		}
		return err
	})
	tomorrow := "date,rain_mm\n" + (importToday + 1).String() + ",5\n"
	none := filepath.Join(t.TempDir(), "none")
	for name, c := range map[string]struct{ args, err string }{
		"tomorrow here":    {"- --db " + db, "is in the future"},
		"today there":      {"- --place islands --db " + db, ""},
		"--today":          {"- --place islands --today 2026-06-15 --db " + db, "today is 2026-06-15"},
		"--today no day":   {"- --place islands --today June --db " + db, `--today "June" is not a day`},
		"no such place":    {"- --place moon --db " + db, `there is no place "moon"; there are: default, islands`},
		"no records there": {"- --db " + none + ".db", "there are no records at"},
		"no such file":     {none + ".csv --db " + db, "none.csv"},
		"no such config":   {"- --config " + none + ".toml", "none.toml"},
		"no file":          {"", "<file>"},
	} {
		_, err := importAt(tomorrow, strings.Fields(c.args)...)
		if (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.err)
		}
	}
	if _, err := os.Stat(none + ".db"); err == nil {
		t.Error("a database was made")
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("the default place has %s", got)
	}
	if got := measuredAt(t, s, "islands"); got != "2026-07-01 - - 5\n" {
		t.Errorf("the islands have %s", got)
	}
}

func TestImportListsTwentyGaps(t *testing.T) {
	file := "date,min_c,max_c,rain_mm\n"
	for i := range engine.Day(30) {
		file += (importToday - 100 + 2*i).String() + ",20,30,0\n"
	}
	out, err := importAt(file, "-", "--check")
	if err != nil || strings.Count(out, ", 2026-04-30, and 9 gaps more.\n") != 2 {
		t.Errorf("%v\n%s", err, out)
	}
}
