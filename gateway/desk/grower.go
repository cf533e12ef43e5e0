package desk

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/store"
)

// ledger opens the records of the grower of the path for a change. Between the page and the change the grower may have
// gone to a place that is not in scope.
func (r *request) ledger(tx *store.Tx) (*store.Ledger, error) {
	l, err := tx.LedgerOf(r.grower.ID, r.now.Unix())
	switch {
	case errors.Is(err, store.ErrUnknown):
		return nil, errNotFound
	case err != nil:
		return nil, err
	case !r.scope.Has(l.PlaceID()):
		return nil, errNotFound
	}
	l.Via(channel)
	return l, nil
}

// channel is how the records name what staff stored.
const channel = "desk"

// about fills in whom an entry of the trail is about.
func (r *request) about(e store.TrailEntry) store.TrailEntry {
	e.GrowerID, e.PlaceID, e.PlotID = r.grower.ID, r.grower.PlaceID, r.plot.ID
	return e
}

func (r *request) growerPath() string { return fmt.Sprint("/desk/grower/", r.grower.ID) }

type growerView struct {
	Grower   growerRow
	Called   string
	Plots    []plotLine
	Consents []store.PersonConsent
	Language string
	Trail    []store.TrailEntry
	Here     string
}

// plotLine is a plot of a grower, which may be closed.
type plotLine struct {
	store.PlotHead
	Name  string
	Words planWords
}

func (d *Desk) growerPage(r *request) error {
	v := growerView{Grower: r.growerRow(r.grower), Called: r.calledBy(r.grower),
		Language: r.language(r.grower.Language), Here: r.growerPath()}
	if err := r.view(func(tx *store.Tx) error {
		plots, err := tx.PlotsOf(r.grower.ID)
		if err != nil {
			return err
		}
		for _, p := range plots {
			v.Plots = append(v.Plots, plotLine{p, plotName(p.No, p.Plot), r.planOf(p)})
		}
		if !r.may(call) {
			return nil
		}
		v.Consents, err = tx.Consents(r.grower.ID)
		if err == nil {
			v.Trail, err = tx.TrailEntries(r.scope, store.TrailFilter{GrowerID: r.grower.ID}, pageSize)
		}
		return err
	}); err != nil {
		return err
	}
	return r.page("grower", v.Called, v)
}

// planOf returns the plan of a plot in the list of a grower's plots in words.
func (r *request) planOf(p store.PlotHead) planWords {
	if p.Closed != 0 {
		return planWords{engine.Closed, "closed on " + longDay(p.Closed)}
	}
	for _, open := range r.grower.Plots {
		if open.ID == p.ID {
			return wordsOf(open.Season, r.grower.Today)
		}
	}
	return planWords{}
}

// language returns the name of a language.
func (r *request) language(tag string) string {
	for _, l := range r.d.o.Menu.LanguageNames() {
		if l.Tag == tag {
			return l.Name
		}
	}
	return tag
}

func (r *request) languageField() field {
	var pairs []string
	for _, l := range r.d.o.Menu.LanguageNames() {
		pairs = append(pairs, l.Tag, l.Name)
	}
	return r.form.Choice("language", "Language", "Of screens and texts.", pairs...)
}

func (r *request) placeField() field {
	var pairs []string
	for _, p := range r.places {
		pairs = append(pairs, p.Name, p.Name)
	}
	return r.form.Choice("place", "Place", "Its climate and weather set the days.", pairs...)
}

// growerForm has the fields with lists of the forms about a grower.
type growerForm struct {
	Language, Place, How field
	Here, Called         string
	EraseLabel           string
	Confirm              bool   // the second step, which shows what follows
	Number               string // to be read back
	Words                string // that the grower agrees to
	StopWas              bool   // the number wants no texts
}

func (r *request) growerForm() growerForm {
	v := growerForm{Language: r.languageField(), Place: r.placeField(), Here: r.growerPath(),
		Called: r.calledBy(r.grower), EraseLabel: "The last four digits of the number"}
	if r.grower.Phone == "" {
		v.EraseLabel = fmt.Sprint("The grower has no number: type ", r.grower.ID)
	}
	return v
}

