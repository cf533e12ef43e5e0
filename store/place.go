package store

import (
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"rowbell/engine"
)

// DefaultPlace is the name of the place that growers get who have no other.
const DefaultPlace = "default"

// Place is a growing area.
type Place struct {
	ID          int64
	Name        string
	Zone        string // IANA time zone
	Latitude    float64
	ElevationM  float64
	Normals     engine.Normals
	MorningHour int // hour of the day, in Zone, from which texts may come
}

// defaultPlace stands in until the operator describes the real one: lowland
// of the wet tropics at 15 degrees north, from memory.
func defaultPlace() Place {
	p := Place{Name: DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7}
	minC := [12]float64{19, 20, 22, 24, 25, 25, 25, 25, 24, 23, 21, 19}
	maxC := [12]float64{31, 32, 34, 35, 34, 33, 32, 32, 32, 32, 31, 30}
	rain := [12]float64{10, 10, 20, 50, 170, 180, 210, 230, 260, 180, 60, 15}
	for m := range p.Normals {
		p.Normals[m] = engine.Normal{MinC: minC[m], MaxC: maxC[m], RainMM: rain[m]}
	}
	return p
}

// Validate reports the first thing that cannot be right.
func (p Place) Validate() error {
	switch {
	case p.Name == "":
		return fmt.Errorf("store: a place needs a name")
	case !(p.Latitude >= -90 && p.Latitude <= 90):
		return fmt.Errorf("store: place %s: latitude %g is not between -90 and 90", p.Name, p.Latitude)
	case p.MorningHour < 0 || p.MorningHour > 23:
		return fmt.Errorf("store: place %s: morning hour %d is not between 0 and 23", p.Name, p.MorningHour)
	}
	if _, err := time.LoadLocation(p.Zone); err != nil || p.Zone == "" {
		return fmt.Errorf("store: place %s: %q is not the name of a time zone", p.Name, p.Zone)
	}
	if err := (engine.Season{
		Plot: engine.Plot{Method: engine.Broadcast}, Weather: engine.Weather{Normals: p.Normals},
	}).Validate(); err != nil {
		return fmt.Errorf("store: place %s: %w", p.Name, err)
	}
	return nil
}

// month is how a Normal is written in the database.
type month struct {
	Min  float64 `json:"min"`
	Max  float64 `json:"max"`
	Rain float64 `json:"rain"`
}

const sqlPutPlace = `INSERT INTO place (name, zone, latitude, elevation_m, normals, morning_hour)
	VALUES ($1, $2, $3, $4, $5, $6)
	ON CONFLICT (name) DO UPDATE SET zone = excluded.zone, latitude = excluded.latitude,
		elevation_m = excluded.elevation_m, normals = excluded.normals, morning_hour = excluded.morning_hour
	RETURNING id`

// PutPlace makes or changes the place of this name, and returns its id.
func (tx *Tx) PutPlace(p Place) (int64, error) {
	if err := p.Validate(); err != nil {
		return 0, err
	}
	months := make([]month, len(p.Normals))
	for i, n := range p.Normals {
		months[i] = month{n.MinC, n.MaxC, n.RainMM}
	}
	text, err := json.Marshal(months)
	if err != nil {
		return 0, fmt.Errorf("store: place %s: %w", p.Name, err)
	}
	var id int64
	_, err = tx.one(sqlPutPlace, args(p.Name, p.Zone, p.Latitude, p.ElevationM, string(text), p.MorningHour), &id)
	return id, fail("put place", err)
}

const placeColumns = `pl.id, pl.name, pl.zone, pl.latitude, pl.elevation_m, pl.normals, pl.morning_hour`

const (
	sqlPlaceByName  = `SELECT ` + placeColumns + ` FROM place pl WHERE pl.name = $1`
	sqlDefaultPlace = `SELECT ` + placeColumns + ` FROM place pl ORDER BY pl.id LIMIT 1`
	sqlPlaces       = `SELECT ` + placeColumns + ` FROM place pl ORDER BY pl.name`
	sqlPlacesByID   = `SELECT ` + placeColumns + ` FROM place pl WHERE pl.id IN ` + idList
)

// PlaceByName finds a place.
func (tx *Tx) PlaceByName(name string) (Place, bool, error) {
	var row placeRow
	ok, err := tx.one(sqlPlaceByName, args(name), row.into()...)
	if err != nil || !ok {
		return Place{}, false, fail("place", err)
	}
	known, err := tx.s.places.place(row)
	if err != nil {
		return Place{}, false, err
	}
	return known.Place, true, nil
}

// Places lists all places by name.
func (tx *Tx) Places() ([]Place, error) {
	ready, err := tx.readyPlaces()
	var list []Place
	for _, p := range ready {
		list = append(list, p.Place)
	}
	return list, fail("places", err)
}

func (tx *Tx) readyPlaces() ([]*readyPlace, error) {
	var list []*readyPlace
	err := tx.each(sqlPlaces, nil, func(scan func(...any) error) error {
		var row placeRow
		if err := scan(row.into()...); err != nil {
			return err
		}
		p, err := tx.s.places.place(row)
		list = append(list, p)
		return err
	})
	return list, err
}

// placeRow is a place as the database has it.
type placeRow struct {
	id, morning           int64
	name, zone, normals   string
	latitude, elevationIn float64
}

func (r *placeRow) into() []any {
	return args(&r.id, &r.name, &r.zone, &r.latitude, &r.elevationIn, &r.normals, &r.morning)
}

// readyPlace is a place with its zone looked up.
type readyPlace struct {
	Place
	loc *time.Location
}

// placeCache keeps what was worked out of a row. The whole row is the key, so
// that a place changed by another process is never served stale.
type placeCache struct{ known sync.Map } // placeRow -> *readyPlace

func (c *placeCache) place(row placeRow) (*readyPlace, error) {
	if p, ok := c.known.Load(row); ok {
		return p.(*readyPlace), nil
	}
	loc, err := time.LoadLocation(row.zone)
	if err != nil {
		return nil, fmt.Errorf("store: place %s: %w", row.name, err)
	}
	var months []month
	if err := json.Unmarshal([]byte(row.normals), &months); err != nil {
		return nil, fmt.Errorf("store: place %s: normals: %w", row.name, err)
	}
	p := &readyPlace{loc: loc, Place: Place{ID: row.id, Name: row.name, Zone: row.zone, Latitude: row.latitude,
		ElevationM: row.elevationIn, MorningHour: int(row.morning)}}
	if len(months) != len(p.Normals) {
		return nil, fmt.Errorf("store: place %s: %d months of normals", row.name, len(months))
	}
	for i, m := range months {
		p.Normals[i] = engine.Normal{MinC: m.Min, MaxC: m.Max, RainMM: m.Rain}
	}
	c.known.Store(row, p)
	return p, nil
}
