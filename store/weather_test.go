package store

import (
	"errors"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rowbell/engine"
)

const noSuch = math.MaxInt32

func measured(on engine.Day, low, high, rain float64) WeatherDay {
	return WeatherDay{On: on, Measured: engine.Measured{MinC: low, MaxC: high, RainMM: rain}}
}

var nan = math.NaN()

// same compares two measurements. Two NaN values are the same.
func same(a, b engine.Measured) bool {
	eq := func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) }
	return eq(a.MinC, b.MinC) && eq(a.MaxC, b.MaxC) && eq(a.RainMM, b.RainMM)
}

func weatherOf(t testing.TB, s *Store, p Phone) engine.Weather {
	t.Helper()
	return season(t, s, p, 1).Weather
}

func putWeather(t testing.TB, s *Store, at int64, days ...WeatherDay) {
	t.Helper()
	write(t, s, func(tx *Tx) error { return tx.PutWeather(1, days, at) })
}

func TestWeatherReachesTheSeason(t *testing.T) {
	s := openWithPlot(t, ana)
	w := weatherOf(t, s, ana)
	errorIf(t, len(w.Daily.Days) != 0 || w.LatitudeDeg != 15, "weather where nothing was measured: %+v", w)
	putWeather(t, s, noon, measured(day0, 20, 31, 4), measured(day0-3, 19, 30, nan), measured(day0-1, nan, nan, 0),
		measured(day0+9, nan, nan, nan))
	w = weatherOf(t, s, ana)
	// The days are read only once: the next season must share the slice, even after a change of the place.
	for _, change := range []string{"UPDATE place SET soil = soil", "UPDATE place SET elevation_m = 12"} {
		execSQL(t, s, change)
		again := weatherOf(t, s, ana)
		errorIf(t, &again.Daily.Days[0] != &w.Daily.Days[0], "the days were read again after %q", change)
	}
	view(t, s, func(tx *Tx) error {
		from, to, days, err := tx.WeatherSpan(1)
		errorIf(t, from != day0-3 || to != day0 || days != 3, "span %v to %v, %d days", from, to, days)
		from, to, days, err2 := tx.WeatherSpan(noSuch)
		errorIf(t, from != 0 || to != 0 || days != 0, "span of nowhere: %v %v %d", from, to, days)
		return errors.Join(err, err2)
	})
}

// If weather is imported several times, the latest imported value of each day must be returned.
func TestWeatherAgreesWithItsModel(t *testing.T) {
	s := openWithPlot(t, ana)
	rapid.Check(t, func(t *rapid.T) {
		model := map[engine.Day]engine.Measured{}
		execSQL(t, s, "DELETE FROM weather")
		execSQL(t, s, "UPDATE place SET weather_version = 0")
		for range rapid.IntRange(1, 4).Draw(t, "imports") {
			var days []WeatherDay
			for range rapid.IntRange(0, 12).Draw(t, "days") {
				d := measured(day0+engine.Day(rapid.IntRange(-9, 9).Draw(t, "day")), nan, nan, nan)
				if rapid.Bool().Draw(t, "temperature") {
					d.MinC = rapid.Float64Range(-60, 60).Draw(t, "min")
					d.MaxC = rapid.Float64Range(d.MinC, 60).Draw(t, "max")
				}
				if rapid.Bool().Draw(t, "rain") {
					d.RainMM = rapid.Float64Range(0, engine.MaxDayRainMM).Draw(t, "mm")
				}
				days = append(days, d)
				m := onDay(model, d.On)
				if d.HasTemperature() {
					m.MinC, m.MaxC = d.MinC, d.MaxC
				}
				if d.HasRain() {
					m.RainMM = d.RainMM
				}
				model[d.On] = m
			}
			keep := rapid.Bool().Draw(t, "keep") // if false, the transaction is rolled back
			y := get(t, s, func(tx *Tx) (engine.Daily, error) { return tx.Weather(1) })
			before := map[engine.Day]engine.Measured{}
			for i, m := range y.Days {
				before[y.From+engine.Day(i)] = m
			}
			err := s.InTx(ctx, func(tx *Tx) error {
				err := tx.PutWeather(1, days, noon)
				l, err2 := tx.Ledger(ana, noon)
				err = errors.Join(err, err2, second(l.Season(1))) // the weather is cached before a rollback
				if err == nil && !keep {
					err = errBad
				}
				return err
			})
			fatalIf(t, keep == (err != nil), "%v", err)
			if !keep {
				model = before
			}
			daily := season(t, s, ana, 1).Weather.Daily
			for d := day0 - 12; d <= day0+12; d++ {
				got, measured := daily.On(d)
				if !measured {
					got = engine.Unmeasured()
				}
				fatalIf(t, !same(got, onDay(model, d)), "%v: %+v, want %+v", d, got, onDay(model, d))
			}
		}
	})
}

func onDay(model map[engine.Day]engine.Measured, d engine.Day) engine.Measured {
	if m, measured := model[d]; measured {
		return m
	}
	return engine.Unmeasured()
}