func (d *Desk) changeGrowerPage(r *request) error {
	r.form = filled("name", r.grower.Name, "note", r.grower.Note, "language", r.grower.Language,
		"place", r.grower.PlaceName)
	return r.page("grower-change", "Correct "+r.calledBy(r.grower), r.growerForm())
}

// languageOffered marks a mistake if the language of the form is not offered.
func (r *request) languageOffered() string {
	for _, l := range r.d.o.Menu.LanguageNames() {
		if l.Tag == r.form.text("language") {
			return l.Tag
		}
	}
	r.form.wrong("language", "Choose one of the list.")
	return ""
}

// placeOffered marks a mistake if the place of the form is not one of the reader's.
func (r *request) placeOffered() string {
	for _, p := range r.places {
		if p.Name == r.form.text("place") {
			return p.Name
		}
	}
	r.form.wrong("place", "Choose one of the list.")
	return ""
}

func (d *Desk) changeGrower(r *request) error {
	language, place := r.languageOffered(), r.placeOffered()
	if r.form.ok() {
		err := r.write(func(tx *store.Tx) error { return r.storeGrower(tx, language, place) })
		switch {
		case errors.Is(err, store.ErrGrowerName):
			r.form.wrong("name", fmt.Sprintf("At most %d letters, in one line.", store.MaxGrowerName))
		case errors.Is(err, store.ErrGrowerNote):
			r.form.wrong("note", fmt.Sprintf("At most %d characters.", store.MaxGrowerNote))
		case err != nil:
			return err
		}
	}
	if !r.form.ok() {
		return r.again("grower-change", "Correct "+r.calledBy(r.grower), r.growerForm())
	}
	return r.to(r.growerPath(), "Stored.")
}

// storeGrower stores what the form changes, each with its entry in the trail.
func (r *request) storeGrower(tx *store.Tx, language, place string) error {
	l, err := r.ledger(tx)
	if err != nil {
		return err
	}
	changes := []struct {
		what, was, now string
		do             func(string) error
	}{
		{store.TrailName, r.grower.Name, r.form.text("name"), l.SetName},
		{store.TrailNote, r.grower.Note, r.form.text("note"), l.SetNote},
		{"changed the language", r.grower.Language, language, l.SetLanguage},
		{"changed the place", r.grower.PlaceName, place, l.SetPlace},
	}
	for _, c := range changes {
		if c.was == c.now {
			continue
		}
		if err := c.do(c.now); err != nil {
			return err
		}
		e := r.about(r.entry(c.what, "a grower", c.was, c.now))
		e.PlaceID = l.PlaceID()
		if err := tx.Trail(e); err != nil {
			return err
		}
	}
	return nil
}

// typedNumber reads a phone number in international form.
func (r *request) typedNumber(name string) store.Phone {
	p, err := gateway.ParsePhone(r.form.text(name), "")
	if err != nil {
		r.form.wrong(name, "Write the number with + and the code of the country, such as +447700900123.")
	}
	return p
}

// readBack returns a number in groups of three digits from the end, to be read aloud.
func readBack(p store.Phone) string {
	digits := strings.TrimPrefix(p.E164(), "+")
	var groups []string
	for len(digits) > 4 {
		groups = append([]string{digits[len(digits)-3:]}, groups...)
		digits = digits[:len(digits)-3]
	}
	return "+" + strings.Join(append([]string{digits}, groups...), " ")
}

func (d *Desk) moveGrowerPage(r *request) error {
	return r.page("grower-move", "A new number for "+r.calledBy(r.grower), r.growerForm())
}

// moveGrower shows the number in the first step, and moves the records in the second.
func (d *Desk) moveGrower(r *request) error {
	to, title := r.typedNumber("number"), "A new number for "+r.calledBy(r.grower)
	v := r.growerForm()
	if r.form.ok() && to == r.grower.Phone {
		r.form.wrong("number", "That is the present number.")
	}
	confirmed := to != "" && r.form.text("confirm") == to.E164()
	stopped := false
	if r.form.ok() {
		err := r.write(func(tx *store.Tx) (err error) {
			if !confirmed {
				v.StopWas, err = r.movable(tx, to)
				return err
			}
			if _, err = r.ledger(tx); err != nil {
				return err
			}
			if stopped, err = tx.Move(r.grower.ID, to, r.now.Unix()); err != nil {
				return err
			}
			return tx.Trail(r.about(r.entry("moved to a new number", "a grower", masked(r.grower.Phone), masked(to))))
		})
		switch {
		case errors.Is(err, store.ErrTaken):
			r.form.wrong("number", "This number has records already. Two growers cannot have one number.")
		case err != nil:
			return err
		}
	}
	switch {
	case !r.form.ok():
		return r.again("grower-move", title, v)
	case !confirmed:
		v.Confirm, v.Number = true, readBack(to)
		r.form.Set("confirm", to.E164())
		return r.page("grower-move", title, v)
	case stopped:
		return r.to(r.growerPath(), "Moved. No texts are sent: STOP was said on the old number or on the new one.")
	}
	return r.to(r.growerPath(), "Moved to the new number.")
}

