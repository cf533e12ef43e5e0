package store

import (
	"encoding/json"
	"fmt"
	"time"

	"rowbell/engine"
)

// DefaultPlace is the name of the place for growers who chose no place.
const DefaultPlace = "default"

// Place is an area where rice is grown, with its climate, time zone and prices.
type Place struct {
	ID          int64
	Name        string
	Zone        string // IANA name of the time zone
	Latitude    float64
	ElevationM  float64
	Normals     engine.Normals
	MorningHour int // hour of the day, in the time zone Zone, from which texts may be sent

	Soil    engine.Soil // used for plots whose growers gave no soil
	Figures Figures     // figures of the engine that have another value at this place
	Prices  engine.Prices

	// Learning allows WeedRate and WeedClocks to follow what growers see at the place (see Learned). If Learning is
	// false, the values of the engine's table are used, and what was learned is stored but not used.
	Learning bool
	WeedRate float64 // speed of weed growth relative to the engine's table; PutPlace does not change it
	LearnedN int     // number of observations from which WeedRate was learned; PutPlace does not change it

	// WeedClocks says which of the engine's weed clocks fits the place, and the rate of each. WeedRate is the mean of
	// these rates. PutPlace does not change WeedClocks.
	WeedClocks engine.ClockWeights
}

// defaultPlace is used until the operator describes the real place. Its values are those of a lowland in the wet
// tropics at 15 degrees north (from memory, without a source).
func defaultPlace() Place {
	p := Place{Name: DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7, Learning: true, WeedRate: 1}
	minC := [12]float64{19, 20, 22, 24, 25, 25, 25, 25, 24, 23, 21, 19}
	maxC := [12]float64{31, 32, 34, 35, 34, 33, 32, 32, 32, 32, 31, 30}
	rain := [12]float64{10, 10, 20, 50, 170, 180, 210, 230, 260, 180, 60, 15}
	for m := range p.Normals {
		p.Normals[m] = engine.Normal{MinC: minC[m], MaxC: maxC[m], RainMM: rain[m]}
	}
	return p
}

// Validate returns an error for the first field whose value is not possible.
func (p Place) Validate() error {
	switch {
	case p.Name == "":
		return fmt.Errorf("store: a place needs a name")
	case !(p.Latitude >= -90 && p.Latitude <= 90):
		return fmt.Errorf("store: place %s: latitude %g is not between -90 and 90", p.Name, p.Latitude)
	case p.MorningHour < 0 || p.MorningHour > 23:
		return fmt.Errorf("store: place %s: morning hour %d is not between 0 and 23", p.Name, p.MorningHour)
	case p.Soil > engine.SoilLight:
		return fmt.Errorf("store: place %s: soil %d is unknown", p.Name, p.Soil)
	}
	if _, err := time.LoadLocation(p.Zone); err != nil || p.Zone == "" {
		return fmt.Errorf("store: place %s: %q is not the name of a time zone", p.Name, p.Zone)
	}
	if err := (engine.Season{
		Plot: engine.Plot{Method: engine.Broadcast}, Weather: engine.Weather{Normals: p.Normals}, Local: p.local(),
	}).Validate(); err != nil {
		return fmt.Errorf("store: place %s: %w", p.Name, err)
	}
	return nil
}

// local converts the place to the type that the package engine uses.
func (p *Place) local() *engine.Local {
	l := engine.NewLocal()
	p.Figures.over(&l.Figures)
	l.Prices = p.Prices
	if p.Learning && p.WeedRate != 0 {
		l.WeedRate, l.Clocks = p.WeedRate, p.WeedClocks
	}
	return &l
}

// month is the JSON form of an engine.Normal.
type month struct {
	Min  float64 `json:"min"`
	Max  float64 `json:"max"`
	Rain float64 `json:"rain"`
}

