package store

import (
	"slices"
	"testing"
	"time"

	"rowbell/engine"
)

// Answers are claimed before reminders. Within each group, the text whose useful time ends first is claimed first. The
// route prefix does not change this order.
func TestClaimByUrgency(t *testing.T) {
	s := openNew(t, Options{RoutePrefixes: []string{tens}})
	for i, m := range []struct {
		key         string
		kind        engine.Kind // kind of reminder; 0 for an answer
		phone       Phone
		due, useful int64 // when the text is due and its useful time ends, in seconds after noon
	}{
		{"reminder for a week", engine.KindOpen, "+447700900001", 0, 7 * day},
		{"reminder for a day", engine.KindLastDays, "+447700900011", 0, day},
		{"answer", 0, "+447700900002", 0, day},
		{"answer, later", 0, "+447700900003", 5, day},
		{"reminder for an hour", engine.KindNudge, "+447700900004", 4, 3600},
		{"short answer", 0, "+447700900012", 0, 3600},
		{"stale answer", 0, "+447700900005", 0, 3},
		{"last second", 0, "+447700900006", 4, 4},
	} {
		msg := text(m.key, m.phone, noon-int64(i))
		if m.kind != 0 {
			msg = reminder(msg, m.kind, 0)
		}
		msg.DueAt, msg.UsefulUntil = noon+m.due, noon+m.useful
		enqueue(t, s, msg)
	}
	c := network("heron", tens, "")
	c.Max = 2
	for _, want := range [][]string{{"last second", "short answer"}, {"answer", "reminder for an hour"},
		{"reminder for a day", "reminder for a week"}, nil} {
		got, list := handOver(t, s, noon+4, c)
		errorIf(t, !slices.Equal(got, want), "claimed %q, want %q", got, want)
		for _, m := range list {
			errorIf(t, m.State != Claimed || m.Tries != 1 || m.Text != "hello" ||
				(m.Note == "reply") == (m.Reminder != 0), "claimed %+v", m)
		}
	}
}

// Texts to one phone are sent in order, also if the first text must be tried again.
func TestTextsToOnePhoneKeepTheirOrder(t *testing.T) {
	s := open(t)
	heron, tern := network("heron", ""), network("tern", "")
	heron.Max = 1
	enqueue(t, s, text("1", ana, noon))
	enqueue(t, s, text("2", ana, noon+1))
	enqueue(t, s, text("other", ben, noon+2))
	_, first := handOver(t, s, noon+2, heron)
	wantClaim(t, s, noon+2, tern, "other")
	settle(t, s, noon+2, first[0].Again(noon+60, "busy"))
	wantClaim(t, s, noon+59, tern)
	wantClaim(t, s, noon+60, tern, "1", "2")
}

// A text with an uncertain outcome is tried again only by the same network. It does not delay texts to the same
// phone on other networks.
func TestUncertainTextIsBoundToItsNetwork(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("1", ana, noon))
	enqueue(t, s, text("2", ana, noon+1))
	heron, tern := network("heron", ""), network("tern", "")
	heron.Max = 1
	_, list := handOver(t, s, noon, heron)
	settle(t, s, noon+1, list[0].Unsure(noon+30, "no answer in time"))
	wantClaim(t, s, noon+20, heron)
	got, others := handOver(t, s, noon+20, tern)
	fatalIf(t, !slices.Equal(got, []string{"2"}), "the other network takes %q", got)
	settle(t, s, noon+21, others[0].Took(""))
	wantClaim(t, s, noon+100, tern)
	// The network claims the text even if it no longer serves the text's route prefix.
	got, list = handOver(t, s, noon+100, network("heron"))
	fatalIf(t, !slices.Equal(got, []string{"1"}) || !list[0].MaybeSent, "its own network claims %+v", list)
	// The network refused the second try, but it may have sent the text in the first try.
	settle(t, s, noon+101, list[0].Refuse("no"))
	wantState(t, s, id, Unknown)
}