// movable returns store.ErrTaken if a number has records, and whether it has said STOP.
func (r *request) movable(tx *store.Tx, to store.Phone) (stopped bool, err error) {
	l, err := tx.Ledger(to, r.now.Unix())
	switch {
	case err != nil:
		return false, err
	case l.Known():
		return false, store.ErrTaken
	}
	return l.Stopped(), nil
}

// masked returns a number for the trail, which has no whole numbers.
func masked(p store.Phone) string {
	if p == "" {
		return "no number"
	}
	return p.String()
}

func (d *Desk) eraseGrowerPage(r *request) error {
	return r.page("grower-erase", "Erase "+r.calledBy(r.grower), r.growerForm())
}

// eraseWord is what staff type to erase a grower: the last four digits of the number, or the id without a number.
func (r *request) eraseWord() string {
	if r.grower.Phone == "" {
		return fmt.Sprint(r.grower.ID)
	}
	number := r.grower.Phone.E164()
	return number[max(0, len(number)-4):]
}

func (d *Desk) eraseGrower(r *request) error {
	if r.form.text("digits") != r.eraseWord() {
		r.form.wrong("digits", "These are not the digits, so nothing was erased.")
		return r.again("grower-erase", "Erase "+r.calledBy(r.grower), r.growerForm())
	}
	if err := r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		if err != nil {
			return err
		}
		if r.grower.Phone == "" {
			err = tx.EraseUnlinked(r.grower.ID, r.now.Unix())
		} else {
			err = l.Erase()
		}
		// The entry is about no grower: it stays, and says nothing of who it was.
		e := r.entry("erased a grower", fmt.Sprint("grower ", r.grower.ID), "", "")
		e.PlaceID = r.grower.PlaceID
		return cmp.Or(err, tx.Trail(e))
	}); err != nil {
		return err
	}
	return r.to("/desk/growers", "Erased. The number gets no texts until somebody joins with it again.")
}

// setTexts stops texts, or starts them again, because the grower asked for it.
func (d *Desk) setTexts(r *request) error {
	stop := r.form.text("texts") == "stop"
	if !stop && r.form.text("texts") != "start" {
		return r.notUnderstood()
	}
	what, note := "started texts", "Texts are sent again."
	if stop {
		what, note = "stopped texts", "No texts are sent any more."
	}
	if err := r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		switch {
		case err != nil:
			return err
		case stop:
			err = l.Stop()
		default:
			err = l.Start()
		}
		return cmp.Or(err, tx.Trail(r.about(r.entry(what, "a grower", "", "at the grower's word"))))
	}); err != nil {
		return err
	}
	return r.to(r.growerPath(), note)
}

// setNumber stores whether a silent number is still the grower's.
func (d *Desk) setNumber(r *request) error {
	theirs := r.form.text("theirs") == "yes"
	if !theirs && r.form.text("theirs") != "no" {
		return r.notUnderstood()
	}
	what, note := "took the number away", "The records have no number now. Give them the new one when you know it."
	if theirs {
		what, note = "confirmed the number", "The number counts as heard of today."
	}
	if err := r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		switch {
		case err != nil:
			return err
		case theirs:
			err = l.Confirm()
		case r.grower.Phone == "":
			return nil
		default:
			err = l.Unlink()
		}
		return cmp.Or(err, tx.Trail(r.about(r.entry(what, "a grower", masked(r.grower.Phone), ""))))
	}); err != nil {
		return err
	}
	return r.to(r.growerPath(), note)
}
