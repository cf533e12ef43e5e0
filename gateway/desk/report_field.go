package desk

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"io"
	"maps"
	"slices"

	"rowbell/engine"
	"rowbell/engine/picture"
	"rowbell/engine/report"
	"rowbell/store"
)

// passSeries are the names of where passes fall, in the order of passValues.
var passSeries = []string{"in the window", "before it", "after it", "no window left"}

func passValues(p report.Passes) []float64 {
	return []float64{float64(p.Inside), float64(p.Early), float64(p.Late), float64(p.NoWindow)}
}

func passCells(p report.Passes) []cell {
	return []cell{amount(p.All()), amount(p.Inside), amount(p.Early), amount(p.Late), amount(p.NoWindow),
		shareOf(p.Inside, p.All())}
}

// passHead is the head of the columns of passCells.
var passHead = []string{"Passes", "In the window", "Before it", "After it", "No window left", "Share in the window"}

const passNote = "A pass counts as in the window if it was in the days that were planned on the day before it. The " +
	"parts of a plot that were weeded in one window are one pass. What was pulled by hand within three days of the " +
	"tool is no further pass."

// facts returns the numbers at the top.
func (x *reported) facts() []reportFact {
	all, sum := x.all, x.allTexts
	passes := all.Passes()
	facts := []reportFact{
		{amount(all.Planted()).String(), "plots planted"},
		{amount(passes.All()).String(), "passes logged"},
		{shareOf(passes.Inside, passes.All()).String(), "of them in the window"},
		{hours(all.Hours.Below(0.5)).String(), "hours a hectare, the middle of the passes with the tool"},
		{amount(sum.Texts()).String(), "texts"},
	}
	if sum.Micros > 0 {
		facts = append(facts, reportFact{money(sum.Micros).String() + x.unit(), "for texts"})
	}
	return facts
}

// unit returns the currency with a space before it, or "".
func (x *reported) unit() string {
	if x.currency == "" {
		return ""
	}
	return " " + x.currency
}

// sections returns the charts and tables in their order on the page.
func (x *reported) sections() (list []reportSection, err error) {
	for _, section := range []func() (reportSection, error){x.passesByWeek, x.passesByPlace, x.timesWeeded,
		x.hoursBeside, x.hoursByWeek, x.textsByStateAndWeek, x.textsByKind, x.textsOfPlaces, x.moneyByWeek} {
		s, err := section()
		if err != nil {
			return nil, err
		}
		list = append(list, s)
	}
	return list, nil
}

// draw returns a chart that write writes.
func draw(write func(io.Writer) error) (template.HTML, error) {
	var b bytes.Buffer
	err := write(&b)
	return template.HTML(b.String()), err // package picture escapes the names in it
}

func (x *reported) passesByWeek() (s reportSection, err error) {
	all := x.all.Passes()
	s = reportSection{Name: "passes-by-week", First: true, Message: report.OfAll(all.Inside, all.All(), "passes") +
		" fell in the window", Note: passNote}
	if all.All() == 0 {
		s.Message = "No pass was logged"
	} else if out := all.All() - all.Inside; out > 0 {
		s.Message += ": " + mostly(all)
	}
	s.Table.Head = append([]string{"Week from"}, passHead...)
	k := picture.Columns{Series: passSeries, Chart: picture.Chart{Title: "Passes of each week, by where they fell",
		Desc: s.Message + ".", Unit: "passes a week"}}
	weeks := x.fields.ByWeek
	for _, w := range slices.Sorted(maps.Keys(weeks)) {
		if p := weeks[w].Passes(); p.All() > 0 {
			s.Table.add(append([]cell{week(w)}, passCells(p)...)...)
			k.Weeks = append(k.Weeks, picture.Column{From: w.Monday(), Values: passValues(p)})
		}
	}
	if len(k.Weeks) > 0 {
		s.Chart, err = draw(func(w io.Writer) error { return picture.WriteColumns(w, k) })
	}
	return s, err
}

// mostly says where most of the passes fell that were not in the window.
func mostly(p report.Passes) string {
	switch out := p.All() - p.Inside; {
	case 2*p.Early > out:
		return "most others came before it"
	case 2*p.Late > out:
		return "most others came after it"
	case 2*p.NoWindow > out:
		return "for most others no window was left"
	}
	return "the others came before and after it"
}

