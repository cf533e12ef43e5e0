package gateway

import (
	"cmp"

	"rowbell/engine"
	"rowbell/menu"
	"rowbell/store"
)

// enqueueForPerson writes a text to another person of the grower's circle. In the person's quiet hours it waits until
// the morning. The text belongs to the person's records, so that a STOP or an erasure withdraws it. Nothing is written
// if the person wants no texts.
//
// The prompt of a text that waits is not stored: until then a digit from the person would answer a question that the
// person has not read. The menu composes texts for the night without digits, see store.Ledger.QuietFrom.
func (g *Gateway) enqueueForPerson(tx *store.Tx, c *call, book *store.Ledger, key string, n menu.Note) error {
	person, err := book.Person(n.Person)
	if err != nil || person.Phone == "" || person.Stopped {
		return err
	}
	theirs, err := tx.Ledger(store.Phone(person.Phone), c.now.Unix())
	if err != nil || !theirs.Known() || theirs.Stopped() {
		return err
	}
	at, zone := c.now, theirs.Zone()
	today := engine.DayOf(at, zone)
	morning := today.At(theirs.MorningHour(), zone)
	if !at.Before(today.At(g.o.Health.QuietHour, zone)) {
		morning = (today + 1).At(theirs.MorningHour(), zone)
	}
	if at.Before(morning) {
		at = morning
	}
	until := at.Add(answerUseful).Unix()
	end := (n.PromptEnd+1).At(0, zone).Unix() - 1 // the last second of the prompt's last day
	if n.PromptEnd != 0 {
		until = min(until, max(end, at.Unix()))
	}
	fresh, err := tx.Enqueue(store.Message{
		Key: key, GrowerID: theirs.GrowerID(), To: theirs.Phone(), Note: cmp.Or(n.Kind, "circle"), Text: n.Text,
		CreatedAt: c.now.Unix(), DueAt: at.Unix(), UsefulUntil: until,
	})
	if err != nil || !fresh || n.Prompt == nil || at.After(c.now) {
		return err
	}
	return tx.SavePrompt(store.Prompt{Phone: theirs.Phone(), Body: n.Prompt, AskedAt: at.Unix(), Until: end})
}
