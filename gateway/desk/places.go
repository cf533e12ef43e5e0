package desk

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/engine/picture"
	"rowbell/store"
	"rowbell/store/weathercsv"
)

func (d *Desk) placeRoutes() []route {
	return []route{
		{"GET /desk/places", see, nil, d.placesPage},
		{"GET /desk/place/{place}", see, placeInPath, d.placePage},
		{"POST /desk/place/{place}/weather", run, placeInPath, d.checkWeather},
		{"POST /desk/place/{place}/weather/take", run, placeInPath, d.takeWeather},
	}
}

type placeLine struct {
	store.Place
	store.PlaceCount
	Measured engine.Day // last measured day; 0: none
	Learned  string
}

func (d *Desk) placesPage(r *request) error {
	var lines []placeLine
	err := r.view(func(tx *store.Tx) error {
		until, err := tx.WeatherUntil(r.scope)
		if err != nil {
			return err
		}
		counts, _, err := tx.PlaceTotals(r.scope)
		lines = make([]placeLine, len(r.places))
		for i, p := range r.places {
			lines[i] = placeLine{p, counts[p.ID], until[p.ID], learnedWords(p)}
		}
		return err
	})
	if err != nil {
		return err
	}
	return r.page("places", "Places", lines)
}

// learnedWords says what a place has learned of the speed of its weeds.
func learnedWords(p store.Place) string {
	switch {
	case !p.Learning:
		return "switched off: as published"
	case p.LearnedN == 0:
		return "nothing yet: as published"
	}
	return fmt.Sprintf("%.2f times as fast as published, from %s", p.WeedRate,
		plural(p.LearnedN, "observation", "observations"))
}

// placeView is the page of one place.
type placeView struct {
	store.Place
	store.PlaceCount
	CountedAt    int64 // 0: now
	Today        engine.Day
	Temperatures template.HTML // "" if a month is below zero: the chart begins at zero
	Rain         template.HTML
	Months       []monthLine
	Prices       []namedValue
	Figures      []figureLine
	Clocks       []clockLine
	LearnedNote  string
	First, Last  engine.Day // measured days; 0: none
	Days         int
	Recent       []weatherLine
	Gaps         []gapLine
	Checked      *checkedView // a file that was just checked
	BadRows      []weathercsv.BadRow
	BadMore      int
	Learns       bool
	SoilWords    string
}

type monthLine struct {
	Name             string
	MinC, MaxC, Rain string
}

type namedValue struct{ Name, Value string }

type figureLine struct{ Name, Meaning, Value, Table, Unit string }

type clockLine struct{ Name, Share, Rate string }

type weatherLine struct {
	On               engine.Day
	MinC, MaxC, Rain string
}

// gapLine is days without a measurement.
type gapLine struct{ What, Days string }

func (d *Desk) placePage(r *request) error {
	v, err := r.placeData()
	if err != nil {
		return err
	}
	return r.page("place", r.place.Name, v)
}

const (
	recentDays = 14  // of which the page shows the weather
	gapDays    = 400 // in which the page shows gaps: a season, and the dry time before it
)

// placeData collects what the page of the place of the request shows.
func (r *request) placeData() (v placeView, err error) {
	v = placeView{Place: r.place, Today: engine.DayOf(r.now, zoneOf(r.place)), LearnedNote: learnedWords(r.place),
		SoilWords: r.place.Soil.String(), Learns: r.place.Learning}
	if r.place.Soil == engine.SoilUnknown {
		v.SoilWords = "not told, taken as " + engine.SoilMedium.String()
	}
	var newest engine.Daily
	err = r.view(func(tx *store.Tx) (err error) {
		counts, at, err := tx.PlaceTotals(store.Scope{r.place.ID})
		if err != nil {
			return err
		}
		v.PlaceCount, v.CountedAt = counts[r.place.ID], at
		if v.First, v.Last, v.Days, err = tx.WeatherSpan(r.place.ID); err == nil {
			newest, err = tx.WeatherSince(r.place.ID, v.Today-gapDays)
		}
		return err
	})
	if err != nil {
		return v, err
	}
	v.recent(newest)
	v.Prices, v.Figures, v.Clocks = priceLines(r.place.Prices), figureLines(r.place.Figures), clockLines(r.place)
	return v, v.months()
}

// decimal writes a number with one decimal at most.
func decimal(x float64) string {
	return strconv.FormatFloat(float64(int64(x*10+sign(x)*0.5))/10, 'f', -1, 64)
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}

