package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// importAt runs the command at noon of 30 June 2026 in UTC.
func importAt(t *testing.T, c importWeatherCmd, stdin string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	w := &world{ctx: context.Background(), now: func() time.Time { return csvToday.At(12, time.UTC) },
		in: strings.NewReader(stdin), out: &out, err: &out}
	err := c.Run(w)
	return out.String(), err
}

// weatherDB makes records with the default place.
func weatherDB(t *testing.T) (path string, s *store.Store) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "rowbell.db")
	s, err := store.Open(context.Background(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return path, s
}

func weatherFile(t *testing.T, content string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "weather.csv")
	if err := os.WriteFile(file, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func measuredAt(t *testing.T, s *store.Store, place string) string {
	t.Helper()
	var days []store.WeatherDay
	err := s.View(context.Background(), func(tx *store.Tx) error {
		p, ok, err := tx.PlaceByName(place)
		if err != nil || !ok {
			return errors.Join(err, errors.New("no such place"))
		}
		y, err := tx.Weather(p.ID)
		for i, m := range y.Days {
			days = append(days, store.WeatherDay{On: y.From + engine.Day(i), Measured: m})
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return told(days)
}

// The records stay open meanwhile, as a running service has them, and show the
// weather at once.
func TestImportWeather(t *testing.T) {
	db, s := weatherDB(t)
	phone := store.Phone("+447700900001")
	if err := s.InTx(context.Background(), func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, csvToday.At(9, time.UTC).Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "v", "sms"); err != nil {
			return err
		}
		_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: csvToday - 20, RowSpacingCM: 25}, engine.Tool{WidthCM: 15})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, file, out, measured string }{
		{"first", "date,min_c,max_c,rain_mm\n2026-06-01,22,33,5\n2026-06-02,,,0\n2026-06-05,21,32,\n",
			"default: 3 days read, 2026-06-01 to 2026-06-05.\nNew: 3; replaced: 0; as before: 0.\n" +
				"No temperature, so that the normals stand in: 2026-06-02 to 2026-06-04 (3 days).\nNo rain, so that the normals stand in: 2026-06-03 to 2026-06-05 (3 days).\n",
			"2026-06-01 22 33 5; 2026-06-02 - - 0; 2026-06-03 - - -; 2026-06-04 - - -; 2026-06-05 21 32 -"},
		{"corrected and filled", "date,min_c,max_c\n2026-06-01,22,34\n2026-06-02,20,30\n2026-06-03,20,30\n2026-06-05,21,32\n",
			"default: 4 days read, 2026-06-01 to 2026-06-05.\nNew: 1; replaced: 2; as before: 1.\n" +
				"No temperature, so that the normals stand in: 2026-06-04.\nNo rain, so that the normals stand in: 2026-06-03 to 2026-06-05 (3 days).\n",
			"2026-06-01 22 34 5; 2026-06-02 20 30 0; 2026-06-03 20 30 -; 2026-06-04 - - -; 2026-06-05 21 32 -"},
	} {
		out, err := importAt(t, importWeatherCmd{File: weatherFile(t, c.file), Place: "default", DB: db}, "")
		if err != nil || out != c.out {
			t.Errorf("%s: %v\n%s\nwant\n%s", c.name, err, out, c.out)
		}
		if got := measuredAt(t, s, "default"); got != c.measured {
			t.Errorf("%s: the records have\n%s\nwant\n%s", c.name, got, c.measured)
		}
	}
	err := s.View(context.Background(), func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, csvToday.At(12, time.UTC).Unix())
		if err != nil {
			return err
		}
		season, err := l.Season(1)
		if w := season.Weather.On(engine.Date(2026, time.June, 1)); w.MaxC != 34 || w.RainMM != 5 {
			t.Errorf("the season's weather is %+v", w)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// A file with a bad row leaves the records as they were.
func TestImportWeatherWholeOrNotAtAll(t *testing.T) {
	db, s := weatherDB(t)
	_, err := importAt(t, importWeatherCmd{File: weatherFile(t, "date,rain_mm\n2026-06-01,5\n2026-06-02,x\n"), Place: "default", DB: db}, "")
	if err == nil || !strings.Contains(err.Error(), "weather.csv: 1 row cannot be used\n  line 3: rain_mm: ") {
		t.Errorf("error %v", err)
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("half of it was brought in: %s", got)
	}
}

func TestImportWeatherOnlyChecks(t *testing.T) {
	db, s := weatherDB(t)
	const file = "date,rain_mm\n2026-06-01,5\n2026-06-03,1\n"
	out, err := importAt(t, importWeatherCmd{File: "-", Place: "default", DB: db, Check: true}, file)
	want := "-: 2 days read, 2026-06-01 to 2026-06-03.\nNo temperature, so that the normals stand in: 2026-06-01 to 2026-06-03 (3 days).\n" +
		"No rain, so that the normals stand in: 2026-06-02.\nNothing was written.\n"
	if err != nil || out != want {
		t.Errorf("%v\n%s\nwant\n%s", err, out, want)
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("it was written: %s", got)
	}
	if _, err := importAt(t, importWeatherCmd{File: "-", Check: true}, "date,rain_mm\n2026-06-31,5\n"); err == nil {
		t.Error("a day that is none passes the check")
	}
}

func TestImportWeatherOfAnotherPlaceAndDay(t *testing.T) {
	db, s := weatherDB(t)
	if err := s.InTx(context.Background(), func(tx *store.Tx) error {
		p, _, err := tx.PlaceByName(store.DefaultPlace)
		if err == nil {
			p.Name, p.Zone = "islands", "Pacific/Kiritimati" // UTC+14: there it is tomorrow
			_, err = tx.PutPlace(p)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	tomorrow := "date,rain_mm\n" + (csvToday + 1).String() + ",5\n"
	for name, c := range map[string]struct {
		cmd  importWeatherCmd
		want string // in the error; "" = none
	}{
		"tomorrow here":    {importWeatherCmd{Place: "default"}, "is still to come"},
		"today there":      {importWeatherCmd{Place: "islands"}, ""},
		"today told":       {importWeatherCmd{Place: "islands", Today: "2026-06-15"}, "today is 2026-06-15"},
		"today not a day":  {importWeatherCmd{Place: "islands", Today: "15 June"}, "--today"},
		"no such place":    {importWeatherCmd{Place: "moon"}, `there is no place "moon"; there are: default, islands`},
		"no records there": {importWeatherCmd{Place: "default", DB: filepath.Join(t.TempDir(), "none.db")}, "there are no records at"},
		"no such file":     {importWeatherCmd{Place: "default", File: filepath.Join(t.TempDir(), "none.csv")}, "none.csv"},
		"no such config":   {importWeatherCmd{Place: "default", Config: filepath.Join(t.TempDir(), "none.toml")}, "none.toml"},
	} {
		t.Run(name, func(t *testing.T) {
			if c.cmd.DB == "" {
				c.cmd.DB = db
			}
			if c.cmd.File == "" {
				c.cmd.File = "-"
			}
			_, err := importAt(t, c.cmd, tomorrow)
			if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want one with %q", err, c.want)
			}
			if c.want != "" && strings.Contains(c.cmd.DB, "none") {
				if _, err := os.Stat(c.cmd.DB); err == nil {
					t.Error("records were made")
				}
			}
		})
	}
	if got := measuredAt(t, s, "default"); got != "" {
		t.Errorf("the default place has %s", got)
	}
	if got := measuredAt(t, s, "islands"); got != "2026-07-01 - - 5" {
		t.Errorf("the islands have %s", got)
	}
}

// Many gaps are not all told.
func TestImportWeatherTellsSomeGaps(t *testing.T) {
	var days []store.WeatherDay
	for i := range engine.Day(30) {
		days = append(days, store.WeatherDay{On: csvToday - 100 + 2*i, Measured: engine.Measured{MinC: 20, MaxC: 30, RainMM: 0}})
	}
	var out bytes.Buffer
	weatherGaps(&out, dailyOf(days), days)
	if n := strings.Count(out.String(), ", 2026-"); n != 2*(maxToldGaps-1) || strings.Count(out.String(), "and 9 gaps more.") != 2 {
		t.Errorf("%d gaps told:\n%s", n+2, out.String())
	}
	out.Reset()
	weatherGaps(&out, dailyOf(days[:1]), days[:1])
	if out.Len() > 0 {
		t.Errorf("gaps of one day: %s", out.String())
	}
}

func TestImportCommandLine(t *testing.T) {
	var c importCmd
	parser, err := kong.New(&c, kong.Vars{"default_db": config.DefaultDB, "default_config": config.DefaultFile})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parser.Parse([]string{"weather", "w.csv", "--place", "hills", "--db", "x.db", "--check", "--today", "2026-06-01"}); err != nil {
		t.Fatal(err)
	}
	if want := (importWeatherCmd{File: "w.csv", Place: "hills", DB: "x.db", Today: "2026-06-01", Check: true}); c.Weather != want {
		t.Errorf("%+v, want %+v", c.Weather, want)
	}
	c = importCmd{}
	if _, err := parser.Parse([]string{"weather", "-"}); err != nil || c.Weather.Place != store.DefaultPlace {
		t.Errorf("%+v, %v", c.Weather, err)
	}
	if _, err := parser.Parse([]string{"weather"}); err == nil {
		t.Error("no file is no mistake")
	}
}
