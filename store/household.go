package store

import (
	"encoding/json"
	"fmt"

	"rowbell/engine"
)

// household is the JSON form of an engine.Household in the database. Hours of work are stored with the passes
// (weedings).
type household struct {
	People     int     `json:"people,omitempty"`
	Tools      int     `json:"tools,omitempty"`
	HoursADay  float64 `json:"hours_a_day,omitempty"`
	Neighbours int     `json:"neighbours,omitempty"`
	ToolPrice  float64 `json:"tool_price,omitempty"`
	HireDay    float64 `json:"hire_day,omitempty"`
	LabourDay  float64 `json:"labour_day,omitempty"`
}

// readHousehold decodes a household. An empty text means that the grower gave no answers about the household.
func readHousehold(text string) (engine.Household, error) {
	if text == "" {
		return engine.Household{}, nil
	}
	var h household
	if err := json.Unmarshal([]byte(text), &h); err != nil {
		return engine.Household{}, fmt.Errorf("household: %w", err)
	}
	return engine.Household{People: h.People, Tools: h.Tools, HoursADay: h.HoursADay, Neighbours: h.Neighbours,
		ToolPrice: h.ToolPrice, HireDay: h.HireDay, LabourDay: h.LabourDay}, nil
}

// maxWorked is the largest number of passes (weedings) from which a grower's working speed is computed.
const maxWorked = 20

// workedRow is a pass (a weeding) for which the grower gave hours, and the id of its plot.
type workedRow struct {
	plot int64
	engine.Worked
}

// sqlWorked reads passes (weedings) with hours and people, on open and closed plots. A weeding by hand is left out if
// it came at most FollowUpDays (3 days) after a pass with the tool, because it only finished that pass; two parts of a
// plot are two grounds. The package engine uses the same rules for the working speed within one season.
const sqlWorked = `SELECT p.grower_id, p.id, x.means, x.way,
	p.area_m2 * CASE x.share WHEN 0 THEN 1 ELSE x.share END, p.row_spacing_cm, p.hill_spacing_cm, x.hours * x.people
	FROM plot p JOIN pass x ON x.plot_id = p.id
	WHERE p.grower_id IN ` + idList + ` AND x.hours > 0 AND x.people > 0
		AND (x.means <> 2 OR NOT EXISTS (SELECT 1 FROM pass y WHERE y.plot_id = x.plot_id AND y.means = 1
			AND (x.share = 0 OR y.share = 0) AND y.day >= x.day - $2
			AND (y.day < x.day OR y.day = x.day AND y.seq < x.seq)))
	ORDER BY p.grower_id, x.day, x.plot_id, x.seq`

// readWorked reads the passes (weedings) with hours of each grower, oldest first.
func (tx *Tx) readWorked(growers ...int64) (map[int64][]workedRow, error) {
	all, err := grouped(tx, sqlWorked, args(ids(growers), engine.FollowUpDays), func(r *workedRow) []any {
		return args(&r.plot, &r.With, &r.Way, &r.AreaM2, &r.RowCM, &r.HillCM, &r.PersonHours)
	})
	return all, fail("worked", err)
}

// workedElsewhere returns the newest passes with hours, at most maxWorked, oldest first. Passes on plot are left out.
func workedElsewhere(rows []workedRow, plot int64) []engine.Worked {
	var list []engine.Worked
	for _, r := range rows {
		if r.plot != plot {
			list = append(list, r.Worked)
		}
	}
	return list[max(0, len(list)-maxWorked):]
}

// Household returns what the grower answered about workers, hours and money, and the hours of weeding on all plots.
func (l *Ledger) Household() (engine.Household, error) { return l.householdWithout(0) }

// householdWithout is like Household, without the hours on one plot: the season of that plot contains them.
func (l *Ledger) householdWithout(plot int64) (engine.Household, error) {
	h, err := readHousehold(l.household)
	if err != nil {
		return h, fail("household", err)
	}
	if !l.hasHours {
		return h, nil
	}
	if l.worked == nil {
		all, err := l.tx.readWorked(l.id)
		if err != nil {
			return h, err
		}
		l.worked = append([]workedRow{}, all[l.id]...) // not nil: nil means that the passes were not read yet
	}
	h.Worked = workedElsewhere(l.worked, plot)
	return h, nil
}

const sqlSetHousehold = `UPDATE grower SET household = $1 WHERE id = $2`

// SetHousehold stores what the grower answered about workers, hours and money. These answers move no weeding window.
// The fields Worked and Herbicide are ignored: Worked comes from the passes, Herbicide from TellHerbicide.
func (l *Ledger) SetHousehold(h engine.Household) error {
	if !l.Known() {
		return ErrUnknown
	}
	if err := h.Validate(); err != nil {
		return err
	}
	b, err := json.Marshal(household{h.People, h.Tools, h.HoursADay, h.Neighbours, h.ToolPrice, h.HireDay, h.LabourDay})
	if err == nil {
		err = l.do(sqlSetHousehold, string(b), l.id)
	}
	if err != nil {
		return fail("set household", err)
	}
	l.household = string(b)
	return fail("set household", l.tx.planSoon(l.circleID, l.now))
}

const sqlHasHours = `UPDATE grower SET has_hours = 1 WHERE id = $1`

// noteHours marks a grower who logs a pass (a weeding) with hours for the first time. For a grower without this mark,
// the query sqlWorked is not run, because it would find no hours.
func (l *Ledger) noteHours(p engine.Pass) error {
	if l.hasHours || p.Hours <= 0 {
		return nil
	}
	l.hasHours = true
	return l.do(sqlHasHours, l.id)
}
