package main

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/store"
)

// placeCmd is rowbell place: it prints what the records have about each place.
type placeCmd struct{ recordsFlags }

// placeSeen is a place with its measured weather and the present day at the place.
type placeSeen struct {
	store.Place
	daily  engine.Daily
	today  engine.Day
	stdErr float64 // standard deviation around WeedRate, by what growers saw until today; 0 = nothing is learned
}

// Run prints all places.
func (c *placeCmd) Run(w *world) (err error) {
	s, _, err := c.open(w.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	var list []store.Place
	if err := s.View(w.ctx, func(tx *store.Tx) (err error) {
		list, err = tx.Places()
		return err
	}); err != nil {
		return err
	}
	p := w.progress("reading what growers saw")
	sections := make([]plan.Section, len(list))
	for i, place := range list {
		p.step(i, len(list))
		seen, err := seePlace(w, s, place)
		if err == nil {
			sections[i], err = seen.section()
		}
		if err != nil {
			p.stop()
			return err
		}
	}
	p.stop()
	return plan.Table(w.out, sections...)
}

// seePlace reads what is printed about a place.
func seePlace(w *world, s *store.Store, p store.Place) (seen placeSeen, err error) {
	seen.Place = p
	if seen.today, err = placeToday(p, w.now()); err != nil {
		return seen, err
	}
	if err := s.View(w.ctx, func(tx *store.Tx) (err error) {
		seen.daily, err = tx.Weather(p.ID)
		return err
	}); err != nil {
		return seen, err
	}
	learned, learns, err := s.Learned(w.ctx, p.ID, w.now().Unix())
	if learns && learned.N > 0 {
		seen.stdErr = learned.StdErr
	}
	return seen, err
}

func placeToday(p store.Place, now time.Time) (engine.Day, error) {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		return 0, err
	}
	return engine.DayOf(now, zone), nil
}

func (p placeSeen) section() (plan.Section, error) {
	s := plan.Section{Title: p.Name}
	s.Say("Zone", "%s, where it is %s; mornings begin at %d:00", p.Zone, plan.Date(p.today), p.MorningHour)
	s.Say("Latitude", "%g°", p.Latitude)
	s.Say("Elevation", "%g m", p.ElevationM)
	if p.Soil == engine.SoilUnknown {
		s.Say("Soil", "not told, taken as %s", engine.SoilMedium)
	} else {
		s.Say("Soil", "%s, where a grower has not told it", p.Soil)
	}
	if len(p.daily.Days) == 0 {
		s.Say("Measured", "no day: the year below is used for all")
	} else {
		s.Say("Measured", "%s", plan.MeasuredDays(p.daily))
	}
	s.Say("Prices", "%s", pricesWords(p.Prices))
	if err := p.figures(&s); err != nil {
		return s, err
	}
	s.Say("Learned", "%s", p.learned())
	p.clocks(&s)
	s.Align()
	s.Line("Month\tLowest °C\tHighest °C\tRain mm")
	for i, n := range p.Normals {
		s.Line(fmt.Sprintf("%s\t%g\t%g\t%g", time.Month(i+1), n.MinC, n.MaxC, n.RainMM))
	}
	return s, nil
}

func pricesWords(p engine.Prices) string {
	var words []string
	for _, slot := range plan.PriceSlots {
		v := *slot.Of(&p)
		switch {
		case v == 0:
		case slot.Name == plan.Interest:
			words = append(words, fmt.Sprintf("%s %.4g%%", slot.Name, 100*v))
		default:
			words = append(words, slot.Name+" "+plan.Money(v))
		}
	}
	if len(words) == 0 {
		return "none told: nothing is said of costs"
	}
	return strings.Join(words, ", ") + plan.InCurrency(p.Currency)
}

