package desk

import (
	"errors"
	"fmt"
	"strconv"

	"rowbell/engine/circle"
	"rowbell/menu"
	"rowbell/store"
)

// errNobody means that nobody is left in whose name staff can change something.
var errNobody = errors.New("desk: no person of the circle with a number")

// actor returns the person of the circle in whose name something is changed: the one with this id, or without a number
// the keeper, or any member with a number.
func (r *request) actor(id int64) (store.CirclePerson, error) {
	if p := r.circle.Person(id); p.Joined && p.Phone != "" {
		return p, nil
	}
	if p := r.circle.Person(r.circle.Keeper); p.Phone != "" {
		return p, nil
	}
	for _, p := range r.circle.People {
		if p.Joined && p.Phone != "" {
			return p, nil
		}
	}
	return store.CirclePerson{}, errNobody
}

// ledgerOf opens the records of a person of the circle. It returns circle.ErrAskOver if the number is that of another
// grower meanwhile.
func (r *request) ledgerOf(tx *store.Tx, p store.CirclePerson) (*store.Ledger, error) {
	if p.Phone == "" || p.GrowerID == 0 {
		return nil, errNobody
	}
	l, err := tx.Ledger(store.Phone(p.Phone), r.now.Unix())
	if err != nil {
		return nil, err
	}
	if l.GrowerID() != p.GrowerID {
		return nil, circle.ErrAskOver
	}
	l.Via("desk")
	l.QuietFrom(r.d.o.QuietHour)
	return l, nil
}

// circleEntry returns an entry of the trail about the circle of the request.
func (r *request) circleEntry(what, object, was, now string) store.TrailEntry {
	e := r.entry(what, fmt.Sprintf("circle %d", r.circle.Number)+object, was, now)
	e.PlaceID = r.circle.PlaceID
	return e
}

// circleChanged sends the browser back to the circle after a change, or says why nothing was changed.
func (r *request) circleChanged(err error, note string) error {
	path := fmt.Sprint("/desk/circle/", r.circle.ID)
	switch {
	case err == nil:
		if r.d.o.Queued != nil {
			r.d.o.Queued()
		}
		return r.to(path, note)
	case errors.Is(err, errNobody):
		return r.to(path, "Nothing was changed: nobody is left with a number in whose name this can be done.")
	case errors.Is(err, circle.ErrAskOver), errors.Is(err, circle.ErrNoCircle), errors.Is(err, store.ErrNoPlot):
		return r.to(path, "Nothing was changed: it has changed meanwhile. This is how it is now.")
	case errors.Is(err, circle.ErrNotAllowed):
		return r.to(path, "Nothing was changed: the person may not do this in the circle.")
	}
	return err
}

// idInForm returns the id in a field; 0 if there is none.
func (r *request) idInForm(name string) int64 {
	id, _ := strconv.ParseInt(r.form.Get(name), 10, 64)
	return id
}

// mendTool notes that a tool is broken or works again. Each member may say so; it is done in the name of the owner.
func (d *Desk) mendTool(r *request) error {
	t, no := r.circle.Tool(r.idInForm("tool"))
	broken := r.form.Get("broken") == "yes"
	if no == 0 {
		return r.circleChanged(circle.ErrNoCircle, "")
	}
	person, err := r.actor(t.Owner)
	if err != nil {
		return r.circleChanged(err, "")
	}
	states := map[bool]string{true: "broken", false: "in use"}
	err = r.write(func(tx *store.Tx) error {
		l, err := r.ledgerOf(tx, person)
		if err != nil {
			return err
		}
		notes, err := d.o.Menu.MendTool(l, t.ID, broken)
		if err != nil {
			return err
		}
		if err := r.tell(tx, l, fmt.Sprintf("mend/%d/%v", t.ID, broken), notes); err != nil {
			return err
		}
		return tx.Trail(r.circleEntry("noted the state of a tool", ", "+r.toolName(t.ID), states[!broken],
			states[broken]))
	})
	return r.circleChanged(err, fmt.Sprintf("Noted: %s is %s. The turns are planned again within minutes.",
		r.toolName(t.ID), states[broken]))
}

