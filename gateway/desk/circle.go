package desk

import (
	"bytes"
	"fmt"
	"html/template"
	"strconv"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/engine/picture"
	"rowbell/store"
)

// circleView is the page of one circle.
type circleView struct {
	store.CircleSheet
	KeeperName, KeeperNumber string
	Picture                  template.HTML
	Turns                    []turnLine
	Without                  []withoutLine
	People                   []personLine
	Tools                    []sharedToolLine
	Balances                 []balanceLine
	Open, Disputed           []askLine
	Entries                  []entryLine
	Older                    int64 // the id before which the next page of entries begins; 0: there is none
}

type turnLine struct {
	store.StaffTurn
	Days, Tool, Plot, Window, State, From, To, Wish string
	Linked                                          bool // the reader may open the plot
	Changes                                         bool // something can be said of the turn
}

// withoutLine is a plot of which the grower was told that it has no turn, or gave the turn to others.
type withoutLine struct {
	Plot    int64
	Window  int
	Name    string
	Why     string
	Linked  bool
	Skipped bool
}

type personLine struct {
	store.CirclePerson
	Name, Number, Role, Note string
	Linked                   bool
}

type sharedToolLine struct {
	circle.SharedTool
	Name, Width, Owner, Cost, MemberDay, GuestDay, Earned, Rest string
}

type balanceLine struct{ Name, Owed, Owes string }

type askLine struct {
	On         engine.Day
	Who, Says  string
	Other      string // who is asked
	LastAnswer engine.Day
}

type entryLine struct {
	store.StaffEntry
	What, Debtor, Creditor, Money string
}

func (d *Desk) circlePage(r *request) error {
	v := circleView{CircleSheet: r.circle}
	before, _ := strconv.ParseInt(r.FormValue("before"), 10, 64) // 0, from the newest on, if it is no number
	var entries []store.StaffEntry
	if err := r.view(func(tx *store.Tx) (err error) {
		entries, err = tx.CircleEntries(r.circle.ID, before, pageSize+1)
		return err
	}); err != nil {
		return err
	}
	if len(entries) > pageSize {
		entries = entries[:pageSize]
		v.Older = entries[pageSize-1].ID
	}
	for _, e := range entries {
		v.Entries = append(v.Entries, r.entryLine(e))
	}
	if k := r.circle.Person(r.circle.Keeper); k.ID != 0 {
		v.KeeperName, v.KeeperNumber = r.personName(k.ID), r.personReached(k)
	}
	r.fillTurns(&v)
	r.fillPeople(&v)
	r.fillMoney(&v)
	var err error
	if v.Picture, err = r.turnsPicture(); err != nil {
		return err
	}
	return r.page("circle", fmt.Sprint("Circle ", r.circle.Number), v)
}

func (r *request) entryLine(e store.StaffEntry) entryLine {
	return entryLine{e, r.entryWords(e.Entry), r.personName(e.Debtor), r.personName(e.Creditor), r.money(e.Amount)}
}

// circlePlot returns an open plot of the circle by its id, with its member; the zero values if no member has it.
func (r *request) circlePlot(id int64) (store.CirclePlot, store.CirclePerson) {
	for _, p := range r.circle.People {
		for _, plot := range p.Plots {
			if plot.ID == id && id != 0 {
				return plot, p
			}
		}
	}
	return store.CirclePlot{}, store.CirclePerson{}
}

func (r *request) fillTurns(v *circleView) {
	for _, t := range r.circle.Turns {
		plot, person := r.circlePlot(t.Plot)
		line := turnLine{StaffTurn: t, Days: daySpan(t.From, t.To), Tool: r.toolName(t.Tool),
			Plot: r.plotName(t.Member, t.PlotNo), Linked: plot.ID != 0 && r.scope.Has(person.PlaceID)}
		switch {
		case t.PlotNo == 0:
			line.Plot, line.State = r.personName(t.Member), "hired by a guest"
		case t.To < r.circle.Today:
			line.State = "over"
		case t.Told:
			line.State = "told"
		default:
			line.State = "not told yet"
		}
		if t.PlotNo != 0 {
			line.Window, line.Wish = daySpan(t.Window.Opens, t.Window.Closes), wishWords(plot.Wishes[t.Window.Number])
			line.Changes = plot.ID != 0 && t.To >= r.circle.Today && t.Window.Number > 0
		}
		if t.Late {
			line.State += ", after the window"
		}
		if t.FetchFrom != 0 {
			line.From = r.personName(t.FetchFrom)
		}
		if t.HandTo != 0 {
			line.To = r.personName(t.HandTo)
		}
		v.Turns = append(v.Turns, line)
	}
	for _, p := range r.circle.People {
		for _, plot := range p.Plots {
			if line, is := r.without(p, plot); is {
				v.Without = append(v.Without, line)
			}
		}
	}
}

