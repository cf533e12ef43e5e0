package config

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/gateway/fault"
	"rowbell/menu/text"
	"rowbell/store"
)

// Place is a growing area. A key that the file leaves out does not change in the records.
type Place struct {
	Zone        *string            `toml:"zone"`
	Latitude    *float64           `toml:"latitude"`
	ElevationM  *float64           `toml:"elevation_m"`
	MorningHour *int               `toml:"morning_hour"`
	Months      []Month            `toml:"months"` // January is the first
	Soil        *string            `toml:"soil"`
	Languages   []string           `toml:"languages"` // offered first to growers of the place
	Learning    *bool              `toml:"learning"`
	Prices      *Prices            `toml:"prices"`
	Figures     map[string]float64 `toml:"figures"` // the keys are the names that the command "rowbell sources" lists
}

// NamedPlace is a further place. The first place has no name in the file; the records call it store.DefaultPlace.
type NamedPlace struct {
	Name string `toml:"name"`
	Place
}

// Month is the climate of a month: mean daily minimum and maximum temperature, and rain of the month.
type Month struct {
	MinC   float64 `toml:"min_c"`
	MaxC   float64 `toml:"max_c"`
	RainMM float64 `toml:"rain_mm"`
}

// Prices has the fields of engine.Prices in the same order, because Go then converts one type to the other.
type Prices struct {
	Currency     string  `toml:"currency"`
	Tool         float64 `toml:"tool"`
	ToolSalvage  float64 `toml:"tool_salvage"`
	ToolYears    float64 `toml:"tool_years"`
	InterestYear float64 `toml:"interest_year"` // a fraction: 0.24 is 24 % a year
	HireDay      float64 `toml:"hire_day"`
	ServiceHa    float64 `toml:"service_ha"`
	LabourDay    float64 `toml:"labour_day"`
	FamilyDay    float64 `toml:"family_day"`
	SeasonsYear  float64 `toml:"seasons_year"`
}

// maxPlaces is how many places fit on the screen on which a grower chooses one.
const maxPlaces = 5

func (c *Config) checkPlaces() error {
	var l fault.List
	l.Refuse(len(c.Places) >= maxPlaces, "places",
		"%d are given beside the first, at most %d can be", len(c.Places), maxPlaces-1)
	if c.Place != nil {
		l.Add("place", c.Place.check(c))
	}
	names := map[string]bool{store.DefaultPlace: true}
	for i := range c.Places {
		p := &c.Places[i]
		var own fault.List
		own.Add("", checkName(p.Name))
		own.Refuse(names[p.Name], "name", "two places are called %s", p.Name)
		names[p.Name] = true
		own.Add("", p.check(c))
		l.Add(fmt.Sprintf("places[%d]", i+1), own.Err())
	}
	return l.Err()
}

func (p *Place) check(c *Config) error {
	var wrong fault.List
	if z := p.Zone; z != nil {
		_, err := time.LoadLocation(*z)
		wrong.Refuse(err != nil || *z == "" || *z == "Local", "zone",
			"%q is not the name of a time zone such as Europe/London", *z)
	}
	// The condition is negated to reject NaN, too.
	if l := p.Latitude; l != nil && !(*l >= -90 && *l <= 90) {
		wrong.Refuse(true, "latitude", "%g is not in -90..90 degrees", *l)
	}
	if e := p.ElevationM; e != nil && !(*e >= -500 && *e <= 9000) {
		wrong.Refuse(true, "elevation_m", "%g is not in -500..9000 m", *e)
	}
	n := len(p.Months)
	wrong.Refuse(n != 0 && n != 12, "months", "%d months are given, 12 are needed, January first", n)
	if p.Soil != nil {
		_, ok := soilNamed(*p.Soil)
		wrong.Refuse(!ok, "soil", "%q is not one of heavy, medium, light", *p.Soil)
	}
	if p.Prices != nil {
		prices := engine.Prices(*p.Prices)
		if err := prices.Validate(); err != nil {
			wrong.Add("prices", engineError(err))
		}
		if !text.IsGSM7(prices.Currency) {
			wrong.Add("prices", fault.Under("currency",
				fmt.Errorf("not every phone shows %q", prices.Currency)))
		}
	}
	var f store.Figures
	for _, name := range slices.Sorted(maps.Keys(p.Figures)) {
		if err := f.Set(name, p.Figures[name]); err != nil {
			wrong.Add("figures", fault.Under(name, engineError(err)))
		}
	}
	if h := p.MorningHour; h != nil {
		wrong.Add("morning_hour", c.checkMorning(*h))
	}
	return wrong.Err()
}

