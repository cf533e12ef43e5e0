package desk

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// contactView is the page on which staff say what came of a call or a visit.
type contactView struct {
	Line                                                        morningLine
	What, Weeded, On, With, Left, SeenOn, Leaves, Amount, Water field
}

func (d *Desk) contactPage(r *request) error {
	today := r.watched.Today.String()
	r.form = filled("what", "reached", "weeded", "no", "on", today, "with", "tool", "seen", today)
	if r.URL.Query().Get("what") == "came" {
		r.form.Set("what", "came")
	}
	v, err := r.contactView()
	if err != nil {
		return err
	}
	return r.page("contact", contactTitle(v), v)
}

func contactTitle(v contactView) string {
	return "What came of it: " + strings.ToLower(v.Line.Name()[:1]) + v.Line.Name()[1:]
}

func (r *request) contactView() (v contactView, err error) {
	a, err := r.watched.Attention()
	if err != nil {
		return v, err
	}
	var names map[int64]string
	if err := r.view(func(tx *store.Tx) (err error) {
		names, err = tx.GrowerNames([]int64{r.watched.GrowerID})
		return err
	}); err != nil {
		return v, err
	}
	v.Line = morningLine{Watched: r.watched, Attention: a, Place: r.placeName(r.watched.PlaceID),
		Person: names[r.watched.GrowerID]}
	f := r.form
	v.What = f.Choice("what", "How", "", "reached", "Reached by phone", "came", "Came by")
	v.Weeded = f.Choice("weeded", "Is the plot weeded?", "Half or less of it counts as not yet: log it on the page of "+
		"the plot.", "no", "Not yet, or not asked", "yes", "Yes, all of it")
	v.On = f.Field("on", "Weeded on", "Only if it is weeded.").As("date")
	v.With = f.Choice("with", "Weeded with", "", "tool", "The tool", "hand", "By hand")
	v.Left = f.Choice("left", "Weeds left", "", "", "Not asked", "few", "Few", "some", "Some", "many", "Many")
	v.Leaves = f.Choice("leaves", "Most weeds have", "Count from below; the youngest leaf counts when it is open.", "",
		"Not looked", "none", "None are up", "one", "One leaf", "two", "2 or 3 leaves", "four", "4 leaves or more")
	v.Amount = f.Choice("amount", "How many weeds", "", "", "Not looked", "few", "Few", "some", "Some", "many", "Many")
	v.Water = f.Choice("water", "Water", "", "", "Not looked", "dry", "Dry ground", "mud", "Mud, no water", "fingers",
		"Some fingers deep", "hand", "A hand deep")
	v.SeenOn = f.Field("seen", "Seen on", "Only if something was seen.").As("date")
	return v, nil
}

var (
	amounts = map[string]engine.Amount{"": 0, "few": engine.Few, "some": engine.Some, "many": engine.Many}
	counts  = map[string]engine.Leaves{"": 0, "none": engine.NoneUp, "one": engine.OneLeaf, "two": engine.TwoThree,
		"four": engine.FourPlus}
	waters = map[string]engine.Stands{"": 0, "dry": engine.StandsDry, "mud": engine.StandsMud,
		"fingers": engine.StandsFingers, "hand": engine.StandsHand}
	means = map[string]engine.Means{"tool": engine.ByTool, "hand": engine.ByHand}
	kinds = map[string]store.ContactKind{"not": store.NotReached, "reached": store.ReachedByPhone, "came": store.CameBy}
)

// told is what staff say of a call or a visit.
type told struct {
	what  store.ContactKind
	pass  engine.Pass     // without a day: the plot was not weeded
	sight engine.Sighting // without a day: nothing was seen
}

// contact stores what came of a call or a visit, and what staff learned of weeding and weeds.
func (d *Desk) contact(r *request) error {
	t := r.readTold()
	if !r.form.ok() {
		v, err := r.contactView()
		if err != nil {
			return err
		}
		return r.again("contact", contactTitle(v), v)
	}
	err := r.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(r.watched.Phone, r.now.Unix())
		if err != nil {
			return err
		}
		l.Via("desk")
		return t.record(tx, l, r)
	})
	if errors.Is(err, store.ErrNoPlot) {
		return errNotFound
	}
	if err != nil {
		return err
	}
	return r.back("/desk/", "Noted for "+strings.ToLower(morningLine{Watched: r.watched}.Name())+": "+t.String()+".")
}

