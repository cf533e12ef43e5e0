package plan

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"rowbell/engine"
)

// Input has the flags that describe one plot. Vars has the help texts written as ${name}.
type Input struct {
	Method      string   `enum:"transplanted,row-sown,broadcast" default:"transplanted" help:"Planting: ${enum}."`
	Planted     string   `required:"" help:"Day of transplanting or sowing, YYYY-MM-DD." placeholder:"DATE"`
	Row         float64  `help:"Distance between rows, cm." placeholder:"CM"`
	Hill        float64  `help:"Distance between plants in the row, cm." placeholder:"CM"`
	Tool        string   `help:"Working width of the tool, cm: 15, or 10-15 if it can be changed." placeholder:"CM"`
	Area        string   `help:"Size of the plot: m2, or length by width in metres as in 20x30." placeholder:"M2"`
	Flood       string   `enum:"kept,on-off,moist," default:"" help:"${plan_flood}" placeholder:"WATER"`
	Soil        string   `enum:"heavy,medium,light," default:"" help:"${plan_soil}" placeholder:"SOIL"`
	Inflow      float64  `help:"What the inlet brings, litres a second." placeholder:"L/S"`
	SeedlingAge int      `help:"Age of the seedlings at transplanting, days." placeholder:"DAYS"`
	Seedlings   int      `help:"Seedlings a hill." placeholder:"N"`
	Deep        bool     `help:"The seedlings were planted deeper than the white of the stem."`
	Duration    int      `help:"Days from seed to harvest." placeholder:"DAYS"`
	Puddled     string   `help:"Day of the last puddling or levelling (default: the planting day)." placeholder:"DATE"`
	Pass        []string `sep:"none" help:"${plan_pass}" placeholder:"DATE[:tool|hand][:few|some|many][:2.5h:2p][:50%]"`
	Saw         []string `sep:"none" help:"${plan_saw}" placeholder:"DATE[:none|1|2-3|4+][:many][:closed][:fingers]"`
	Today       string   `help:"Day of the plan, YYYY-MM-DD (default: the system's day)." placeholder:"DATE"`

	Climate

	People     int      `help:"People who can weed on a day." placeholder:"N"`
	Tools      int      `help:"Tools that they can use on a day (default: 1)." placeholder:"N"`
	HoursADay  float64  `name:"hours-a-day" help:"Hours that each of them weeds on a day." placeholder:"H"`
	Neighbours int      `help:"Households that would share a tool, this one included." placeholder:"N"`
	Price      []string `sep:"none" help:"${plan_price}" placeholder:"NAME=AMOUNT"`
	Currency   string   `help:"What the prices are in, at most 4 characters." placeholder:"NAME"`
	Herbicide  float64  `help:"${plan_herbicide}" placeholder:"AMOUNT"`
	Figure     []string `sep:"none" help:"${plan_figure}" placeholder:"NAME=VALUE"`
	WBGT       *float64 `name:"wbgt" help:"${plan_wbgt}" placeholder:"C"`
}

// The climate of a warm lowland: defaultTemps is assumed without --temps and --months, defaultLatitude without
// --latitude.
const (
	defaultTemps    = "23-32" // °C
	defaultLatitude = 15      // degrees
)

// Vars returns the long help texts of Input by name.
func Vars() map[string]string {
	return map[string]string{
		"plan_flood": "Water on the field: kept (always there), on-off (it comes and goes) or moist (only wet).",
		"plan_soil":  "How the ground holds water: heavy (clay, well), medium (the default), light (sand, badly).",
		"plan_pass": "A weeding that was done: DATE, then, with colons, tool or hand; along, across or both; " +
			"few, some or many weeds left; hours of each person (2.5h) and people (2p), as hours count only with " +
			"people; the share of the plot (50%).",
		"plan_saw": "What was seen: DATE, then, with colons, the leaves on most weeds (none, 1, 2-3, 4+); " +
			"how many weeds (few, some, many); rows open or closed; " +
			"the water: dry, mud, fingers (two fingers deep) or hand (a hand's width).",
		"plan_temps": "Daily minimum and maximum temperature, °C, the same all year (without --months, " +
			defaultTemps + ").",
		"plan_latitude": fmt.Sprintf("Latitude, degrees, south negative as in --latitude=-8 (default: %d).",
			defaultLatitude),
		"plan_price": "A price, as in tool=900: " + strings.Join(priceNames(), ", ") +
			". Interest is by the year, as in 12%.",
		"plan_herbicide": "Price of a herbicide treatment of this plot, as told by the seller; " +
			"follow the label, ask a licensed adviser.",
		"plan_figure": "A figure of the place that replaces the table's, as in HandHoursPerHa=260; " +
			"rowbell sources lists those that can be set.",
		"plan_wbgt": "Wet bulb globe temperature, °C, from an instrument: tells the minutes of work an hour. " +
			"Ask your health worker.",
	}
}