// leastPasses is from how many passes on the share of a place, or the hours of a week, are said in a sentence or drawn:
// fewer say little (judgement).
const leastPasses = 5

// mostBars is how many places are drawn: those with the most plots.
const mostBars = 10

// grownPlace is the sums of one place.
type grownPlace struct {
	store.Place
	*report.Grown
}

// grownPlaces returns the places with plots, those with the most plots first.
func (x *reported) grownPlaces() (list []grownPlace) {
	for _, p := range x.places {
		if sums := x.fields.ByPlace[p.ID]; sums != nil {
			list = append(list, grownPlace{p, sums})
		}
	}
	slices.SortStableFunc(list, func(a, b grownPlace) int { return cmp.Compare(b.Planted(), a.Planted()) })
	return list
}

func (x *reported) passesByPlace() (s reportSection, err error) {
	s = reportSection{Name: "passes-by-place", Message: "Passes by place", Note: "The places with the most plots " +
		"come first. The number behind a bar is the share in the window."}
	s.Table.Head = append([]string{"Place", "Plots"}, append(slices.Clone(passHead), "Passes a plot")...)
	k := picture.Bars{Series: passSeries, Shares: true,
		Chart: picture.Chart{Title: "Where passes fell, as shares of the passes of each place"}}
	var best, worst grownPlace
	inside := func(p grownPlace) share { return shareOf(p.Passes().Inside, p.Passes().All()) }
	for _, p := range x.grownPlaces() {
		passes := p.Passes()
		s.Table.add(append(append([]cell{word(p.Name), amount(p.Planted())}, passCells(passes)...),
			meanOf(passes.All(), p.Planted()))...)
		if len(k.Rows) < mostBars && passes.All() > 0 {
			k.Rows = append(k.Rows, picture.Bar{Name: p.Name, Values: passValues(passes)})
		}
		if passes.All() < leastPasses {
			continue
		}
		if best.Grown == nil || inside(p) > inside(best) {
			best = p
		}
		if worst.Grown == nil || inside(p) < inside(worst) {
			worst = p
		}
	}
	switch {
	case best.Grown == nil:
		s.Message = "No place has enough passes to be compared"
	case best.ID == worst.ID:
		s.Message = fmt.Sprintf("%s: %s of the passes in the window", best.Name, inside(best))
	default:
		s.Message = fmt.Sprintf("In the window: from %s of the passes at %s to %s at %s", inside(worst), worst.Name,
			inside(best), best.Name)
	}
	k.Desc = s.Message + "."
	if len(k.Rows) > 0 {
		s.Chart, err = draw(func(w io.Writer) error { return picture.WriteBars(w, k) })
	}
	return s, err
}

var timesWords = [...]string{"not weeded", "once", "twice", "three times", "four or more"}

func (x *reported) timesWeeded() (s reportSection, err error) {
	all := x.all
	planted := all.Planted()
	s = reportSection{Name: "passes-a-plot", Message: report.OfAll(planted-all.Plots[0], planted, "plots") +
		" were weeded at least once", Note: "Plots by their logged passes so far, with the tool or by hand. A plot " +
		"without a logged pass may have been weeded and not reported."}
	s.Table.Head = []string{"Weeded", "Plots", "Share"}
	if planted == 0 {
		return s, nil
	}
	k := picture.Bars{Series: []string{"plots"}, Chart: picture.Chart{Title: "Plots by how often they were weeded",
		Desc: s.Message + ".", Unit: "plots"}}
	for times, plots := range all.Plots {
		s.Table.add(word(timesWords[times]), amount(plots), shareOf(plots, planted))
		k.Rows = append(k.Rows, picture.Bar{Name: timesWords[times], Values: []float64{float64(plots)}})
	}
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteBars(w, k) })
	return s, err
}

// hourRow is the hours of some passes.
type hourRow struct {
	name string
	h    *report.Hours
}

// addHours adds a row, if there are passes with hours.
func (t *sumTable) addHours(row hourRow) {
	if n := row.h.N(); n > 0 {
		t.add(word(row.name), amount(n), hours(row.h.Below(lowShare)), hours(row.h.Below(0.5)),
			hours(row.h.Below(highShare)), word("logged"))
	}
}