// takeBack takes back that the grower was reached. What was logged of weeds and weeding stays.
func (d *Desk) takeBack(r *request) error {
	id, _ := strconv.ParseInt(r.form.text("contact"), 10, 64) // 0, which no contact has, if it is no number
	name := morningLine{Watched: r.watched}.Name()
	var found bool
	err := r.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(r.watched.Phone, r.now.Unix())
		if err != nil {
			return err
		}
		if found, err = l.TakeBackContact(r.watched.No, id); err != nil || !found {
			return err
		}
		return r.trailOfWatched(tx, "took back that the grower was reached", "")
	})
	switch {
	case errors.Is(err, store.ErrNoPlot):
		return errNotFound
	case err != nil:
		return err
	case !found:
		return r.back("/desk/", "There is nothing of today to take back, so nothing was changed.")
	}
	return r.back("/desk/", "Taken back for "+strings.ToLower(name)+
		". A weeding or a look that was logged with it stays: correct it on the page of the plot.")
}

// trailOfWatched writes an entry of the trail about the plot of the path.
func (r *request) trailOfWatched(tx *store.Tx, what, now string) error {
	w := &r.watched
	e := r.entry(what, morningLine{Watched: *w}.Name(), "", now)
	e.PlaceID, e.GrowerID, e.PlotID = w.PlaceID, w.GrowerID, w.PlotID
	return tx.Trail(e)
}

// record writes what staff told, with an entry of the trail for each thing.
func (t told) record(tx *store.Tx, l *store.Ledger, r *request) error {
	w := &r.watched
	trail := func(what, now string) error { return r.trailOfWatched(tx, what, now) }
	if t.pass.On != 0 {
		if err := errors.Join(l.LogPass(w.No, t.pass), trail("logged a weeding", passWords(t.pass))); err != nil {
			return err
		}
	}
	if t.sight.On != 0 {
		if err := errors.Join(l.See(w.No, t.sight), trail("logged what was seen", sightingWords(t.sight))); err != nil {
			return err
		}
	}
	return errors.Join(l.Contacted(w.No, t.what), trail(t.what.String(), ""))
}

// readTold reads the form, and says what is wrong in it.
func (r *request) readTold() (t told) {
	f := r.form
	if t.what = choice(f, "what", kinds); t.what == store.NotReached {
		return t
	}
	if f.text("weeded") == "yes" {
		t.pass = engine.Pass{On: r.dayTold("on"), With: choice(f, "with", means), Left: choice(f, "left", amounts)}
		if f.ok() {
			r.passFits(r.watched.Season, &t.pass, engine.Pass{})
		}
	}
	t.sight = engine.Sighting{Leaves: choice(f, "leaves", counts), Amount: choice(f, "amount", amounts),
		Water: choice(f, "water", waters)}
	if t.sight != (engine.Sighting{}) {
		t.sight.On = r.dayTold("seen")
	}
	return t
}

// choice returns the value of a choice.
func choice[T any](f *form, name string, values map[string]T) T {
	v, ok := values[f.text(name)]
	if !ok {
		f.wrong(name, "Choose one of these.")
	}
	return v
}

// dayTold reads a day, not before planting and not after today.
func (r *request) dayTold(name string) engine.Day {
	at, err := time.Parse(time.DateOnly, r.form.text(name))
	day := engine.DayOf(at, time.UTC)
	w := &r.watched
	switch {
	case err != nil:
		r.form.wrong(name, "Give the day as in "+w.Today.String()+".")
		return 0
	case day > w.Today:
		r.form.wrong(name, "This day is still to come. Today is "+longDay(w.Today)+".")
	case day < w.Season.Plot.Planted:
		r.form.wrong(name, "The plot was planted on "+longDay(w.Season.Plot.Planted)+
			". If that day is wrong, correct it first.")
	}
	return day
}

// String says in words what staff told.
func (t told) String() string {
	list := []string{t.what.String()}
	if t.pass.On != 0 {
		list = append(list, "weeded "+passWords(t.pass))
	}
	if t.sight.On != 0 {
		list = append(list, "seen "+sightingWords(t.sight))
	}
	return strings.Join(list, ", ")
}