func (in *Input) day(today engine.Day) (engine.Day, error) {
	if in.Today == "" {
		return today, nil
	}
	return ParseDay("--today", in.Today)
}

// heat returns the wet bulb globe temperature of --wbgt in °C; nil without that flag.
func (in *Input) heat() (*float64, error) {
	if in.WBGT != nil && !(*in.WBGT >= minWBGTC && *in.WBGT <= maxWBGTC) {
		return nil, fmt.Errorf("--wbgt %g is not between %d and %d °C", *in.WBGT, minWBGTC, maxWBGTC)
	}
	return in.WBGT, nil
}

// Season returns the season that the flags describe, and a phrase that names the source of its weather. Passes,
// sightings and weather after today are an error. An error names the flag, or the file and the line.
func (in *Input) Season(today engine.Day) (s engine.Season, weather string, err error) {
	if s.Plot, err = in.plot(); err != nil {
		return s, "", err
	}
	if s.Tool, err = parseTool(in.Tool); err != nil {
		return s, "", err
	}
	passDay := func(p engine.Pass) engine.Day { return p.On }
	sightingDay := func(x engine.Sighting) engine.Day { return x.On }
	if s.Passes, err = inSeason("--pass", in.Pass, ParsePass, passDay, s.Plot.Planted, today); err != nil {
		return s, "", err
	}
	if s.Sightings, err = inSeason("--saw", in.Saw, ParseSighting, sightingDay, s.Plot.Planted, today); err != nil {
		return s, "", err
	}
	if s.Local, err = in.local(); err != nil {
		return s, "", err
	}
	s.Home = engine.Household{
		People: in.People, Tools: in.Tools, HoursADay: in.HoursADay, Neighbours: in.Neighbours, Herbicide: in.Herbicide}
	if s.Weather, weather, err = in.Weather(today); err != nil {
		return s, "", err
	}
	return s, weather, withoutPackage(s.Validate())
}

// inSeason parses the passes or sightings of a flag and sorts them by day. A day before planting or after today is an
// error.
func inSeason[T any](flag string, texts []string, parse func(string) (T, error), day func(T) engine.Day,
	planted, today engine.Day) (list []T, err error) {
	for _, text := range texts {
		x, err := parse(text)
		switch on := day(x); {
		case err != nil:
			return nil, err
		case on < planted:
			return nil, fmt.Errorf("%s %s is before the planting day %s", flag, on, planted)
		case on > today:
			return nil, fmt.Errorf("%s %s is after the day of the plan, %s", flag, on, today)
		}
		list = append(list, x)
	}
	slices.SortStableFunc(list, func(a, b T) int { return cmp.Compare(day(a), day(b)) })
	return list, nil
}

func (in *Input) plot() (p engine.Plot, err error) {
	oneOf(in.Method, &p.Method, engine.Transplanted, engine.RowSown, engine.Broadcast)
	p.Flood = floods[in.Flood]
	oneOf(in.Soil, &p.Soil, engine.SoilHeavy, engine.SoilMedium, engine.SoilLight)
	if in.Row == 0 && p.Method != engine.Broadcast {
		return p, errors.New("--row is needed: the distance between rows in cm")
	}
	p.RowSpacingCM, p.HillSpacingCM, p.InflowLS = in.Row, in.Hill, in.Inflow
	p.SeedlingAgeDays, p.SeedlingsPerHill, p.DurationDays = in.SeedlingAge, in.Seedlings, in.Duration
	p.Deep = in.Deep
	if p.Planted, err = ParseDay("--planted", in.Planted); err != nil {
		return p, err
	}
	if in.Puddled != "" {
		if p.Puddled, err = ParseDay("--puddled", in.Puddled); err != nil {
			return p, err
		}
	}
	p.AreaM2, err = parseArea(in.Area)
	return p, err
}

// LocalFigures returns the default figures of the engine, changed by those of --figure.
func LocalFigures(changes []string) (*engine.Local, error) {
	l, set := engine.NewLocal(), map[string]bool{}
	for _, text := range changes {
		name, err := parseFigure(text, &l.Figures)
		if err := once(set, "--figure", name, err); err != nil {
			return nil, err
		}
	}
	return &l, nil
}

