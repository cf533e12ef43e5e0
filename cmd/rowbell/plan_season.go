package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"slices"
	"unicode"

	"rowbell/engine"
)

// season is what the flags say, and the weather in words.
func (c *planCmd) season(today engine.Day) (s engine.Season, weather string, err error) {
	if s.Plot, err = c.plot(); err != nil {
		return s, "", err
	}
	if s.Tool, err = planTool(c.Tool); err != nil {
		return s, "", err
	}
	for _, text := range c.Pass {
		pass, err := planPass(text)
		if err == nil {
			err = planWithin("--pass", pass.On, s.Plot.Planted, today)
		}
		if err != nil {
			return s, "", err
		}
		s.Passes = append(s.Passes, pass)
	}
	for _, text := range c.Saw {
		seen, err := planSighting(text)
		if err == nil {
			err = planWithin("--saw", seen.On, s.Plot.Planted, today)
		}
		if err != nil {
			return s, "", err
		}
		s.Sightings = append(s.Sightings, seen)
	}
	slices.SortStableFunc(s.Passes, func(a, b engine.Pass) int { return cmp.Compare(a.On, b.On) })
	slices.SortStableFunc(s.Sightings, func(a, b engine.Sighting) int { return cmp.Compare(a.On, b.On) })
	if s.Local, err = c.local(); err != nil {
		return s, "", err
	}
	s.Home = engine.Household{People: c.People, HoursADay: c.HoursADay, Neighbours: c.Neighbours, Herbicide: c.Herbicide}
	if s.Weather, weather, err = c.weather(today); err != nil {
		return s, "", err
	}
	return s, weather, planRefusal(s.Validate())
}

// plot is the ground that the flags tell.
func (c *planCmd) plot() (p engine.Plot, err error) {
	planIs(c.Method, &p.Method, engine.Transplanted, engine.RowSown, engine.Broadcast)
	planIs(c.Flood, &p.Flood, engine.FloodKept, engine.FloodMoist)
	planIs(c.Soil, &p.Soil, engine.SoilHeavy, engine.SoilMedium, engine.SoilLight)
	if c.Row == 0 && p.Method != engine.Broadcast {
		return p, errors.New("--row is needed: the distance between rows in cm")
	}
	p.RowSpacingCM, p.HillSpacingCM, p.InflowLS = c.Row, c.Hill, c.Inflow
	p.SeedlingAgeDays, p.SeedlingsPerHill, p.DurationDays = c.SeedlingAge, c.Seedlings, c.Duration
	if p.Planted, err = planDay("--planted", c.Planted); err != nil {
		return p, err
	}
	if c.Puddled != "" {
		if p.Puddled, err = planDay("--puddled", c.Puddled); err != nil {
			return p, err
		}
	}
	p.AreaM2, err = planArea(c.Area)
	return p, err
}

// local is the place that the flags tell, for the rest the table.
func (c *planCmd) local() (*engine.Local, error) {
	l := engine.NewLocal()
	set := map[string]bool{}
	for _, text := range c.Figure {
		name, err := planFigure(text, &l.Figures)
		if err == nil && set[name] {
			err = fmt.Errorf("--figure %s is told twice", name)
		}
		if err != nil {
			return nil, err
		}
		set[name] = true
	}
	for _, text := range c.Price {
		name, err := planPrice(text, &l.Prices)
		if err == nil && set[name] {
			err = fmt.Errorf("--price %s is told twice", name)
		}
		if err != nil {
			return nil, err
		}
		set[name] = true
	}
	for _, r := range c.Currency {
		if !unicode.IsPrint(r) || unicode.IsDigit(r) {
			return nil, fmt.Errorf("--currency %q: write it as people do, without digits", c.Currency)
		}
	}
	l.Prices.Currency = c.Currency
	return &l, nil
}

// weather is the year that the flags tell, what was measured, and how to call
// it.
func (c *planCmd) weather(today engine.Day) (w engine.Weather, words string, err error) {
	if w, words, err = c.year(); err != nil {
		return w, "", err
	}
	w.LatitudeDeg = planLatitude
	taken := " (taken, as none was told)"
	if c.Latitude != nil {
		w.LatitudeDeg, taken = *c.Latitude, ""
		if !(w.LatitudeDeg >= -90 && w.LatitudeDeg <= 90) {
			return w, "", fmt.Errorf("--latitude %g is not between -90 and 90 degrees", w.LatitudeDeg)
		}
	}
	words += fmt.Sprintf("; latitude %g°%s", w.LatitudeDeg, taken)
	if c.Daily != "" {
		daily, told, err := planDaily(c.Daily, today)
		if err != nil {
			return w, "", err
		}
		w.Daily = daily
		words += "; " + told
	}
	return w, words, nil
}

// year is the weather of a usual year.
func (c *planCmd) year() (engine.Weather, string, error) {
	if c.Months != "" {
		f, err := os.Open(c.Months)
		if err != nil {
			return engine.Weather{}, "", err
		}
		defer f.Close()
		normals, err := planMonths(f)
		if err != nil {
			return engine.Weather{}, "", fmt.Errorf("%s: %w", c.Months, err)
		}
		return engine.Weather{Normals: normals}, "the months of " + c.Months, nil
	}
	low, high, err := planRange("--temps", cmp.Or(c.Temps, planTemps), "22-32")
	if err != nil {
		return engine.Weather{}, "", err
	}
	words := fmt.Sprintf("%g to %g °C all year", low, high)
	if c.Temps == "" {
		words += " (taken, as none was told)"
	}
	return engine.Steady(low, high), words + " and no rain", nil
}

// planWithin refuses a record from outside the season so far.
func planWithin(flag string, on, planted, today engine.Day) error {
	switch {
	case on < planted:
		return fmt.Errorf("%s %s is before the planting day %s", flag, on, planted)
	case on > today:
		return fmt.Errorf("%s %s is after the day of the plan, %s", flag, on, today)
	}
	return nil
}