// Changed weather makes the bell (the reminder job) look at the plots that it watches at this place, if the weather
// may change their plan.
func TestNewWeatherHasTheBellLook(t *testing.T) {
	s := open(t)
	anotherPlace(t, s, "hills", "UTC")
	const later = 7 * 86400
	phones := []Phone{ana, ben, "+447700900003", "+447700900004", "+447700900005"}
	for _, p := range phones {
		withPlot(t, s, p)
		setLook(t, s, p, 1, noon+later)
	}
	execSQL(t, s, "UPDATE grower SET place_id = 2 WHERE phone = $1", phones[4].E164())
	ledger(t, s, phones[1], noon, (*Ledger).Stop)
	ledger(t, s, phones[2], noon, closePlot(1))
	setLook(t, s, phones[3], 1, noon-5)
	looks := func() (list [5]int64) {
		ok(t, s.LookAtPlaces(ctx, noon))
		for i, p := range phones {
			list[i] = number(t, s, `SELECT coalesce(p.look_at, 0) FROM plot p
				JOIN grower g ON g.id = p.grower_id WHERE g.phone = $1`, p.E164())
		}
		return list
	}
	was := [5]int64{noon + later, 0, 0, noon - 5, noon + later}
	got := looks()
	fatalIf(t, got != was, "looks %v, want %v", got, was)
	putWeather(t, s, noon, measured(aPlot().Planted-engine.MaxPuddledBeforeDays-1, 20, 30, nan))
	equal(t, looks(), was, "after weather of the year before: looks")
	putWeather(t, s, noon, measured(day0-1, 20, 30, nan))
	now := was
	now[0] = noon
	equal(t, looks(), now, "after new weather: looks")
	version := number(t, s, "SELECT weather_version FROM place WHERE id = 1")
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.tx.SetLook(1, noon+later) })
	putWeather(t, s, noon, measured(day0-1, 20, 30, nan), measured(day0, nan, nan, nan))
	equal(t, looks(), was, "after the same weather: looks")
	wantNumber(t, s, version, "SELECT weather_version FROM place WHERE id = 1 AND weather_version <> 0")
	wantNumber(t, s, 0, "SELECT weather_version FROM place WHERE id = 2")
}

// If another process imports weather, a store that is open must return the new weather at once.
func TestWeatherOfAnotherProcess(t *testing.T) {
	s := openWithPlot(t, ana)
	other := openAt(t, addressOf(s))
	for rain := 1.0; rain < 4; rain++ {
		putWeather(t, other, noon, measured(day0, 20, 30, rain))
		m, ok := weatherOf(t, s, ana).Daily.On(day0)
		errorIf(t, !ok || m.RainMM != rain, "rain %+v, want %g", m, rain)
	}
}

func TestWeatherThatCannotBe(t *testing.T) {
	s := open(t)
	for name, d := range map[string]WeatherDay{
		"one temperature": measured(day0, 20, nan, 1),
		"the other":       measured(day0, nan, 20, 1),
		"upside down":     measured(day0, 31, 30, 1),
		"too cold":        measured(day0, -61, 30, 1),
		"too hot":         measured(day0, 30, 61, 1),
		"no end":          measured(day0, 30, math.Inf(1), 1),
		"rain upwards":    measured(day0, 20, 30, -1),
		"a lake":          measured(day0, 20, 30, engine.MaxDayRainMM+1),
		"long ago":        measured(engine.Date(1800, time.May, 1), 20, 30, 1),
		"far ahead":       measured(engine.Date(2300, time.May, 1), 20, 30, 1),
	} {
		err := s.InTx(ctx, func(tx *Tx) error {
			return tx.PutWeather(1, []WeatherDay{measured(day0-1, 20, 30, 0), d}, noon)
		})
		errorIf(t, err == nil, "%s: was taken", name)
	}
	err := s.InTx(ctx, func(tx *Tx) error { return tx.PutWeather(noSuch, aDayOfWeather, noon) })
	wantErr(t, err, ErrNoPlace, "weather of nowhere")
	wantNumber(t, s, 0, "SELECT count(*) FROM weather")
}

// Staff see the newest weather of a place, and the last measured day of each place in scope.
func TestNewestWeather(t *testing.T) {
	s := open(t)
	hills := anotherPlace(t, s, "hills", "UTC")
	all := Scope{1, hills}
	until := func(scope Scope) map[int64]engine.Day {
		t.Helper()
		return get(t, s, func(tx *Tx) (map[int64]engine.Day, error) { return tx.WeatherUntil(scope) })
	}
	equal(t, until(all), map[int64]engine.Day{1: 0, hills: 0}, "without weather")
	var days []WeatherDay
	for i := range 5 {
		days = append(days, WeatherDay{day0 + engine.Day(2*i), engine.Measured{MinC: 20, MaxC: 30, RainMM: float64(i)}})
	}
	write(t, s, func(tx *Tx) error { return tx.PutWeather(hills, days, noon) })
	equal(t, until(all), map[int64]engine.Day{1: 0, hills: day0 + 8}, "last days")
	equal(t, until(Scope{1}), map[int64]engine.Day{1: 0}, "one place")
	got := get(t, s, func(tx *Tx) (engine.Daily, error) { return tx.WeatherSince(hills, day0+5) })
	errorIf(t, got.From != day0+6 || len(got.Days) != 3 || got.Days[0].RainMM != 3 || got.Days[1].HasRain(),
		"newest days %+v", got)
}