// If the process that sends a text disappears, the text is claimed again when its lease ends, not before. A late
// result of the first try then changes the text only if the network took it.
func TestLease(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	first := claim(t, s, noon)
	fatalIf(t, len(first) != 1 || len(claim(t, s, noon+59)) != 0, "claimed %v", first)
	second := claim(t, s, noon+60)
	fatalIf(t, len(second) != 1 || second[0].Tries != 2 || second[0].Key != first[0].Key,
		"claimed after the lease: %+v", second)
	for _, late := range []Settlement{first[0].Again(noon+61, "busy"), first[0].Refuse("no"), first[0].Expire(""),
		first[0].LostTrack("")} {
		settle(t, s, noon+61, late)
		wantState(t, s, id, Claimed)
	}
	settle(t, s, noon+61, first[0].Took("net-1"))
	wantState(t, s, id, Accepted)
	settle(t, s, noon+62, second[0].Again(noon+90, "busy"))
	wantState(t, s, id, Accepted)
}

// A lease is stored in whole seconds, rounded up, and Claim returns when the lease ends.
func TestLeaseIsRoundedUp(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	write(t, s, func(tx *Tx) error {
		c := local(1)
		c.Lease = 1500 * time.Millisecond
		claims, err := tx.Claim(noon, c)
		errorIf(t, len(claims.Texts) != 1 || claims.Until != noon+2, "claimed %+v", claims)
		return err
	})
	for i, want := range []int{0, 1} {
		got := claim(t, s, noon+1+int64(i))
		errorIf(t, len(got) != want, "after %d s another claims %d", 1+i, len(got))
	}
}

// A claim is valid until the text is withdrawn, is claimed again, or passes its useful time.
func TestStillClaimed(t *testing.T) {
	for name, c := range map[string]struct {
		at   int64
		do   func(*Ledger) error // runs one second after noon
		want bool
	}{
		"nothing happened":   {noon + 1, nil, true},
		"stopped":            {noon + 1, (*Ledger).Stop, false},
		"erased":             {noon + 1, (*Ledger).Erase, false},
		"plot changed":       {noon + 1, closePlot(1), false},
		"other plot changed": {noon + 1, closePlot(2), true},
		"lease is over, claimed again": {noon + 61, func(l *Ledger) error {
			return second(l.tx.Claim(noon+60, local(1)))
		}, false},
		"last second": {noon + 3600, nil, true},
		"not useful":  {noon + 3601, nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithTwoPlots(t)
			ring(t, s, ana, []int{1}, engine.KindOpen, noon)
			m := claim(t, s, noon)[0]
			if c.do != nil {
				ledger(t, s, ana, noon+1, c.do)
			}
			equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.StillClaimed(m, c.at) }), c.want, "still claimed")
		})
	}
}

func TestOperatorHold(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	hold := func(why string, at int64) { write(t, s, func(tx *Tx) error { return tx.HoldSending(why, at) }) }
	hold("a wrong text", noon)
	hold("a wrong text is out", noon+5)
	claims := get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(noon+9, local(1)) })
	errorIf(t, !claims.OperatorHold || len(claims.Texts) > 0, "claimed during the hold: %+v", claims)
	h, on := lookUp(t, s, (*Tx).SendingHeld)
	errorIf(t, !on || h != SendingHold{"a wrong text is out", noon}, "on %v: %+v", on, h)
	for _, want := range []bool{true, false} {
		equal(t, get(t, s, (*Tx).ReleaseSending), want, "the hold was on")
	}
	wantClaim(t, s, noon+10, local(1), "k")
	late := text("late", ben, noon)
	lateID := enqueue(t, s, late)
	hold("again", noon)
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(late.UsefulUntil+1, 1000)) })
	wantStates(t, s, map[int64]State{id: Unknown, lateID: Expired})
}