// without reports whether a plot has no turn although it was to have one.
func (r *request) without(p store.CirclePerson, plot store.CirclePlot) (withoutLine, bool) {
	line := withoutLine{Plot: plot.ID, Name: r.plotName(p.ID, plot.No), Linked: r.scope.Has(p.PlaceID)}
	for _, t := range r.circle.Turns {
		if t.Plot == plot.ID && t.To >= r.circle.Today {
			return line, false
		}
	}
	told := 0
	if plot.Told != nil {
		told = plot.Told.Window
	}
	for window, w := range plot.Wishes {
		if w.Skip && window >= max(told, line.Window) {
			line.Window, line.Skipped, line.Why = window, true, "gave the turn to others"
		}
	}
	if !line.Skipped && plot.Told != nil && len(plot.Told.Turns) == 0 {
		line.Window, line.Why = told, "was told on "+shortDay(plot.Told.On)+" that there is no turn"
	}
	return line, line.Why != ""
}

func (r *request) fillPeople(v *circleView) {
	for _, p := range r.circle.People {
		line := personLine{CirclePerson: p, Name: r.personName(p.ID), Number: r.personReached(p),
			Linked: r.may(call) && p.GrowerID != 0 && r.scope.Has(p.PlaceID)}
		switch {
		case p.Left != 0:
			line.Role = "left on " + longDay(p.Left)
		case p.Keeper:
			line.Role = "keeper"
		case p.Joined:
			line.Role = "member"
		case p.Guest:
			line.Role = "guest"
		default:
			line.Role = "asks to join"
		}
		switch {
		case p.Phone == "":
		case p.Silent:
			line.Note = "not heard of for long: is told no names and numbers"
		case p.Stopped:
			line.Note = "wants no texts: call"
		}
		v.People = append(v.People, line)
	}
	for _, t := range r.circle.Tools {
		line := sharedToolLine{SharedTool: t, Name: r.toolName(t.ID), Width: width(t.Tool),
			Owner: r.personName(t.Owner), Earned: r.money(t.Earned)}
		if t.Price > 0 {
			line.Cost = r.money(t.Price)
			if line.Rest = "paid back"; t.Earned < t.Price {
				line.Rest = r.money(t.Price-t.Earned) + " still to come"
			}
		}
		if t.MemberDay > 0 {
			line.MemberDay = r.money(t.MemberDay)
		}
		if t.GuestDay > 0 {
			line.GuestDay = r.money(t.GuestDay)
		}
		v.Tools = append(v.Tools, line)
	}
}

func (r *request) fillMoney(v *circleView) {
	for _, b := range r.circle.Balances {
		line := balanceLine{Name: r.personName(b.Member)}
		if b.Amount >= 0 {
			line.Owed = r.money(b.Amount)
		} else {
			line.Owes = r.money(-b.Amount)
		}
		v.Balances = append(v.Balances, line)
	}
	lines := func(asks []store.StaffAsk) (list []askLine) {
		for _, a := range asks {
			list = append(list, askLine{a.On, r.personName(a.From), r.asked(a.Ask), r.personName(a.To), a.Until})
		}
		return list
	}
	v.Open, v.Disputed = lines(r.circle.Open), lines(r.circle.Disputed)
}

// pictureDays is how many days the picture of the turns has at least and at most: a page stays small.
const (
	pictureDays    = 14
	maxPictureDays = 28
)

// turnsPicture draws the turns from today on; "" without tools.
func (r *request) turnsPicture() (template.HTML, error) {
	s := &r.circle
	if len(s.Tools) == 0 {
		return "", nil
	}
	p := picture.Roster{From: s.Today, To: s.Today + pictureDays - 1}
	for _, t := range s.Turns {
		p.To = min(max(p.To, t.To), s.Today+maxPictureDays-1)
	}
	for _, t := range s.Tools {
		row := picture.RosterTool{Name: r.toolName(t.ID)}
		for _, turn := range s.Turns {
			for day := max(turn.From, p.From); turn.Tool == t.ID && day <= min(turn.To, p.To); day++ {
				row.Turns = append(row.Turns, picture.RosterTurn{On: day, Plot: r.plotName(turn.Member, turn.PlotNo),
					Late: turn.PlotNo != 0 && day > turn.Window.Closes})
			}
		}
		if t.Broken {
			row.Out = []picture.RosterDays{{From: p.From, To: p.To}}
		}
		p.Tools = append(p.Tools, row)
	}
	var b bytes.Buffer
	title := fmt.Sprintf("Who has which tool, %s", daySpan(p.From, p.To))
	err := picture.Turns(&b, p, picture.Options{Title: title, WidthPX: 900})
	return template.HTML(b.String()), err // package picture escapes what people have typed
}
