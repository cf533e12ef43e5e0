package desk

import (
	"cmp"
	"errors"
	"fmt"

	"rowbell/menu"
	"rowbell/store"
)

// hows are the ways in which a grower agreed to what staff read out.
var hows = []string{"in person", "on the phone", "in writing"}

func (r *request) newGrowerForm() growerForm {
	v := r.growerForm()
	v.How = r.form.Choice("how", "How the grower agrees", "", hows[0], hows[0], hows[1], hows[1], hows[2], hows[2])
	return v
}

const addTitle = "Add a grower"

func (d *Desk) newGrowerPage(r *request) error {
	if len(r.places) > 0 {
		r.form.Set("place", r.places[0].Name)
	}
	return r.page("grower-add", addTitle, r.newGrowerForm())
}

// addGrower shows the number and the words to agree to in the first step. In the second it stores the grower, with
// these words, if the grower has agreed.
func (d *Desk) addGrower(r *request) error {
	number, language, place := r.typedNumber("number"), r.languageOffered(), r.placeOffered()
	if !contains(hows, r.form.text("how")) {
		r.form.wrong("how", "Choose one of the list.")
	}
	confirmed := number != "" && r.form.text("confirm") == number.E164()
	v := r.newGrowerForm()
	if confirmed && r.form.Get("agreed") == "" {
		r.form.wrong("agreed", "Without the grower's yes nothing may be kept.")
	}
	var id int64
	if number != "" && language != "" && place != "" {
		err := d.tryAdd(r, &v, newGrower{number, language, place, confirmed && r.form.ok()}, &id)
		switch {
		case errors.Is(err, store.ErrTaken):
			r.form.wrong("number", "This number has records already: look for it in the list.")
			confirmed = false
		case errors.Is(err, store.ErrGrowerName):
			r.form.wrong("name", fmt.Sprintf("At most %d letters, in one line.", store.MaxGrowerName))
			confirmed = false
		case err != nil:
			return err
		}
	}
	v.Confirm = confirmed || r.form.ok()
	switch {
	case id != 0:
		return r.to(fmt.Sprintf("/desk/grower/%d/plot", id), "Added. Now the first plot, if you know it.")
	case !r.form.ok():
		return r.again("grower-add", addTitle, v)
	}
	r.form.Set("confirm", number.E164())
	return r.page("grower-add", addTitle, v)
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// newGrower is what the form says of a grower.
type newGrower struct {
	phone           store.Phone
	language, place string
	agreed          bool
}

// tryAdd fills in what the second step shows. If the grower has agreed, it stores the grower and sets id.
func (d *Desk) tryAdd(r *request, v *growerForm, g newGrower, id *int64) (err error) {
	if v.Words, err = d.o.Menu.ConsentWords(g.language); err != nil {
		return err
	}
	welcome, err := d.o.Menu.Welcome(g.language)
	if err != nil {
		return err
	}
	v.Number = readBack(g.phone)
	return r.write(func(tx *store.Tx) error {
		*id = 0
		if v.StopWas, err = r.movable(tx, g.phone); err != nil || !g.agreed {
			return err
		}
		l, err := tx.Ledger(g.phone, r.now.Unix())
		if err != nil {
			return err
		}
		err = l.Consent(g.language, v.Words, channel)
		if err == nil {
			err = cmp.Or(l.SetPlace(g.place), l.SetName(r.form.text("name")), r.welcome(tx, l, welcome))
		}
		e := r.entry("added a grower", "a grower", "", "agreed "+r.form.text("how"))
		e.GrowerID, e.PlaceID = l.GrowerID(), l.PlaceID()
		if err = cmp.Or(err, tx.Trail(e)); err == nil {
			*id = l.GrowerID()
		}
		return err
	})
}

// welcomeUseful is for how many seconds the first text to a grower may be sent.
const welcomeUseful = 24 * 60 * 60

// welcome puts the first text to a grower in the outbox.
func (r *request) welcome(tx *store.Tx, l *store.Ledger, n menu.Note) error {
	now := r.now.Unix()
	_, err := tx.Enqueue(store.Message{Key: fmt.Sprint("welcome/desk/", l.GrowerID()), GrowerID: l.GrowerID(),
		To: l.Phone(), Note: n.Kind, Text: n.Text, CreatedAt: now, DueAt: now, UsefulUntil: now + welcomeUseful})
	return err
}
