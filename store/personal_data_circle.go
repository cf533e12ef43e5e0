package store

import (
	"rowbell/engine"
	"rowbell/engine/circle"
)

// PersonCircle is what a person is and has in a circle of growers who share tools. Of other persons of the circle there
// is nothing in it: their names and numbers are theirs.
type PersonCircle struct {
	Number      int              `json:"number"`
	As          string           `json:"as"` // "keeper", "member", "asked to join", "guest" or "left"
	Name        string           `json:"name"`
	LeftDay     string           `json:"left_day,omitempty"`
	AgreedAt    Instant          `json:"agreed_at"` // that others see name and number
	TextVersion string           `json:"text_version"`
	Text        string           `json:"text"`
	Language    string           `json:"language"`
	Channel     string           `json:"channel,omitempty"`
	Tools       []PersonTool     `json:"tools"` // of this owner
	Turns       []PersonTurn     `json:"turns"`
	Wishes      []PersonWish     `json:"wishes"`
	Told        []PersonToldTurn `json:"told"`
	Questions   []PersonAsk      `json:"questions"`
	Entries     []PersonEntry    `json:"entries"`
}

// PersonTool is a tool that the person shares.
type PersonTool struct {
	Name         string  `json:"name,omitempty"`
	WidthCM      float64 `json:"width_cm"`
	MaxWidthCM   float64 `json:"max_width_cm,omitempty"`
	Price        float64 `json:"price,omitempty"`
	MemberPerDay float64 `json:"price_per_day_for_members,omitempty"`
	GuestPerDay  float64 `json:"price_per_day_for_guests,omitempty"`
	Broken       bool    `json:"broken,omitempty"`
	RemovedDay   string  `json:"removed_day,omitempty"`
}

// PersonTurn is a day of a tool with the person.
type PersonTurn struct {
	Day    string `json:"day"`
	Tool   int64  `json:"tool_id"`
	Plot   int64  `json:"plot_id,omitempty"` // 0: a hire
	Window int    `json:"window,omitempty"`
	Late   bool   `json:"late,omitempty"`
}

// PersonWish is what the person said of the turn of a plot.
type PersonWish struct {
	Plot      int64  `json:"plot_id"`
	Window    int    `json:"window"`
	ExtraDays int    `json:"days_longer,omitempty"`
	Skip      bool   `json:"no_turn,omitempty"`
	ReadyDay  string `json:"ready_day,omitempty"`
}

// PersonToldTurn is what the person was told last of the turns of a plot.
type PersonToldTurn struct {
	Plot   int64    `json:"plot_id"`
	Day    string   `json:"day"`
	Window int      `json:"window"`
	Days   []string `json:"days"` // none: that there is no turn
}

// PersonAsk is a question from the person to another, or from another to the person.
type PersonAsk struct {
	Kind     string  `json:"kind"`
	Asked    bool    `json:"asked_by_this_person,omitempty"`
	Day      string  `json:"day,omitempty"`
	OtherDay string  `json:"other_day,omitempty"`
	Days     int     `json:"days,omitempty"`
	Amount   float64 `json:"amount,omitempty"`
	AreaM2   float64 `json:"area_m2,omitempty"`
	Until    string  `json:"may_be_answered_until"`
	State    string  `json:"state"`
}

// PersonEntry is an entry of the ledger.
type PersonEntry struct {
	ID       int64   `json:"id"`
	Day      string  `json:"day"`
	Kind     string  `json:"kind"`
	Amount   float64 `json:"amount"` // above zero: owed to the person; below: by the person
	Corrects int64   `json:"takes_back_id,omitempty"`
}

const (
	sqlPersonCircles = `SELECT m.id, c.number, m.name, m.joined, m.keeper, m.guest, coalesce(m.left_day, 0),
		m.consent_at, m.consent_text, coalesce(t.body, ''), m.language, m.channel
	FROM circle_member m JOIN circle c ON c.id = m.circle_id
	LEFT JOIN consent_text t ON t.version = m.consent_text WHERE m.grower_id = ` + asID + ` ORDER BY m.id`
	sqlPersonTools = `SELECT k.name, k.width_cm, k.max_width_cm, k.price, k.member_day, k.guest_day, k.broken,
		coalesce(k.removed_day, 0)
	FROM circle_tool k WHERE k.owner_id = ` + asID + ` ORDER BY k.id`
	sqlPersonTurns = `SELECT t.day, t.tool_id, coalesce(t.plot_id, 0), t.window_no, t.late FROM circle_turn t
	WHERE t.member_id = ` + asID + ` ORDER BY t.day, t.tool_id`
	sqlPersonWishes = `SELECT w.plot_id, w.window_no, w.extra_days, w.skip, coalesce(w.ready_day, 0)
	FROM plot p JOIN circle_wish w ON w.plot_id = p.id WHERE p.grower_id = ` + asID + ` ORDER BY w.plot_id, w.window_no`
	sqlPersonPlotIDs = `SELECT p.id FROM plot p WHERE p.grower_id = ` + asID + ` ORDER BY p.id`
	sqlPersonAsks    = `SELECT ` + askColumns + ` FROM circle_ask a JOIN circle c ON c.id = a.circle_id
	WHERE (a.from_id = ` + asID + ` OR a.to_id = ` + asID + `) ORDER BY a.id`
	sqlPersonEntries = `SELECT ` + entryColumns + ` FROM circle_entry e
	WHERE (e.debtor_id = ` + asID + ` OR e.creditor_id = ` + asID + `) ORDER BY e.id`
)