// checkMorning returns an error if the morning hour is within the quiet hours. Reminders are due in the morning, so
// none would ever be sent.
func (c *Config) checkMorning(hour int) error {
	if hour < 0 || hour >= c.QuietHour {
		return fmt.Errorf("%d is not an hour before quiet_hour, %d", hour, c.QuietHour)
	}
	return nil
}

// engineError removes the package name from an error of the engine.
func engineError(err error) error {
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

func soilNamed(name string) (engine.Soil, bool) {
	for _, s := range []engine.Soil{engine.SoilHeavy, engine.SoilMedium, engine.SoilLight} {
		if s.String() == name {
			return s, true
		}
	}
	return engine.SoilUnknown, false
}

// over returns the stored place with the values of the file, which must be valid. Prices and figures of the file
// replace all stored ones, so a price that was deleted from the file is deleted from the records.
func (p *Place) over(had store.Place) store.Place {
	if p == nil {
		return had
	}
	now := had
	now.Zone = valueOr(p.Zone, now.Zone)
	now.Latitude, now.ElevationM = valueOr(p.Latitude, now.Latitude), valueOr(p.ElevationM, now.ElevationM)
	now.MorningHour = valueOr(p.MorningHour, now.MorningHour)
	now.Learning = valueOr(p.Learning, now.Learning)
	for i, m := range p.Months {
		now.Normals[i] = engine.Normal(m)
	}
	if p.Soil != nil {
		now.Soil, _ = soilNamed(*p.Soil)
	}
	now.Prices = engine.Prices{}
	if p.Prices != nil {
		now.Prices = engine.Prices(*p.Prices)
	}
	now.Figures = store.Figures{}
	for name, v := range p.Figures {
		_ = now.Figures.Set(name, v)
	}
	return now
}

// PutPlaces writes the places of the file to the records. The plots of a changed place are planned again.
func (c *Config) PutPlaces(tx *store.Tx, now int64) error {
	stored, _, err := tx.PlaceByName(store.DefaultPlace)
	if err != nil {
		return err
	}
	first := c.Place.over(stored)
	if err := c.checkMorning(first.MorningHour); err != nil {
		return fmt.Errorf("place.morning_hour: %w", err)
	}
	if c.Place != nil {
		if err := putPlace(tx, first, now); err != nil {
			return fmt.Errorf("place: %w", err)
		}
	}
	for _, p := range c.Places {
		if p.Prices == nil {
			p.Prices = (*Prices)(&first.Prices)
		}
		if p.Figures == nil {
			p.Figures = maps.Collect(first.Figures.All())
		}
		other := p.over(first) // a key that the file leaves out gets the value of the first place
		other.Name = p.Name
		if err := putPlace(tx, other, now); err != nil {
			return fmt.Errorf("places: %s: %w", p.Name, err)
		}
	}
	return nil
}

// putPlace writes a place to the records, and has its plots planned again if the place has changed. The learned weed
// rate does not change.
func putPlace(tx *store.Tx, p store.Place, now int64) error {
	stored, known, err := tx.PlaceByName(p.Name)
	if err != nil {
		return err
	}
	id, err := tx.PutPlace(p)
	if err != nil || !known {
		return err
	}
	p.ID, p.WeedRate, p.LearnedN = stored.ID, stored.WeedRate, stored.LearnedN
	if p == stored {
		return nil
	}
	return tx.LookAtPlace(id, now)
}
