package store

import (
	"errors"
	"fmt"
	"testing"

	"rowbell/engine"
)

// Texts in every state survive a migration down to schema 3 and up again. Schema 3 does not store that a grower is
// unreachable, so the bell (the reminder job) looks at the plots of unreachable growers again.
func TestTextsGoDownAndUpAgain(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	ends := []func(Message) Settlement{
		func(m Message) Settlement { return m.Took("n") },
		func(m Message) Settlement { return m.Again(noon+60, "busy") },
		func(m Message) Settlement { return m.Unsure(noon+60, "cut off") },
		func(m Message) Settlement { return m.Refuse("no") },
		func(m Message) Settlement { return m.LostTrack("cut off") },
		nil, // the text stays claimed
	}
	for i := range ends {
		enqueue(t, s, text(fmt.Sprint("k", i), numbered(i), noon))
	}
	c := network("heron", "")
	c.Max, c.Price, c.Number = len(ends), 1000, Limits{TextsADay: 5}
	_, list := handOver(t, s, noon, c)
	for i, f := range ends {
		if f != nil {
			settle(t, s, noon, f(list[i]))
		}
	}
	c.All = Limits{TextsADay: 1}
	handOver(t, s, noon, c) // the limit of one text defers the reminder
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.unreachable(ben, noon), tx.HoldSending("a test", noon))
	})
	// counts returns the numbers of states, of waiting texts, and of plots at which the bell (the reminder job) will
	// look.
	counts := func() [3]int64 {
		t.Helper()
		intact(t, s)
		return [3]int64{number(t, s, "SELECT count(DISTINCT state) FROM message"),
			number(t, s, "SELECT count(*) FROM message WHERE claim_at IS NOT NULL"),
			number(t, s, "SELECT count(*) FROM plot WHERE look_at IS NOT NULL")}
	}
	wantNumber(t, s, 2, `SELECT (SELECT count(*) FROM message WHERE held = 1)
		+ (SELECT count(*) FROM message WHERE doubt = 1 AND claim_at IS NOT NULL)`)
	want := counts()
	looks := want[2]
	p := provider(t, s)
	for _, to := range []int64{4, 3} {
		ok(t, second(p.DownTo(ctx, to)))
		want[2] = looks + 4 - to
		equal(t, counts(), want, "counts at schema %d", to)
	}
	ok(t, second(p.Up(ctx)))
	equal(t, counts(), want, "counts up again")
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE urgency = 1")
	wantNumber(t, s, 2, "SELECT count(*) FROM consent WHERE what = 'given'")
}