// personCircles adds what the records of circles have of the grower to r.
func (tx *Tx) personCircles(r *PersonRecords) error {
	type row struct {
		PersonCircle
		id                    int64
		joined, keeper, guest bool
		left                  engine.Day
	}
	list, err := rows(tx, sqlPersonCircles, args(r.ID), func(c *row) []any {
		return args(&c.id, &c.Number, &c.Name, &c.joined, &c.keeper, &c.guest, &c.left, &c.AgreedAt, &c.TextVersion,
			&c.Text, &c.Language, &c.Channel)
	})
	for _, c := range list {
		if err != nil {
			break
		}
		c.LeftDay = dayText(c.left)
		switch {
		case c.keeper:
			c.As = "keeper"
		case c.joined:
			c.As = "member"
		case c.left != 0:
			c.As = "left"
		case c.guest:
			c.As = "guest"
		default:
			c.As = "asked to join"
		}
		err = tx.personInCircle(&c.PersonCircle, c.id)
		if err == nil && c.joined {
			err = tx.personWishes(&c.PersonCircle, r.ID)
		}
		r.Circles = append(r.Circles, c.PersonCircle)
	}
	return err
}

// money returns an amount in the currency of the place.
func money(hundredths int64) float64 { return float64(hundredths) / 100 }

// personInCircle adds the tools, turns, questions and entries of a person of a circle to c.
func (tx *Tx) personInCircle(c *PersonCircle, id int64) error {
	c.Tools, c.Turns, c.Wishes, c.Told = []PersonTool{}, []PersonTurn{}, []PersonWish{}, []PersonToldTurn{}
	c.Questions, c.Entries = []PersonAsk{}, []PersonEntry{}
	err := tx.each(sqlPersonTools, args(id), func(scan func(...any) error) error {
		var t PersonTool
		var price, member, guest int64
		var removed engine.Day
		err := scan(&t.Name, &t.WidthCM, &t.MaxWidthCM, &price, &member, &guest, &t.Broken, &removed)
		t.Price, t.MemberPerDay, t.GuestPerDay = money(price), money(member), money(guest)
		t.RemovedDay = dayText(removed)
		c.Tools = append(c.Tools, t)
		return err
	})
	if err != nil {
		return err
	}
	err = tx.each(sqlPersonTurns, args(id), func(scan func(...any) error) error {
		var t PersonTurn
		var day engine.Day
		err := scan(&day, &t.Tool, &t.Plot, &t.Window, &t.Late)
		t.Day = dayText(day)
		c.Turns = append(c.Turns, t)
		return err
	})
	if err != nil {
		return err
	}
	asks, err := rows(tx, sqlPersonAsks, args(id), intoAsk)
	for _, a := range asks {
		c.Questions = append(c.Questions, PersonAsk{a.Kind.String(), a.From == id, dayText(a.Day), dayText(a.Other),
			a.Days, money(a.Amount), a.AreaM2, dayText(a.Until), stateText(a.State)})
	}
	if err != nil {
		return err
	}
	entries, err := rows(tx, sqlPersonEntries, args(id), intoEntry)
	for _, e := range entries {
		amount := e.Amount
		if e.Debtor == id {
			amount = -amount
		}
		c.Entries = append(c.Entries, PersonEntry{e.ID, dayText(e.On), entryText(e.Kind), money(amount), e.Corrects})
	}
	return err
}

func stateText(s circle.AskState) string {
	return [...]string{"open", "yes", "no", "over", "obsolete"}[s]
}

func entryText(k circle.EntryKind) string {
	return [...]string{"", "day", "hire", "weeding", "payment"}[k]
}

// personWishes adds what a member said and was told of the turns of the plots to c.
func (tx *Tx) personWishes(c *PersonCircle, growerID int64) error {
	err := tx.each(sqlPersonWishes, args(growerID), func(scan func(...any) error) error {
		var w PersonWish
		var ready engine.Day
		err := scan(&w.Plot, &w.Window, &w.ExtraDays, &w.Skip, &ready)
		w.ReadyDay = dayText(ready)
		c.Wishes = append(c.Wishes, w)
		return err
	})
	if err != nil {
		return err
	}
	plots, err := column[int64](tx, sqlPersonPlotIDs, args(growerID))
	if err != nil {
		return err
	}
	told, err := tx.toldTurns(plots)
	for _, id := range plots {
		t, known := told[id]
		if !known {
			continue
		}
		p := PersonToldTurn{Plot: id, Day: dayText(t.On), Window: t.Window, Days: []string{}}
		for _, d := range t.Turns {
			p.Days = append(p.Days, dayText(d.Day))
		}
		c.Told = append(c.Told, p)
	}
	return err
}
