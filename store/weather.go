package store

import (
	"database/sql"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"rowbell/engine"
)

// WeatherDay is the measurements of one day at a place.
type WeatherDay struct {
	On engine.Day
	engine.Measured
}

const (
	sqlWeather = `SELECT w.day, w.min_c, w.max_c, w.rain_mm FROM weather w WHERE w.place_id = ` + asID + `
		ORDER BY w.day`
	sqlWeatherSince = `SELECT w.day, w.min_c, w.max_c, w.rain_mm FROM weather w WHERE w.place_id = ` + asID + `
		AND w.day >= CAST($2 AS BIGINT) ORDER BY w.day`
	sqlLastWeather = `SELECT pl.id, coalesce((SELECT max(w.day) FROM weather w WHERE w.place_id = pl.id), 0)
	FROM place pl WHERE pl.id IN ` + idList + ` ORDER BY pl.id`
	sqlWeatherSpan = `SELECT coalesce(min(w.day), 0), coalesce(max(w.day), 0), count(*) FROM weather w
		WHERE w.place_id = ` + asID
)

// Weather returns all measurements at a place. A value that was not measured is NaN.
func (tx *Tx) Weather(placeID int64) (engine.Daily, error) {
	return tx.readWeather(sqlWeather, args(placeID))
}

// WeatherSince is Weather without the days before one.
func (tx *Tx) WeatherSince(placeID int64, from engine.Day) (engine.Daily, error) {
	return tx.readWeather(sqlWeatherSince, args(placeID, from))
}

// WeatherUntil returns the last measured day of each place in scope, by its id; 0 if none was measured.
func (tx *Tx) WeatherUntil(scope Scope) (map[int64]engine.Day, error) {
	last := map[int64]engine.Day{}
	err := tx.each(sqlLastWeather, args(ids(scope)), func(scan func(...any) error) error {
		var place int64
		var day engine.Day
		err := scan(&place, &day)
		last[place] = day
		return err
	})
	return last, fail("weather", err)
}

func (tx *Tx) readWeather(query string, a []any) (engine.Daily, error) {
	var y engine.Daily
	err := tx.each(query, a, func(scan func(...any) error) error {
		var day engine.Day
		var low, high, rain sql.NullFloat64
		if err := scan(&day, &low, &high, &rain); err != nil {
			return err
		}
		if len(y.Days) == 0 {
			y.From = day
		}
		for y.From+engine.Day(len(y.Days)) < day {
			y.Days = append(y.Days, engine.Unmeasured())
		}
		y.Days = append(y.Days, engine.Measured{MinC: orNaN(low), MaxC: orNaN(high), RainMM: orNaN(rain)})
		return nil
	})
	y.Days = y.Days[:len(y.Days):len(y.Days)] // readers share the slice: append must copy it
	return y, fail("weather", err)
}

func orNaN(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}

func nanNull(v float64) any {
	if math.IsNaN(v) {
		return nil
	}
	return v
}

// WeatherSpan returns the first and last day with measurements, and the number of such days. All three are 0 if there
// is none.
func (tx *Tx) WeatherSpan(placeID int64) (from, to engine.Day, days int, err error) {
	_, err = tx.one(sqlWeatherSpan, args(placeID), &from, &to, &days)
	return from, to, days, fail("weather span", err)
}

const (
	// An unchanged day is not written, because a changed row makes the plots be planned again.
	sqlPutWeather = `INSERT INTO weather (place_id, day, min_c, max_c, rain_mm) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (place_id, day) DO UPDATE SET min_c = coalesce(excluded.min_c, weather.min_c),
		max_c = coalesce(excluded.max_c, weather.max_c), rain_mm = coalesce(excluded.rain_mm, weather.rain_mm)
	WHERE coalesce(excluded.min_c, weather.min_c) IS DISTINCT FROM weather.min_c
		OR coalesce(excluded.max_c, weather.max_c) IS DISTINCT FROM weather.max_c
		OR coalesce(excluded.rain_mm, weather.rain_mm) IS DISTINCT FROM weather.rain_mm`
	sqlNewWeather = `UPDATE place SET weather_version = $1 WHERE id = $2`
)

// PutWeather stores measurements at a place. A value that a day leaves out is not changed. If any value changed, the
// bell (the reminder job) looks at the plots whose plan may change. For an unknown id, PutWeather returns ErrNoPlace.
func (tx *Tx) PutWeather(placeID int64, days []WeatherDay, now int64) error {
	places, err := tx.placesByID([]int64{placeID})
	switch {
	case err != nil:
		return fail("put weather", err)
	case places[placeID] == nil:
		return ErrNoPlace
	}
	var last engine.Day
	changed := false
	for _, d := range days {
		if err := d.validate(); err != nil {
			return err
		}
		if !d.HasTemperature() && !d.HasRain() {
			continue
		}
		n, err := tx.exec(sqlPutWeather, placeID, d.On, nanNull(d.MinC), nanNull(d.MaxC), nanNull(d.RainMM))
		if err != nil {
			return fail("put weather", err)
		}
		if n > 0 {
			last, changed = max(last, d.On), true
		}
	}
	if !changed {
		return nil
	}
	if err := tx.do(sqlNewWeather, 1+rand.Int64N(math.MaxInt64), placeID); err != nil {
		return fail("put weather", err)
	}
	// A plot that was planted later is left out: its season begins with puddling, at most MaxPuddledBeforeDays before
	// planting, and weather before that does not change the season.
	return fail("put weather", tx.lookAtPlace(placeID, now, last+engine.MaxPuddledBeforeDays))
}

// validate returns an error for values that cannot be real measurements.
func (d WeatherDay) validate() error {
	switch {
	case d.On < engine.Date(engine.MinYear, time.January, 1) || d.On > engine.Date(engine.MaxYear, time.December, 31):
		return fmt.Errorf("store: weather of %s: not between the years %d and %d", d.On, engine.MinYear, engine.MaxYear)
	case math.IsNaN(d.MinC) != math.IsNaN(d.MaxC):
		return fmt.Errorf("store: weather of %s: lowest and highest temperature go together", d.On)
	case d.HasTemperature() && !(engine.ColdestC <= d.MinC && d.MinC <= d.MaxC && d.MaxC <= engine.HottestC):
		return fmt.Errorf("store: weather of %s: %g to %g °C", d.On, d.MinC, d.MaxC)
	case d.HasRain() && !(d.RainMM >= 0 && d.RainMM <= engine.MaxDayRainMM):
		return fmt.Errorf("store: weather of %s: %g mm of rain", d.On, d.RainMM)
	}
	return nil
}