// prices is the JSON form of an engine.Prices.
type prices struct {
	Currency     string  `json:"currency,omitempty"`
	Tool         float64 `json:"tool,omitempty"`
	ToolSalvage  float64 `json:"tool_salvage,omitempty"`
	ToolYears    float64 `json:"tool_years,omitempty"`
	InterestYear float64 `json:"interest_year,omitempty"`
	HireDay      float64 `json:"hire_day,omitempty"`
	ServiceHa    float64 `json:"service_ha,omitempty"`
	LabourDay    float64 `json:"labour_day,omitempty"`
	FamilyDay    float64 `json:"family_day,omitempty"`
	SeasonsYear  float64 `json:"seasons_year,omitempty"`
}

const sqlPutPlace = `INSERT INTO place (name, zone, latitude, elevation_m, normals, morning_hour, soil, figures,
	prices, learning)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
	ON CONFLICT (name) DO UPDATE SET zone = excluded.zone, latitude = excluded.latitude,
		elevation_m = excluded.elevation_m, normals = excluded.normals, morning_hour = excluded.morning_hour,
		soil = excluded.soil, figures = excluded.figures, prices = excluded.prices, learning = excluded.learning
	RETURNING id`

// PutPlace creates or changes the place with this name, and returns its id. The learned weed rate and the measured
// weather of the place stay.
func (tx *Tx) PutPlace(p Place) (int64, error) {
	if err := p.Validate(); err != nil {
		return 0, err
	}
	months := make([]month, len(p.Normals))
	for i, n := range p.Normals {
		months[i] = month{n.MinC, n.MaxC, n.RainMM}
	}
	var texts [3]string
	for i, v := range []any{months, p.Figures, prices(p.Prices)} {
		b, err := json.Marshal(v)
		if err != nil {
			return 0, fmt.Errorf("store: place %s: %w", p.Name, err)
		}
		texts[i] = string(b)
	}
	var id int64
	_, err := tx.one(sqlPutPlace, args(p.Name, p.Zone, p.Latitude, p.ElevationM, texts[0], p.MorningHour,
		int64(p.Soil), texts[1], texts[2], p.Learning), &id)
	return id, fail("put place", err)
}

const placeColumns = `pl.id, pl.name, pl.zone, pl.latitude, pl.elevation_m, pl.normals, pl.morning_hour,
	pl.soil, pl.figures, pl.prices, pl.learning, pl.weed_rate, pl.weed_clocks, pl.learned_n, pl.weather_version`

const (
	sqlPlaceByName  = `SELECT ` + placeColumns + ` FROM place pl WHERE pl.name = ` + asText
	sqlDefaultPlace = `SELECT ` + placeColumns + ` FROM place pl ORDER BY pl.id LIMIT 1`
	sqlPlaces       = `SELECT ` + placeColumns + ` FROM place pl ORDER BY pl.name`
	sqlPlacesByID   = `SELECT ` + placeColumns + ` FROM place pl WHERE pl.id IN ` + idList
)

// PlaceByName returns the place with this name. The bool is false if no place has the name.
func (tx *Tx) PlaceByName(name string) (Place, bool, error) {
	list, err := tx.readyPlaces(sqlPlaceByName, name)
	if err != nil || len(list) == 0 {
		return Place{}, false, fail("place", err)
	}
	return list[0].Place, true, nil
}

// Places returns all places, ordered by name.
func (tx *Tx) Places() ([]Place, error) {
	ready, err := tx.readyPlaces(sqlPlaces)
	var list []Place
	for _, p := range ready {
		list = append(list, p.Place)
	}
	return list, fail("places", err)
}

func (tx *Tx) readyPlaces(query string, a ...any) ([]*readyPlace, error) {
	var list []*readyPlace
	err := tx.each(query, a, func(scan func(...any) error) error {
		var row placeRow
		if err := scan(row.into()...); err != nil {
			return err
		}
		p, err := tx.s.places.place(row)
		if err == nil {
			list = append(list, p)
		}
		return err
	})
	return list, err
}
