package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/gateway/handset"
)

// planCmd is rowbell plan: one plot from flags, planned on a day. It needs no
// records and no service.
type planCmd struct {
	Method      string   `enum:"transplanted,row-sown,broadcast" default:"transplanted" help:"How the rice was planted: ${enum}."`
	Planted     string   `required:"" help:"Day of transplanting or sowing, YYYY-MM-DD." placeholder:"DATE"`
	Row         float64  `help:"Distance between rows, cm." placeholder:"CM"`
	Hill        float64  `help:"Distance between plants in the row, cm." placeholder:"CM"`
	Tool        string   `help:"Working width of the tool, cm: 15, or 10-15 if it can be changed." placeholder:"CM"`
	Area        string   `help:"Size of the plot: square metres, or length by width in metres as in 20x30." placeholder:"M2"`
	Flood       string   `enum:"kept,moist," default:"" help:"Water since planting: kept (about 5 cm stayed on) or moist (it did not)." placeholder:"WATER"`
	SeedlingAge int      `help:"Age of the seedlings when they were set, days." placeholder:"DAYS"`
	Seedlings   int      `help:"Seedlings a hill." placeholder:"N"`
	Duration    int      `help:"Days from seed to harvest." placeholder:"DAYS"`
	Puddled     string   `help:"Day of the last puddling or levelling, YYYY-MM-DD; without it the planting day." placeholder:"DATE"`
	Pass        []string `sep:"none" help:"A weeding that was done: DATE, then with colons what is known of tool or hand, along, across or both, and few, some or many weeds left." placeholder:"DATE[:tool|hand][:few|some|many]"`
	Saw         []string `sep:"none" help:"What was seen: DATE, then with colons the leaves on most weeds (1, 2-3, 4+), how many weeds (few, some, many), and rows open or closed." placeholder:"DATE[:2-3][:many][:open|closed]"`
	Today       string   `help:"Day of the plan, YYYY-MM-DD; without it the system's day." placeholder:"DATE"`
	Temps       string   `xor:"weather" help:"Daily minimum and maximum temperature, °C, the same all year (without either, ${plan_temps})." placeholder:"MIN-MAX"`
	Months      string   `xor:"weather" help:"CSV file with a line a month: month,min,max,rain in °C and mm." placeholder:"FILE"`
	JSON        bool     `name:"json" help:"Print JSON instead of the table."`
	Picture     string   `help:"Draw the season into this SVG file." placeholder:"FILE"`
	Output      string   `short:"o" help:"Write the table or JSON to this file." placeholder:"FILE"`
}

// planTemps is the weather of a plan that is told none: a warm lowland.
const planTemps = "23-32"

// Run prints the plan.
func (c *planCmd) Run(w *world) error { return c.run(w.now(), w.out) }

// run plans the plot and writes what was asked for.
func (c *planCmd) run(now time.Time, out io.Writer) error {
	today := engine.DayOf(now, now.Location())
	if c.Today != "" {
		var err error
		if today, err = planDay("--today", c.Today); err != nil {
			return &usageError{err, "rowbell plan --help"}
		}
	}
	s, weather, err := c.season(today)
	if err != nil {
		return &usageError{err, "rowbell plan --help"}
	}
	plan, err := s.Plan(today)
	if err != nil {
		return planRefusal(err)
	}
	var b bytes.Buffer
	if c.JSON {
		err = planJSON(&b, s, plan, weather)
	} else {
		err = planTable(&b, s, plan, weather)
	}
	if err != nil {
		return err
	}
	if c.Picture != "" {
		if err := planPicture(c.Picture, s, plan); err != nil {
			return err
		}
	}
	if c.Output != "" && c.Output != "-" {
		return os.WriteFile(c.Output, b.Bytes(), 0o644)
	}
	_, err = out.Write(b.Bytes())
	return err
}

// season is what the flags say, and the weather in words.
func (c *planCmd) season(today engine.Day) (s engine.Season, weather string, err error) {
	methods := []engine.Method{engine.Transplanted, engine.RowSown, engine.Broadcast}
	for _, m := range methods {
		if m.String() == c.Method {
			s.Plot.Method = m
		}
	}
	for _, f := range []engine.Flood{engine.FloodKept, engine.FloodMoist} {
		if f.String() == c.Flood {
			s.Plot.Flood = f
		}
	}
	if c.Row == 0 && s.Plot.Method != engine.Broadcast {
		return s, "", errors.New("--row is needed: the distance between rows in cm")
	}
	p := &s.Plot
	p.RowSpacingCM, p.HillSpacingCM = c.Row, c.Hill
	p.SeedlingAgeDays, p.SeedlingsPerHill, p.DurationDays = c.SeedlingAge, c.Seedlings, c.Duration
	if p.Planted, err = planDay("--planted", c.Planted); err != nil {
		return s, "", err
	}
	if c.Puddled != "" {
		if p.Puddled, err = planDay("--puddled", c.Puddled); err != nil {
			return s, "", err
		}
	}
	if p.AreaM2, err = planArea(c.Area); err != nil {
		return s, "", err
	}
	if s.Tool, err = planTool(c.Tool); err != nil {
		return s, "", err
	}
	for _, text := range c.Pass {
		pass, err := planPass(text)
		if err == nil {
			err = planWithin("--pass", pass.On, p.Planted, today)
		}
		if err != nil {
			return s, "", err
		}
		s.Passes = append(s.Passes, pass)
	}
	for _, text := range c.Saw {
		seen, err := planSighting(text)
		if err == nil {
			err = planWithin("--saw", seen.On, p.Planted, today)
		}
		if err != nil {
			return s, "", err
		}
		s.Sightings = append(s.Sightings, seen)
	}
	slices.SortStableFunc(s.Passes, func(a, b engine.Pass) int { return cmp.Compare(a.On, b.On) })
	slices.SortStableFunc(s.Sightings, func(a, b engine.Sighting) int { return cmp.Compare(a.On, b.On) })
	if s.Weather, weather, err = c.weather(); err != nil {
		return s, "", err
	}
	return s, weather, planRefusal(s.Validate())
}

// weather is the year that the flags tell, and how to call it.
func (c *planCmd) weather() (engine.Weather, string, error) {
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
	return engine.Steady(low, high), words, nil
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

// planRefusal says what the engine refuses without saying who refuses it.
func planRefusal(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(strings.TrimPrefix(err.Error(), "engine: "))
}

// planPicture draws the season into a file.
func planPicture(file string, s engine.Season, p engine.Plan) error {
	var b bytes.Buffer
	err := handset.Strip(&b, s, p.On, handset.StripOptions{
		Title: planPlotWords(s.Plot),
		Note:  fmt.Sprintf("On %s, day %d: %s.", planDate(p.On), p.On-s.Plot.Planted, planStanding(p)),
	})
	if err != nil {
		return planRefusal(err)
	}
	return os.WriteFile(file, b.Bytes(), 0o644)
}