// figures adds the figures that the operator has set, each with the default of the engine.
func (p placeSeen) figures(s *plan.Section) error {
	table, units, none := engine.NewLocal().Figures, map[string]string{}, true
	for _, f := range engine.Facts() {
		if f.Unit != "1" {
			units[f.Name] = " " + f.Unit
		}
	}
	for name, v := range p.Figures.All() {
		was, ok := table.Get(name)
		if !ok {
			return fmt.Errorf("the table has no figure called %s", name)
		}
		s.Say("Figure", "%s %g%s, in the table %g", name, v, units[name], was)
		none = false
	}
	if none {
		s.Say("Figures", "as in the table; rowbell sources lists those that can be set")
	}
	return nil
}

// learned says how fast weeds grow at the place, as learned from growers, and by how many days this moves a window.
func (p placeSeen) learned() string {
	const published = "the weed clocks are as published"
	if p.LearnedN == 0 {
		if !p.Learning {
			return "switched off: " + published
		}
		return "nothing yet: " + published
	}
	words := fmt.Sprintf("weeds go %.2f times as fast as published", p.WeedRate)
	if p.stdErr > 0 { // two standard deviations hold 95 %
		words += fmt.Sprintf(" (%.2f to %.2f)", p.WeedRate-2*p.stdErr, p.WeedRate+2*p.stdErr)
	}
	words += ", from " + plan.Count(p.LearnedN, "observation", "observations")
	if !p.Learning {
		return words + "; switched off, so " + published
	}
	days, ok := p.earlierDays()
	switch {
	case !ok:
		return words
	case days == 0:
		return words + ": no day's difference for rice transplanted today"
	case days > 0:
		return words + fmt.Sprintf(": about %s earlier for rice transplanted today", plan.Count(days, "day", "days"))
	}
	return words + fmt.Sprintf(": about %s later for rice transplanted today", plan.Count(-days, "day", "days"))
}

// clocks adds a line for each weed clock: how likely it is the one of this place, and how fast weeds grow by it.
func (p placeSeen) clocks(s *plan.Section) {
	if !p.Learning || p.WeedClocks == (engine.ClockWeights{}) {
		return
	}
	s.Align()
	s.Line("Weed clock\tChance\tSpeed")
	for i, name := range engine.ClockNames() {
		w := p.WeedClocks[i]
		s.Line(fmt.Sprintf("%s\t%.0f%%\t%.2f", name, 100*w.Share, w.Rate))
	}
}

// earlierDays returns how many days earlier the learned weed rate opens the first window of rice that is transplanted
// today; negative means later. If the opening day is the same, because the plants must root first, it returns how many
// days earlier the window closes. ok is false if there is no window.
func (p placeSeen) earlierDays() (days int, ok bool) {
	window := func(rate float64, clocks engine.ClockWeights) (engine.Window, bool) {
		l := engine.NewLocal()
		for name, v := range p.Figures.All() {
			if l.Figures.Set(name, v) != nil {
				return engine.Window{}, false
			}
		}
		l.WeedRate, l.Clocks = rate, clocks
		s := engine.Season{
			Plot: engine.Plot{Method: engine.Transplanted, Planted: p.today, RowSpacingCM: usualRowCM,
				HillSpacingCM: usualRowCM, Soil: p.Soil},
			Weather: engine.Weather{Normals: p.Normals, LatitudeDeg: p.Latitude, Daily: p.daily},
			Local:   &l,
		}
		planned, err := s.Windows(p.today)
		return planned.Next, err == nil && planned.Next.Exists()
	}
	table, ok1 := window(1, engine.ClockWeights{})
	here, ok2 := window(p.WeedRate, p.WeedClocks)
	if !ok1 || !ok2 || math.IsNaN(p.WeedRate) {
		return 0, false
	}
	if days := int(table.Opens - here.Opens); days != 0 {
		return days, true
	}
	return int(table.Closes - here.Closes), true
}

// usualRowCM is a usual distance between rows, and between plants (common practice, no source).
const usualRowCM = 25