// lowShare and highShare are the shares of passes between which eight of ten are.
const lowShare, highShare = 0.1, 0.9

const hoursNote = "Person-hours for one run of the tool over a hectare, from the passes whose grower told hours and " +
	"people. Along and across the rows are two runs. Beside them is what was published; the sources are in the table."

func (x *reported) hoursBeside() (s reportSection, err error) {
	all := x.all
	s = reportSection{Name: "hours-a-hectare", Message: "Too few passes have logged hours to be compared with the " +
		"published ones", Note: hoursNote}
	low, high := publishedTool()
	if all.Hours.N() >= leastPasses {
		s.Message = fmt.Sprintf("Half of the passes with the tool took more than %.0f hours a hectare; published are "+
			"%.0f to %.0f", all.Hours.Below(0.5), low, high)
	}
	s.Table.Head = []string{"Hours a hectare", "Passes", "1 in 10 below", "Half below", "9 in 10 below", "Source"}
	k := picture.Ranges{Chart: picture.Chart{Title: "Hours a hectare, eight of ten passes and the middle one, beside " +
		"published ranges", Desc: s.Message + ".", Unit: "person-hours a hectare"}}
	for _, row := range []hourRow{{"With the tool", &all.Hours}, {"By hand", &all.ByHand}} {
		s.Table.addHours(row)
		if row.h.N() >= leastPasses {
			k.Rows = append(k.Rows, picture.Range{Name: row.name + ", logged", Low: row.h.Below(lowShare),
				Mid: row.h.Below(0.5), High: row.h.Below(highShare)})
		}
	}
	for _, p := range engine.AllPublishedHours() {
		s.Table.add(word("Published: "+p.Name), word(""), hours(p.Low), word(""), hours(p.High), word(p.Source))
		k.Rows = append(k.Rows, picture.Range{Name: "Published: " + p.Name, Low: p.Low, High: p.High, Published: true})
	}
	if places := x.grownPlaces(); len(places) > 1 {
		for _, p := range places {
			s.Table.addHours(hourRow{"With the tool, " + p.Name, &p.Hours})
		}
	}
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteRanges(w, k) })
	return s, err
}

// publishedTool returns the lowest and the highest of the published hours with the tool.
func publishedTool() (low, high float64) {
	for _, p := range engine.AllPublishedHours() {
		if p.With == engine.ByTool {
			if low == 0 || p.Low < low {
				low = p.Low
			}
			high = max(high, p.High)
		}
	}
	return low, high
}

func (x *reported) hoursByWeek() (s reportSection, err error) {
	low, high := publishedTool()
	s = reportSection{Name: "hours-by-week", Message: "Too few passes of a week have logged hours",
		Note: "The middle of the hours with the tool in each week with at least five such passes: half took less."}
	s.Table.Head = []string{"Week from", "Passes with hours", "1 in 10 below", "Half below", "9 in 10 below"}
	k := picture.Line{Band: picture.Band{Name: "published", Low: low, High: high},
		Chart: picture.Chart{Title: "Hours a hectare with the tool, the middle of each week", Unit: "hours a hectare"}}
	weeks := x.fields.ByWeek
	least, most := 0.0, 0.0
	for _, w := range slices.Sorted(maps.Keys(weeks)) {
		h := &weeks[w].Hours
		if h.N() == 0 {
			continue
		}
		middle := h.Below(0.5)
		s.Table.add(week(w), amount(h.N()), hours(h.Below(lowShare)), hours(middle), hours(h.Below(highShare)))
		if h.N() >= leastPasses {
			k.Points = append(k.Points, picture.Point{From: w.Monday(), Value: middle})
			if least == 0 || middle < least {
				least = middle
			}
			most = max(most, middle)
		}
	}
	switch {
	case len(k.Points) == 0:
		return s, nil
	case least == most:
		s.Message = fmt.Sprintf("The middle of a week was %.0f hours a hectare", most)
	default:
		s.Message = fmt.Sprintf("From week to week, the middle was %.0f to %.0f hours a hectare", least, most)
	}
	k.Desc = s.Message + "."
	s.Chart, err = draw(func(w io.Writer) error { return picture.WriteLine(w, k) })
	return s, err
}