// wishes are what staff may note of a turn, by the value of the form.
var wishes = map[string]circle.Wish{"1": {ExtraDays: 1}, "2": {ExtraDays: 2}, "3": {ExtraDays: 3},
	"skip": {Skip: true}, "none": {}}

// wish notes what a member says of the turn of a plot.
func (d *Desk) wish(r *request) error {
	plot, person := r.circlePlot(r.idInForm("plot"))
	window := int(r.idInForm("window"))
	wish, known := wishes[r.form.Get("wish")]
	if plot.ID == 0 || !known || window < 1 || !r.concerns(plot, window) {
		return r.circleChanged(circle.ErrNoCircle, "")
	}
	err := r.write(func(tx *store.Tx) error {
		l, err := r.ledgerOf(tx, person)
		if err != nil {
			return err
		}
		was, err := tx.WishOf(plot.ID, window)
		if err != nil {
			return err
		}
		if err := l.Wish(plot.No, window, wish); err != nil {
			return err
		}
		now, err := tx.WishOf(plot.ID, window) // more days are added to those before
		if err != nil {
			return err
		}
		e := r.circleEntry("noted a wish for a turn", fmt.Sprintf(", window %d", window), wishWords(was),
			wishWords(now))
		e.GrowerID, e.PlotID = person.GrowerID, plot.ID
		return tx.Trail(e)
	})
	return r.circleChanged(err, "Noted. The turns are planned again within minutes; members hear of changes.")
}

// concerns reports whether a plot has a turn today or later for a window, or a wish for it.
func (r *request) concerns(plot store.CirclePlot, window int) bool {
	if _, wished := plot.Wishes[window]; wished {
		return true
	}
	for _, t := range r.circle.Turns {
		if t.Plot == plot.ID && t.Window.Number == window && t.To >= r.circle.Today {
			return true
		}
	}
	return false
}

// entryView is the page on which an entry is taken back.
type entryView struct {
	Circle       int64
	Entry        entryLine
	For          string // in whose name it can be taken back; "": nobody's
	Told, Untold []string
}

// ledgerEntry reads the entry that the path names, and the person who may take it back: the creditor, or for the circle
// the keeper. A person who left may still do so.
func (r *request) ledgerEntry() (e store.StaffEntry, who store.CirclePerson, err error) {
	id, err := r.idInPath("entry")
	if err != nil {
		return e, who, err
	}
	var known bool
	err = r.view(func(tx *store.Tx) (err error) {
		e, known, err = tx.CircleEntry(r.circle.ID, id)
		return err
	})
	if err == nil && !known {
		err = errNotFound
	}
	if who = r.circle.Person(e.Creditor); e.Creditor == 0 {
		who = r.circle.Person(r.circle.Keeper)
	}
	return e, who, err
}

func (d *Desk) entryPage(r *request) error {
	e, who, err := r.ledgerEntry()
	if err != nil {
		return err
	}
	v := entryView{Circle: r.circle.ID, Entry: r.entryLine(e)}
	if who.Phone != "" {
		v.For = r.personName(who.ID)
		for _, id := range []int64{e.Debtor, who.ID} {
			p := r.circle.Person(id)
			switch {
			case id == 0:
			case p.Phone == "" || p.Stopped || p.Silent:
				v.Untold = append(v.Untold, r.personName(id))
			default:
				v.Told = append(v.Told, r.personName(id))
			}
		}
	}
	return r.page("entry", "Take back an entry", v)
}

// takeBackEntry takes an entry back in the name of its creditor.
func (d *Desk) takeBackEntry(r *request) error {
	e, who, err := r.ledgerEntry()
	if err != nil {
		return err
	}
	err = r.write(func(tx *store.Tx) error {
		l, err := r.ledgerOf(tx, who)
		if err != nil {
			return err
		}
		var notes []menu.Note
		if notes, err = d.o.Menu.TakeBackEntry(l, r.circle.Number, e.Entry); err != nil {
			return err
		}
		if err := r.tell(tx, l, "", notes); err != nil {
			return err
		}
		return tx.Trail(r.circleEntry("took back an entry", ", "+r.entryWords(e.Entry),
			fmt.Sprintf("%s of %s", r.money(e.Amount), longDay(e.On)), "not owed"))
	})
	return r.circleChanged(err, "Taken back: "+r.money(e.Amount)+" is not owed any more.")
}