// once returns err or, if the flag told a name before, an error that says so.
func once(set map[string]bool, flag, name string, err error) error {
	if err == nil && set[name] {
		err = fmt.Errorf("%s %s is told twice", flag, name)
	}
	set[name] = true
	return err
}

// local returns the default figures of the engine, changed by the figures and prices of the flags.
func (in *Input) local() (*engine.Local, error) {
	l, err := LocalFigures(in.Figure)
	if err != nil {
		return nil, err
	}
	set := map[string]bool{}
	for _, text := range in.Price {
		name, err := parsePrice(text, &l.Prices)
		if err := once(set, "--price", name, err); err != nil {
			return nil, err
		}
	}
	for _, r := range in.Currency {
		if !unicode.IsPrint(r) || unicode.IsDigit(r) {
			return nil, fmt.Errorf("--currency %q: write it as people do, without digits", in.Currency)
		}
	}
	l.Prices.Currency = in.Currency
	return l, nil
}

// PriceSlots lists the prices by their names on the command line.
var PriceSlots = []struct {
	Name string
	Of   func(*engine.Prices) *float64
}{
	{"tool", func(p *engine.Prices) *float64 { return &p.Tool }},
	{"salvage", func(p *engine.Prices) *float64 { return &p.ToolSalvage }},
	{"years", func(p *engine.Prices) *float64 { return &p.ToolYears }},
	{Interest, func(p *engine.Prices) *float64 { return &p.InterestYear }},
	{"hire-day", func(p *engine.Prices) *float64 { return &p.HireDay }},
	{"service-ha", func(p *engine.Prices) *float64 { return &p.ServiceHa }},
	{"labour-day", func(p *engine.Prices) *float64 { return &p.LabourDay }},
	{"family-day", func(p *engine.Prices) *float64 { return &p.FamilyDay }},
	{"seasons-year", func(p *engine.Prices) *float64 { return &p.SeasonsYear }},
}

// Interest is the name of the interest rate in PriceSlots. The flag --price has it in percent a year, engine.Prices as
// a fraction.
const Interest = "interest"

func priceNames() []string {
	names := make([]string, len(PriceSlots))
	for i, slot := range PriceSlots {
		names[i] = slot.Name
	}
	return names
}

// parsePrice stores a price such as "tool=900" or "interest=12%" in p and returns its name.
func parsePrice(text string, p *engine.Prices) (string, error) {
	name, amount, ok := strings.Cut(text, "=")
	if !ok {
		return "", fmt.Errorf("--price %q: write name and amount as in tool=900", text)
	}
	for _, slot := range PriceSlots {
		if slot.Name != name {
			continue
		}
		number, percent := strings.CutSuffix(amount, "%")
		v, err := parseNumber(number)
		switch {
		case err != nil:
			like := "900"
			if name == Interest {
				like = "12%"
			}
			return "", fmt.Errorf("--price %q: %q is not an amount; write it as in %s=%s", text, amount, name, like)
		case percent != (name == Interest):
			return "", fmt.Errorf("--price %q: only interest is told in percent a year, as in interest=12%%", text)
		case percent:
			v /= 100
		case v == 0:
			return "", fmt.Errorf("--price %q: leave it out where it is not known", text)
		}
		*slot.Of(p) = v
		return name, nil
	}
	return "", fmt.Errorf("--price %q: %q is none of %s", text, name, strings.Join(priceNames(), ", "))
}

// parseFigure stores a figure such as "HandHoursPerHa=260" in f and returns its name.
func parseFigure(text string, f *engine.Figures) (string, error) {
	name, value, ok := strings.Cut(text, "=")
	v, err := parseNumber(value)
	if !ok || err != nil {
		return "", fmt.Errorf("--figure %q: write name and value as in HandHoursPerHa=260", text)
	}
	if _, known := f.Get(name); !known {
		return "", fmt.Errorf("--figure %q: no figure called %q can be set; rowbell sources lists those that can",
			text, name)
	}
	if err := f.Set(name, v); err != nil {
		return "", fmt.Errorf("--figure: %w", withoutPackage(err))
	}
	return name, nil
}

// parseNumber reads digits with at most one decimal point, without a sign or an exponent.
func parseNumber(text string) (float64, error) {
	if strings.Trim(text, "0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return strconv.ParseFloat(text, 64)
}
