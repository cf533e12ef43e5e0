package desk

import (
	"cmp"
	"html/template"
	"net/url"
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/engine/report"
	"rowbell/store"
)

func (d *Desk) reportRoutes() []route {
	return []route{
		{"GET /desk/report", see, nil, d.reportPage},
		{"GET /desk/report/{table}", see, nil, d.reportTable},
	}
}

// textWeeks is for how many weeks after the last month of planting the texts are counted: until then the windows of the
// plots are over (judgement).
const textWeeks = 10

// reported are the sums of one report.
type reported struct {
	season         report.Span
	from, to       report.Week // of the texts
	places         []store.Place
	fields         store.FieldSums
	all            *report.Grown // all places
	texts          store.TextSums
	allTexts       store.TextSum // to all places
	loose          bool          // texts to phones without records are in the sums
	currency       string
	counted        store.ReportCounted
	known, planted bool // the sums were counted; there is a season
}

// reportView is what the page shows.
type reportView struct {
	Place, Season field
	Counted       int64  // when the sums were counted; 0: never
	Skipped       int    // plots that are not in the sums
	Words         string // the months of planting
	Facts         []reportFact
	Sections      []reportSection
}

// reportFact is one number at the top of the page.
type reportFact struct{ Number, What string }

// reportSection is a chart with its table.
type reportSection struct {
	Name    string        // in the address of its CSV
	CSV     string        // that address
	First   bool          // of its subject: shown even if there is nothing to show
	Message string        // what the chart says
	Note    string        // what is counted, and how
	Chart   template.HTML // SVG that package picture has escaped; "": there is nothing to draw
	Table   sumTable
}

func (d *Desk) reportPage(r *request) error {
	x, v, err := d.readReport(r)
	if err != nil {
		return err
	}
	if x.known {
		v.Counted, v.Skipped = x.counted.At, int(x.counted.Skipped)
	}
	if x.planted {
		v.Words, v.Facts = x.season.Words(), x.facts()
		if v.Sections, err = x.sections(); err != nil {
			return err
		}
		asked := url.Values{"place": {r.form.Get("place")}, "season": {x.season.String()}}.Encode()
		v.Sections = slices.DeleteFunc(v.Sections, func(s reportSection) bool {
			return len(s.Table.Rows) == 0 && !s.First
		})
		for i := range v.Sections {
			v.Sections[i].CSV = "/desk/report/" + v.Sections[i].Name + ".csv?" + asked
		}
	}
	if !r.form.ok() {
		return r.again("report", "Season report", v)
	}
	return r.page("report", "Season report", v)
}

// reportTable answers with one table of the report as CSV.
func (d *Desk) reportTable(r *request) error {
	x, _, err := d.readReport(r)
	if err != nil {
		return err
	}
	sections, err := x.sections()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(sections, func(s reportSection) bool { return s.Name+".csv" == r.PathValue("table") })
	if i < 0 || !r.form.ok() {
		return errNotFound
	}
	t := sections[i].Table
	rows := make([][]string, len(t.Rows))
	for n, row := range t.Rows {
		for _, c := range row {
			rows[n] = append(rows[n], c.plain())
		}
	}
	return r.csv("rowbell-"+sections[i].Name+"-"+x.season.String()+".csv", t.Head, rows)
}

// readReport reads what the address asks for: ?place=ID&season=YYYY-MM..YYYY-MM. Without a place all places of the
// reader are added up; without a season, or with one that cannot be read, it is the last one.
func (d *Desk) readReport(r *request) (x reported, v reportView, err error) {
	place, season := r.FormValue("place"), r.FormValue("season")
	r.form = filled("place", place, "season", season)
	x.places, x.currency, x.loose = r.places, d.o.Currency, r.may(run) && place == ""
	x.addUp() // for the tables of places where nothing was planted
	scope := r.scope
	if place != "" {
		i := slices.IndexFunc(r.places, func(p store.Place) bool { return strconv.FormatInt(p.ID, 10) == place })
		if i < 0 {
			return x, v, errNotFound
		}
		x.places, scope = r.places[i:i+1], store.Scope{r.places[i].ID}
	}
	var seasons []report.Span
	err = r.view(func(tx *store.Tx) error {
		planted, err := tx.PlantedByMonth(scope)
		if err != nil {
			return err
		}
		seasons = report.Seasons(planted)
		x.season, x.planted = r.chosenSeason(season, seasons)
		return x.read(tx, scope, engine.DayOf(r.now, zoneOf(firstPlace(r.places))))
	})
	v.Place = r.reportPlaces()
	v.Season = r.reportSeasons(x.season, seasons)
	return x, v, err
}

func firstPlace(places []store.Place) store.Place {
	if len(places) == 0 {
		return store.Place{Zone: "UTC"}
	}
	return places[0]
}

// chosenSeason returns the season that was asked for, or the last one; false if nothing was ever planted.
func (r *request) chosenSeason(asked string, seasons []report.Span) (report.Span, bool) {
	if asked != "" {
		s, err := report.ParseSpan(asked)
		if err == nil {
			return s, true
		}
		r.form.wrong("season", "Months are written as in 2026-05..2026-08. This is the last season instead.")
	}
	if len(seasons) == 0 {
		return report.Span{}, false
	}
	return seasons[0], true
}

// read reads the sums.
func (x *reported) read(tx *store.Tx, scope store.Scope, today engine.Day) (err error) {
	if x.counted, x.known, err = tx.ReportCounted(); err != nil || !x.planted {
		return err
	}
	x.from = report.WeekOf(x.season.From.First())
	x.to = min(report.WeekOf((x.season.To+1).First())+textWeeks, max(x.from, report.WeekOf(today)))
	if x.fields, err = tx.FieldSums(scope, x.season); err != nil {
		return err
	}
	if x.loose {
		scope = append(slices.Clone(scope), 0)
	}
	x.texts, err = tx.TextSums(scope, x.from, x.to)
	x.addUp()
	return err
}

// addUp adds the sums of the places up.
func (x *reported) addUp() {
	x.all, x.allTexts = x.fields.ByPlace.All(), store.TextSum{}
	for _, sum := range x.texts.ByPlace {
		x.allTexts = x.allTexts.Plus(sum)
	}
}

func (r *request) reportPlaces() field {
	pairs := []string{"", "All places"}
	for _, p := range r.places {
		pairs = append(pairs, strconv.FormatInt(p.ID, 10), p.Name)
	}
	return r.form.Choice("place", "Place", "", pairs...)
}

func (r *request) reportSeasons(chosen report.Span, seasons []report.Span) field {
	if !slices.Contains(seasons, chosen) && chosen != (report.Span{}) {
		seasons = append(slices.Clone(seasons), chosen)
		slices.SortFunc(seasons, func(a, b report.Span) int { return cmp.Compare(b.From, a.From) })
	}
	f := r.form.Choice("season", "Planted in", "")
	for _, s := range seasons {
		f.Options = append(f.Options, option{s.String(), s.Words(), s == chosen})
	}
	return f
}
