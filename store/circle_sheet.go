package store

import (
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// CircleSheet is all that staff see of a circle, but for its entries: see Tx.CircleEntries.
type CircleSheet struct {
	CircleLine
	Today    engine.Day     // at the place of the circle
	People   []CirclePerson // all persons, also those who left, by id
	Tools    []circle.SharedTool
	Turns    []StaffTurn // those that ended turnsShown days ago at most, by day, then by tool
	Open     []StaffAsk  // questions that are open, the newest first, at most asksShown
	Disputed []StaffAsk  // payments and weedings that one side denied, the newest first, at most asksShown
	Balances []circle.Balance
}

// Person returns a person of the circle; the zero value if there is none.
func (s *CircleSheet) Person(id int64) CirclePerson {
	if i := slices.IndexFunc(s.People, func(p CirclePerson) bool { return p.ID == id }); i >= 0 && id != 0 {
		return s.People[i]
	}
	return CirclePerson{}
}

// Tool returns a tool of the circle with its number in the list, from 1; 0 if the circle has it no more.
func (s *CircleSheet) Tool(id int64) (circle.SharedTool, int) {
	if i := slices.IndexFunc(s.Tools, func(t circle.SharedTool) bool { return t.ID == id }); i >= 0 {
		return s.Tools[i], i + 1
	}
	return circle.SharedTool{}, 0
}

// CirclePerson is a person of a circle, as staff see it.
type CirclePerson struct {
	circle.Member
	GrowerID, PlaceID int64      // 0: erased
	Left              engine.Day // 0: has not left
	Plots             []CirclePlot
}

// CirclePlot is an open plot of a member.
type CirclePlot struct {
	ID     int64
	No     int
	Label  string
	Told   *ToldTurn       // what its grower was told last of its turns; nil: nothing
	Wishes map[int]DueWish // by the number of the window
}

// StaffTurn is consecutive days of a tool with a person, for the plot with the id Plot; 0 for a guest.
type StaffTurn struct {
	circle.HeldTurn
	Plot int64
}

// StaffAsk is a question with the day on which it was asked.
type StaffAsk struct {
	circle.Ask
	On engine.Day
}

const (
	turnsShown = 7  // days back from which CircleSheet returns turns
	asksShown  = 60 // most questions of a kind that CircleSheet returns
)

const (
	sqlCirclePlaces = `SELECT m.id, coalesce(g.place_id, 0) FROM circle_member m
	LEFT JOIN grower g ON g.id = m.grower_id WHERE m.circle_id = ` + asID
	sqlCirclePlots = `SELECT m.id, p.id, p.no, p.label FROM circle_member m JOIN plot p ON p.grower_id = m.grower_id
	WHERE m.circle_id = ` + asID + ` AND m.joined = 1 AND p.closed_day IS NULL ORDER BY m.id, p.no`
	sqlCircleAsks = `SELECT ` + askColumns + `, a.asked_day FROM circle_ask a JOIN circle c ON c.id = a.circle_id
	WHERE a.circle_id = ` + asID + ` AND a.state = 0 AND a.until_day >= CAST($2 AS BIGINT)
	ORDER BY a.id DESC LIMIT CAST($3 AS BIGINT)`
	sqlCircleDisputes = `SELECT ` + askColumns + `, a.asked_day FROM circle_ask a JOIN circle c ON c.id = a.circle_id
	WHERE a.circle_id = ` + asID + ` AND a.state = 2 AND a.kind >= ` + askWeeded + `
	ORDER BY a.id DESC LIMIT CAST($2 AS BIGINT)`
)

// CircleSheet returns a circle in scope, which may have ended; false if there is none.
func (tx *Tx) CircleSheet(scope Scope, id, now int64) (s CircleSheet, known bool, err error) {
	if s.CircleLine, known, err = tx.CircleLine(scope, id, now); err != nil || !known {
		return s, false, err
	}
	if s.Today, err = tx.dayIn(s.PlaceID, now); err != nil {
		return s, false, fail("circle sheet", err)
	}
	tools, err := tx.sharedTools(id)
	s.Tools = tools[id]
	for _, step := range []func(*CircleSheet, int64) error{tx.sheetPeople, tx.sheetPlots, tx.sheetTurns,
		tx.sheetAsks} {
		if err == nil {
			err = step(&s, now)
		}
	}
	if err == nil {
		s.Balances, err = tx.balances(id)
	}
	return s, err == nil, fail("circle sheet", err)
}

func (tx *Tx) sheetPeople(s *CircleSheet, now int64) error {
	people, err := tx.peopleOf(s.ID)
	if err != nil {
		return err
	}
	places := map[int64]int64{}
	err = tx.each(sqlCirclePlaces, args(s.ID), func(scan func(...any) error) error {
		var person, place int64
		err := scan(&person, &place)
		places[person] = place
		return err
	})
	for i := range people[s.ID] {
		p := &people[s.ID][i]
		s.People = append(s.People, CirclePerson{Member: p.member(now), GrowerID: p.growerID, PlaceID: places[p.ID],
			Left: p.left})
	}
	return err
}

// sheetPlots adds the open plots of the members, with what was told and wished.
func (tx *Tx) sheetPlots(s *CircleSheet, _ int64) error {
	plots, err := grouped(tx, sqlCirclePlots, args(s.ID), func(p *CirclePlot) []any {
		return args(&p.ID, &p.No, &p.Label)
	})
	if err != nil {
		return err
	}
	var list []int64
	for _, of := range plots {
		for _, p := range of {
			list = append(list, p.ID)
		}
	}
	slices.Sort(list)
	told, err := tx.toldTurns(list)
	if err != nil {
		return err
	}
	wishes, err := tx.wishes(list)
	for i := range s.People {
		p := &s.People[i]
		p.Plots = plots[p.ID]
		for j := range p.Plots {
			plot := &p.Plots[j]
			if t, known := told[plot.ID]; known {
				plot.Told = &t
			}
			plot.Wishes = wishes[plot.ID]
		}
	}
	return err
}

// sheetTurns adds the turns. Who had the tool before is seen from turns up to circle.HoldDays earlier.
func (tx *Tx) sheetTurns(s *CircleSheet, _ int64) error {
	from := s.Today - turnsShown
	turns, err := tx.turns(from-circle.HoldDays, s.ID)
	if err != nil {
		return err
	}
	told, err := tx.toldTurns(plotsOf(turns[s.ID]))
	for _, t := range heldTurns(turns[s.ID], told, from) {
		s.Turns = append(s.Turns, StaffTurn{t.HeldTurn, t.plot})
	}
	return err
}

func (tx *Tx) sheetAsks(s *CircleSheet, _ int64) (err error) {
	s.Open, err = rows(tx, sqlCircleAsks, args(s.ID, s.Today, asksShown), (*StaffAsk).into)
	if err == nil {
		s.Disputed, err = rows(tx, sqlCircleDisputes, args(s.ID, asksShown), (*StaffAsk).into)
	}
	return err
}

func (a *StaffAsk) into() []any { return append(intoAsk(&a.Ask), &a.On) }

// WishOf returns what the member says of the turn of a plot for a window; the zero value is nothing.
func (tx *Tx) WishOf(plot int64, window int) (DueWish, error) {
	wishes, err := tx.wishes([]int64{plot})
	return wishes[plot][window], err
}

// StaffEntry is an entry of the ledger of a circle.
type StaffEntry struct {
	circle.Entry
	TakenBack bool
}

const (
	staffEntryColumns = entryColumns + `, EXISTS (SELECT 1 FROM circle_entry x WHERE x.corrects = e.id)`
	sqlCircleEntries  = `SELECT ` + staffEntryColumns + ` FROM circle_entry e
	WHERE e.circle_id = ` + asID + ` AND e.id < CAST($2 AS BIGINT) ORDER BY e.id DESC LIMIT CAST($3 AS BIGINT)`
	sqlCircleEntry = `SELECT ` + staffEntryColumns + ` FROM circle_entry e WHERE e.id = ` + asID + `
		AND e.circle_id = CAST($2 AS BIGINT)`
)

func (e *StaffEntry) into() []any { return append(intoEntry(&e.Entry), &e.TakenBack) }

// CircleEntries returns at most limit entries of a circle with lower ids than before, the newest first; before = 0
// begins with the newest of all.
func (tx *Tx) CircleEntries(circleID, before int64, limit int) ([]StaffEntry, error) {
	if before <= 0 {
		before = 1<<63 - 1
	}
	list, err := rows(tx, sqlCircleEntries, args(circleID, before, limit), (*StaffEntry).into)
	return list, fail("entries", err)
}

// CircleEntry returns an entry of a circle; false if the circle has no such entry.
func (tx *Tx) CircleEntry(circleID, id int64) (e StaffEntry, known bool, err error) {
	known, err = tx.one(sqlCircleEntry, args(id, circleID), e.into()...)
	return e, known, fail("entry", err)
}
