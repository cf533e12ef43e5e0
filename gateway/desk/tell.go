package desk

import (
	"cmp"
	"fmt"
	"time"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/store"
)

// tellUseful is for how long a text about what staff changed may be sent, as after a dialogue by phone.
const tellUseful = 24 * time.Hour

// tell writes texts to other persons of the circle of a grower. In the quiet hours of a person they wait until the
// morning. A text belongs to the person's records, so that a STOP or an erasure withdraws it. Nothing is written to a
// person who wants no texts. key makes the key of a text that has no Once: it is unique for what was changed.
func (r *request) tell(tx *store.Tx, book *store.Ledger, key string, notes []menu.Note) error {
	for i, n := range notes {
		person, err := book.Person(n.Person)
		if err != nil {
			return err
		}
		if person.Phone == "" || person.Stopped {
			continue
		}
		theirs, err := tx.Ledger(store.Phone(person.Phone), r.now.Unix())
		if err != nil {
			return err
		}
		if !theirs.Known() || theirs.Stopped() {
			continue
		}
		at := r.notAtNight(theirs)
		once := fmt.Sprintf("person:%d:%s", n.Person, n.Once)
		if n.Once == "" {
			once = fmt.Sprintf("desk/%s/%d/%d", key, r.now.UnixNano(), i)
		}
		if _, err := tx.Enqueue(store.Message{
			Key: once, GrowerID: theirs.GrowerID(), To: theirs.Phone(), Note: cmp.Or(n.Kind, "circle"), Text: n.Text,
			CreatedAt: r.now.Unix(), DueAt: at.Unix(), UsefulUntil: at.Add(tellUseful).Unix(),
		}); err != nil {
			return err
		}
	}
	return nil
}

// notAtNight returns now, or in the quiet hours of a grower the next morning.
func (r *request) notAtNight(l *store.Ledger) time.Time {
	zone := l.Zone()
	today := engine.DayOf(r.now, zone)
	morning := today.At(l.MorningHour(), zone)
	if !r.now.Before(today.At(r.d.o.QuietHour, zone)) {
		morning = (today + 1).At(l.MorningHour(), zone)
	}
	if r.now.Before(morning) {
		return morning
	}
	return r.now
}
