package store

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

const (
	// plantedAhead and plantedBack limit the planting day of a new plot: a slip such as another year is asked back. The
	// menu accepts as many days ahead. Rice that was planted longer ago than the longest variety grows is harvested.
	plantedAhead = 14
	plantedBack  = engine.MaxDurationDays
	// consentDays is how old a consent may be when it is first entered: upkeep may erase growers who were not heard
	// from for a year (Retention).
	consentDays = 365
)

// importPlan is what an import does with one grower.
type importPlan struct {
	file  *growercsv.Grower
	state *importState
	place *readyPlace // after the import
	now   growercsv.Values
	today engine.Day // at the place

	// What changes of a grower in the records, without the plots.
	own                                            []growercsv.Change
	name, note, language, moves, household, renews bool

	rows []rowPlan
}

// rowPlan is what an import does with one row. If fate.NewPlot is set, the plot is added with the number fate.Plot.
type rowPlan struct {
	fate Fate
	was  *plotRow // the open plot; nil: none
	now  growercsv.Values
}

// changes reports whether the grower is in the records and changes.
func (p *importPlan) changes() bool {
	return p.state.id != 0 && slices.ContainsFunc(p.rows, func(r rowPlan) bool {
		return r.fate.Kind == FateChanged || r.fate.Kind == FateNew
	})
}

// planImport compares a page of an import with the records.
func (tx *Tx) planImport(im Import, page []growercsv.Grower, now int64) ([]importPlan, error) {
	places, err := tx.readyPlaces(sqlPlaces)
	if err != nil {
		return nil, err
	}
	states, err := tx.importStates(page, places)
	if err != nil {
		return nil, err
	}
	plans := make([]importPlan, len(page))
	for i := range page {
		plans[i] = importPlan{file: &page[i], state: states[page[i].Phone]}
		plans[i].decide(im, places, now)
	}
	return plans, nil
}

// fatesOf returns the fates of all rows, in the order of their lines.
func fatesOf(plans []importPlan) (list Fates) {
	for i := range plans {
		for _, r := range plans[i].rows {
			list = append(list, r.fate)
		}
	}
	slices.SortStableFunc(list, func(a, b Fate) int { return cmp.Compare(a.Line, b.Line) })
	return list
}

// decide decides what happens to each row. It reads nothing.
func (p *importPlan) decide(im Import, places []*readyPlace, now int64) {
	known := p.state.id != 0
	was := p.state.values(p.file.Phone, nil)
	if p.now = was; !known {
		p.now.Place = im.Place
	}
	p.now = p.file.Over(p.now)
	reason := p.choosePlace(places, im.Scope)
	note := ""
	if reason == "" {
		p.today = p.place.today(now)
		if known {
			p.own, note = p.decideKnown(was)
		}
		if !known || p.renews {
			reason = p.refuseConsent()
		}
	}
	taken := p.numbers()
	for i := range p.file.Rows {
		row := &p.file.Rows[i]
		r := rowPlan{fate: Fate{Line: row.Line, Kind: FateSame, Phone: Phone(p.file.Phone), Plot: row.No,
			Stopped: p.state.stoppedAt != 0, NewGrower: !known && i == 0}}
		if i == 0 {
			r.fate.Changes, r.fate.Note = slices.Clone(p.own), note
		}
		if reason == "" && row.About {
			reason := p.decidePlot(&r, row, taken)
			r.refuse(reason)
		}
		r.refuse(reason)
		if r.fate.Kind == FateSame && r.fate.NewGrower {
			r.fate.Kind = FateNew
		} else if r.fate.Kind == FateSame && len(r.fate.Changes) > 0 {
			r.fate.Kind = FateChanged
		}
		p.rows = append(p.rows, r)
	}
}

// refuse refuses the row, if there is a reason. What else would be done with it is of no interest then.
func (r *rowPlan) refuse(reason string) {
	if reason != "" {
		f := &r.fate
		*f = Fate{Line: f.Line, Kind: FateRefused, Phone: f.Phone, Plot: f.Plot, Reason: reason}
	}
}

// choosePlace finds the place of the grower, and returns why the import may not be about it.
func (p *importPlan) choosePlace(places []*readyPlace, scope Scope) (reason string) {
	if p.state.id != 0 && !scope.Has(p.state.place.ID) {
		return "the records have this number at a place that is not yours; ask an operator"
	}
	if p.now.Place == "" {
		return "a new grower needs: place"
	}
	for _, at := range places {
		if at.Name == p.now.Place && scope.Has(at.ID) {
			p.place = at
			return ""
		}
	}
	var names []string
	for _, at := range places {
		if scope.Has(at.ID) {
			names = append(names, at.Name)
		}
	}
	return fmt.Sprintf("there is no place %q; there are: %s", p.now.Place, strings.Join(names, ", "))
}

// decideKnown decides what changes of a grower in the records.
func (p *importPlan) decideKnown(was growercsv.Values) (changes []growercsv.Change, note string) {
	p.name, p.note = p.now.Name != was.Name, p.now.Note != was.Note
	p.language = p.now.Language != was.Language
	p.moves = p.now.Place != was.Place
	p.household = !sameHome(p.now.Home, was.Home)
	p.renews = p.now.ConsentOn > was.ConsentOn
	changes = growercsv.Changes(was, p.now)
	switch {
	case p.renews:
		changes = append(changes, growercsv.Change{Column: "consent_on", From: was.ConsentOn.String(),
			To: p.now.ConsentOn.String()})
	case p.now.ConsentWords != was.ConsentWords || p.now.ConsentOn != was.ConsentOn:
		note = fmt.Sprintf("the consent of %s stands", was.ConsentOn)
	}
	return changes, note
}

func sameHome(a, b engine.Household) bool {
	return a.People == b.People && a.Tools == b.Tools && a.HoursADay == b.HoursADay && a.Neighbours == b.Neighbours
}

// refuseConsent returns why the grower cannot be entered, or the consent not be renewed.
func (p *importPlan) refuseConsent() string {
	if missing := growercsv.Missing(p.now, false); len(missing) > 0 {
		return "a new grower needs: " + strings.Join(missing, ", ")
	}
	stopped := engine.Day(0)
	if p.state.stoppedAt != 0 {
		stopped = p.place.today(p.state.stoppedAt)
	}
	on := p.now.ConsentOn
	switch {
	case on > p.today:
		return fmt.Sprintf("the consent of %s is in the future: today is %s", on, p.today)
	case on < p.today-consentDays:
		return fmt.Sprintf("the consent of %s is more than %d days old: ask the grower again", on, consentDays)
	case p.state.id == 0 && stopped != 0 && on <= stopped:
		return fmt.Sprintf("this number has wanted no texts since %s, after the consent of %s: ask the grower again",
			stopped, on)
	}
	return ""
}

// numbers returns which numbers of plots are taken by open plots and by rows. There is no plot 0.
func (p *importPlan) numbers() []bool {
	taken := make([]bool, growercsv.MaxPlot+1)
	taken[0] = true
	for _, r := range p.state.plots {
		taken[r.no] = true
	}
	for _, row := range p.file.Rows {
		taken[row.No] = true
	}
	return taken
}
