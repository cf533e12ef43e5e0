package store

import (
	"encoding/json"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"rowbell/engine"
)

// placeRow is a row of the table place. Its fields Normals, Figures, Prices and WeedClocks are not
// set: the row has them as JSON.
type placeRow struct {
	Place
	normals, figures, prices, weedClocks string
	weatherVersion                       int64
}

func (r *placeRow) into() []any {
	return args(&r.ID, &r.Name, &r.Zone, &r.Latitude, &r.ElevationM, &r.normals, &r.MorningHour,
		&r.Soil, &r.figures, &r.prices, &r.Learning, &r.WeedRate, &r.weedClocks,
		&r.LearnedN, &r.weatherVersion)
}

// readyPlace is a place whose database row is decoded. Goroutines share it, so it must not be changed.
type readyPlace struct {
	Place
	row   placeRow
	loc   *time.Location
	local *engine.Local
	daily atomic.Pointer[engine.Daily] // nil until the weather is first read
}

// placeCache caches decoded places. A row is decoded again if any of its columns changed, so a change by another
// process is seen at once.
type placeCache struct{ known sync.Map } // key: id of the place, value: *readyPlace

func (c *placeCache) place(row placeRow) (*readyPlace, error) {
	var had *readyPlace
	if p, ok := c.known.Load(row.ID); ok {
		had = p.(*readyPlace)
		if had.row == row {
			return had, nil
		}
	}
	p, err := row.ready()
	if err != nil {
		return nil, fmt.Errorf("store: place %s: %w", row.Name, err)
	}
	if had != nil && had.row.weatherVersion == row.weatherVersion {
		p.daily.Store(had.daily.Load())
	}
	c.known.Store(row.ID, p)
	return p, nil
}

func (r placeRow) ready() (*readyPlace, error) {
	loc, err := time.LoadLocation(r.Zone)
	if err != nil {
		return nil, err
	}
	p := &readyPlace{Place: r.Place, row: r, loc: loc}
	var months []month
	if err := json.Unmarshal([]byte(r.normals), &months); err != nil {
		return nil, fmt.Errorf("normals: %w", err)
	}
	if len(months) != len(p.Normals) {
		return nil, fmt.Errorf("%d months of normals", len(months))
	}
	for i, m := range months {
		p.Normals[i] = engine.Normal{MinC: m.Min, MaxC: m.Max, RainMM: m.Rain}
	}
	if err := json.Unmarshal([]byte(r.figures), &p.Figures); err != nil {
		return nil, err
	}
	var clocks []engine.ClockWeight
	if err := json.Unmarshal([]byte(r.weedClocks), &clocks); err != nil {
		return nil, fmt.Errorf("weed clocks: %w", err)
	}
	if len(clocks) == len(p.WeedClocks) { // an earlier release may have had other clocks
		copy(p.WeedClocks[:], clocks)
	}
	var told prices
	if err := json.Unmarshal([]byte(r.prices), &told); err != nil {
		return nil, fmt.Errorf("prices: %w", err)
	}
	p.Prices = engine.Prices(told)
	p.local = p.Place.local()
	return p, nil
}

// today returns the calendar day at the place.
func (p *readyPlace) today(now int64) engine.Day { return engine.DayOf(time.Unix(now, 0), p.loc) }

// measured returns the weather that was measured at the place. It is read again only if its version has changed.
func (p *readyPlace) measured(tx *Tx) (engine.Daily, error) {
	if p.row.weatherVersion == 0 {
		return engine.Daily{}, nil
	}
	if daily := p.daily.Load(); daily != nil {
		return *daily, nil
	}
	daily, err := tx.Weather(p.ID)
	if err == nil {
		p.daily.Store(&daily)
	}
	return daily, err
}