// months fills the table of the months and its charts.
func (v *placeView) months() error {
	warm := picture.Ranges{Chart: picture.Chart{Title: "Lowest and highest temperature of each month at " + v.Name,
		Desc: "The table beside it has the same numbers.", Unit: "°C", WidthPX: chartWidth}}
	rain := picture.Bars{Chart: picture.Chart{Title: "Rain of each month at " + v.Name,
		Desc: "The table beside it has the same numbers.", Unit: "mm", WidthPX: chartWidth}}
	frost := false
	for i, n := range v.Normals {
		name := time.Month(i + 1).String()
		v.Months = append(v.Months, monthLine{name, decimal(n.MinC), decimal(n.MaxC), decimal(n.RainMM)})
		warm.Rows = append(warm.Rows, picture.Range{Name: name[:3], Low: n.MinC, Mid: (n.MinC + n.MaxC) / 2,
			High: n.MaxC})
		rain.Rows = append(rain.Rows, picture.Bar{Name: name[:3], Values: []float64{n.RainMM}})
		frost = frost || n.MinC < 0
	}
	var err error
	if !frost {
		if v.Temperatures, err = drawn(func(w io.Writer) error { return picture.WriteRanges(w, warm) }); err != nil {
			return err
		}
	}
	v.Rain, err = drawn(func(w io.Writer) error { return picture.WriteBars(w, rain) })
	return err
}

// chartWidth is the width of the charts of a place, in pixels.
const chartWidth = 360

// drawn returns a picture for a page. Package picture escapes the words in it.
func drawn(write func(io.Writer) error) (template.HTML, error) {
	var b bytes.Buffer
	err := write(&b)
	return template.HTML(b.String()), err
}

// recent fills in the newest days and the gaps.
func (v *placeView) recent(y engine.Daily) {
	for day := v.Today; day > v.Today-recentDays; day-- {
		m, ok := y.On(day)
		if !ok || !m.HasTemperature() && !m.HasRain() {
			continue
		}
		line := weatherLine{On: day}
		if m.HasTemperature() {
			line.MinC, line.MaxC = decimal(m.MinC), decimal(m.MaxC)
		}
		if m.HasRain() {
			line.Rain = decimal(m.RainMM)
		}
		v.Recent = append(v.Recent, line)
	}
	if v.Days > 0 {
		v.Gaps = gapLines(y, max(v.First, v.Today-gapDays), v.Today-1)
	}
}

// maxGaps is how many gaps a page lists.
const maxGaps = 12

// gapLines lists the days without a measured value, for which the months are used.
func gapLines(y engine.Daily, from, to engine.Day) (lines []gapLine) {
	for _, q := range []struct {
		what string
		has  func(engine.Measured) bool
	}{{"temperature", engine.Measured.HasTemperature}, {"rain", engine.Measured.HasRain}} {
		gaps := weathercsv.Gaps(y, from, to, q.has)
		var words []string
		for _, g := range gaps[max(0, len(gaps)-maxGaps):] {
			words = append(words, longSpan(g.From, g.To))
		}
		if more := len(gaps) - maxGaps; more > 0 {
			words = append([]string{plural(more, "earlier gap", "earlier gaps")}, words...)
		}
		if len(words) > 0 {
			lines = append(lines, gapLine{q.what, strings.Join(words, ", ")})
		}
	}
	return lines
}

// longSpan returns one day or a range of days, with years and how many they are.
func longSpan(from, to engine.Day) string {
	if from >= to {
		return longDay(from)
	}
	return fmt.Sprintf("%s to %s (%d days)", longDay(from), longDay(to), to-from+1)
}

// priceLines lists the prices that the operator has set.
func priceLines(p engine.Prices) (lines []namedValue) {
	number := func(x float64) string { return picture.Decimal(x) }
	for _, x := range []struct {
		name  string
		value float64
		unit  string
	}{{"A new weeder", p.Tool, p.Currency}, {"What it is worth at the end", p.ToolSalvage, p.Currency},
		{"Years of use", p.ToolYears, ""}, {"Interest a year", 100 * p.InterestYear, "%"},
		{"Hire of a tool for a day", p.HireDay, p.Currency},
		{"Weeding of a hectare by somebody with a tool", p.ServiceHa, p.Currency},
		{"Wage of a day of weeding", p.LabourDay, p.Currency},
		{"A day of the family's own work", p.FamilyDay, p.Currency}, {"Crops a year", p.SeasonsYear, ""}} {
		if x.value != 0 {
			lines = append(lines, namedValue{x.name, strings.TrimSpace(number(x.value) + " " + x.unit)})
		}
	}
	return lines
}

// figureLines lists the figures that differ from the table of the engine.
func figureLines(of store.Figures) (lines []figureLine) {
	facts := map[string]engine.Fact{}
	for _, f := range engine.Facts() {
		facts[f.Name] = f
	}
	table := engine.NewLocal().Figures
	for name, value := range of.All() {
		was, _ := table.Get(name) // of.All gives only names that the table has
		line := figureLine{Name: name, Meaning: facts[name].Meaning, Value: picture.Decimal(value),
			Table: picture.Decimal(was)}
		if unit := facts[name].Unit; unit != "1" {
			line.Unit = unit
		}
		lines = append(lines, line)
	}
	return lines
}

// clockLines lists how likely each weed clock is that of the place.
func clockLines(p store.Place) (lines []clockLine) {
	if !p.Learning || p.LearnedN == 0 {
		return nil
	}
	for i, name := range engine.ClockNames() {
		w := p.WeedClocks[i]
		lines = append(lines, clockLine{name, fmt.Sprintf("%.0f %%", 100*w.Share), fmt.Sprintf("%.2f", w.Rate)})
	}
	return lines
}
