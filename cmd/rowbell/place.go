package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// placeCmd is rowbell place: what the records hold of each place.
type placeCmd struct {
	recordsFlags
}

// recordsFlags say which records a command looks at.
type recordsFlags struct {
	DB     string `name:"db" help:"Database file (default ${default_db}); the service may be running on it." placeholder:"FILE"`
	Config string `help:"Configuration that names the database (default ${default_config}, if there is one)." placeholder:"FILE"`
}

// view reads records that are there already; it makes none.
func (f recordsFlags) view(ctx context.Context, fn func(*store.Tx) error) (err error) {
	conf, err := config.Load(f.Config)
	if err != nil {
		return err
	}
	db := cmp.Or(f.DB, conf.DB)
	s, err := openRecords(ctx, db)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	return s.View(ctx, fn)
}

// placeSeen is a place with what was measured there.
type placeSeen struct {
	store.Place
	daily engine.Daily
	today engine.Day
}

// Run prints the places.
func (c *placeCmd) Run(w *world) error {
	var places []placeSeen
	err := c.view(w.ctx, func(tx *store.Tx) error {
		list, err := tx.Places()
		if err != nil {
			return err
		}
		for _, p := range list {
			seen := placeSeen{Place: p}
			if seen.today, err = placeToday(p, w.now()); err != nil {
				return err
			}
			if seen.daily, err = tx.Weather(p.ID); err != nil {
				return err
			}
			places = append(places, seen)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, p := range places {
		if i > 0 {
			fmt.Fprintln(w.out)
		}
		if err := p.print(w.out); err != nil {
			return err
		}
	}
	return nil
}

// print writes the place for the operator.
func (p placeSeen) print(w io.Writer) error {
	fmt.Fprintln(w, p.Name)
	t := planSheet{tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)}
	t.item("Zone", "%s, where it is %s; mornings begin at %d:00", p.Zone, planDate(p.today), p.MorningHour)
	t.item("Latitude", "%g°", p.Latitude)
	t.item("Elevation", "%g m", p.ElevationM)
	soil := p.Soil
	if soil == engine.SoilUnknown {
		t.item("Soil", "not told, taken as %s", engine.SoilMedium)
	} else {
		t.item("Soil", "%s, where a grower has not told it", soil)
	}
	t.item("Measured", "%s", placeMeasured(p.daily))
	t.item("Prices", "%s", placePrices(p.Prices))
	if err := p.figures(t); err != nil {
		return err
	}
	t.item("Learned", "%s", p.learned())
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(t, "  Month\tLowest °C\tHighest °C\tRain mm")
	for i, n := range p.Normals {
		fmt.Fprintf(t, "  %s\t%g\t%g\t%g\n", time.Month(i+1), n.MinC, n.MaxC, n.RainMM)
	}
	return t.Flush()
}

// placeMeasured says of which days the weather was measured.
func placeMeasured(y engine.Daily) string {
	if len(y.Days) == 0 {
		return "no day: the year below stands for all"
	}
	warm, wet := 0, 0
	for _, d := range y.Days {
		if !d.HasTemperature() {
			warm++
		}
		if !d.HasRain() {
			wet++
		}
	}
	words := fmt.Sprintf("%s to %s, %s", planDate(y.From), planDate(y.From+engine.Day(len(y.Days))-1), planCount(len(y.Days), "day", "days"))
	if warm == 0 && wet == 0 {
		return words + " without a gap"
	}
	return words + fmt.Sprintf("; without temperatures %d, without rain %d: the year stands for those", warm, wet)
}

// placePrices lists the prices that are told.
func placePrices(p engine.Prices) string {
	var words []string
	for _, slot := range planPriceSlots {
		v := *slot.of(&p)
		switch {
		case v == 0:
		case slot.name == planInterest:
			words = append(words, fmt.Sprintf("%s %.4g%%", slot.name, 100*v))
		default:
			words = append(words, fmt.Sprintf("%s %s", slot.name, planMoney(v)))
		}
	}
	if len(words) == 0 {
		return "none told: nothing is said of costs"
	}
	return strings.Join(words, ", ") + planIn(p.Currency)
}

// figures lists those that are the place's own, beside the table's.
func (p placeSeen) figures(t planSheet) error {
	table, units, none := engine.NewLocal().Figures, map[string]string{}, true
	for _, f := range engine.Facts() {
		units[f.Name] = f.Unit
	}
	for name, v := range p.Figures.All() {
		was, ok := table.Get(name)
		if !ok {
			return fmt.Errorf("the table has no figure called %s", name)
		}
		unit := units[name]
		if unit != "1" {
			unit = " " + unit
		} else {
			unit = ""
		}
		t.item("Figure", "%s %g%s, in the table %g", name, v, unit, was)
		none = false
	}
	if none {
		t.item("Figures", "as in the table; rowbell sources lists those that can be set")
	}
	return nil
}

// learned says what the place has learned of its weeds, and what that means in
// days.
func (p placeSeen) learned() string {
	if p.LearnedN == 0 {
		if !p.Learning {
			return "switched off: the weed clock is the table's"
		}
		return "nothing yet: the weed clock is the table's"
	}
	said := fmt.Sprintf("weeds go %.2f times as fast as the table says, from %s", p.WeedRate, planCount(p.LearnedN, "observation", "observations"))
	if !p.Learning {
		return said + "; switched off, so the weed clock is the table's"
	}
	days, ok := p.earlier()
	switch {
	case !ok:
		return said
	case days == 0:
		return said + ": no day's difference for rice transplanted today"
	case days > 0:
		return said + fmt.Sprintf(": about %s earlier for rice transplanted today", planCount(days, "day", "days"))
	}
	return said + fmt.Sprintf(": about %s later for rice transplanted today", planCount(-days, "day", "days"))
}

// earlier is by how many days what was learned moves the first window of rice
// set today; its closing where the opening waits for the plants to root.
func (p placeSeen) earlier() (int, bool) {
	window := func(rate float64) (engine.Window, bool) {
		l := engine.NewLocal()
		for name, v := range p.Figures.All() {
			if l.Figures.Set(name, v) != nil {
				return engine.Window{}, false
			}
		}
		l.WeedRate = rate
		s := engine.Season{
			Plot:    engine.Plot{Method: engine.Transplanted, Planted: p.today, RowSpacingCM: placeRowCM, HillSpacingCM: placeRowCM, Soil: p.Soil},
			Weather: engine.Weather{Normals: p.Normals, LatitudeDeg: p.Latitude, Daily: p.daily}, Local: &l,
		}
		plan, err := s.Windows(p.today)
		return plan.Next, err == nil && plan.Next.Exists()
	}
	table, ok1 := window(1)
	here, ok2 := window(p.WeedRate)
	if !ok1 || !ok2 || math.IsNaN(p.WeedRate) {
		return 0, false
	}
	if days := int(table.Opens - here.Opens); days != 0 {
		return days, true
	}
	return int(table.Closes - here.Closes), true
}

// placeRowCM are usual rows.
const placeRowCM = 25
