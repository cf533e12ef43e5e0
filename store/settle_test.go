package store

import (
	"fmt"
	"testing"
)

func TestSettle(t *testing.T) {
	for _, c := range []struct {
		name   string
		settle func(Message) Settlement
		want   State
		claims int // how many texts may be claimed an hour later
		row    string
	}{
		{"took", func(m Message) Settlement { return m.Took("net-1") }, Accepted, 0,
			"network_id = 'net-1' AND accepted_at = $1"},
		{"took, no id", func(m Message) Settlement { return m.Took("") }, Accepted, 0,
			"network_id IS NULL AND accepted_at = $1"},
		{"again", func(m Message) Settlement { return m.Again(noon+60, "busy") }, Queued, 1,
			"reason = 'busy' AND $1 > 0"},
		{"again at the last useful second", func(m Message) Settlement { return m.Again(m.UsefulUntil, "busy") },
			Queued, 1, "reason = 'busy' AND $1 > 0"},
		{"again too late", func(m Message) Settlement { return m.Again(m.UsefulUntil+1, "busy") }, Expired, 0,
			"reason = 'busy' AND ended_at = $1"},
		{"refuse", func(m Message) Settlement { return m.Refuse("bad number") }, Refused, 0,
			"reason = 'bad number' AND ended_at = $1"},
		{"expire", func(m Message) Settlement { return m.Expire("late") }, Expired, 0,
			"reason = 'late' AND ended_at = $1"},
		{"lost track", func(m Message) Settlement { return m.LostTrack("cut off") }, Unknown, 0,
			"reason = 'cut off' AND ended_at = $1 AND network_id IS NULL"},
		{"lost track, with an id", func(m Message) Settlement { return m.LostTrack("cold").Named("net-1") }, Unknown, 0,
			"network_id = 'net-1' AND accepted_at IS NULL AND ended_at = $1"},
		{"unsure, with an id", func(m Message) Settlement { return m.Unsure(noon+60, "cold").Named("net-1") }, Queued,
			1, "network_id = 'net-1' AND accepted_at IS NULL AND $1 > 0"},
		{"surely not taken, with an id", func(m Message) Settlement { return m.Again(noon+60, "busy").Named("net-1") },
			Queued, 1, "network_id IS NULL AND $1 > 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			list := claim(t, s, noon)
			settle(t, s, noon+5, c.settle(list[0]))
			wantState(t, s, id, c.want)
			errorIf(t, number(t, s, "SELECT count(*) FROM message WHERE "+c.row, noon+5) != 1,
				"the row is not so: %s", c.row)
			got := claim(t, s, noon+3600)
			errorIf(t, len(got) != c.claims, "%d claimed later, want %d", len(got), c.claims)
		})
	}
	s := open(t)
	errorIf(t, s.InTx(ctx, func(tx *Tx) error { return tx.Settle(noon, Settlement{}) }) == nil,
		"the zero Settlement was taken")
}

// A claimed text that was not tried waits as before. A receipt for the text is ignored.
func TestBack(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	_, list := handOver(t, s, noon, network("heron", ""))
	settle(t, s, noon, list[0].Back(noon, "stopping"))
	known := storeReceipt(t, s, "heron", "k", Refused, noon)
	errorIf(t, known, "a receipt for a text that was never handed over was taken")
	_, list = handOver(t, s, noon, network("tern", ""))
	errorIf(t, len(list) != 1 || list[0].Tries != 1 || list[0].Gateway != "tern", "claimed %+v", list)
}

// A claimed text that was not tried and has to wait is ahead of the later texts to its phone, as a text that was tried.
func TestLater(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	enqueue(t, s, text("l", ana, noon))
	_, list := handOver(t, s, noon, network("heron", ""))
	settle(t, s, noon, list[0].Later(noon+60, "the records cannot be used"), list[1].Back(noon, "not tried"))
	known := storeReceipt(t, s, "heron", "k", Refused, noon)
	errorIf(t, known, "a receipt for a text that was never handed over was taken")
	wantClaim(t, s, noon+59, network("tern", ""))
	wantClaim(t, s, noon+60, network("tern", ""), "k", "l")
}

var unsureEnds = []struct {
	name string
	once bool
	do   func(*testing.T, *Store, Message)
	want State
}{
	{"sender gone, network sends once", false, func(t *testing.T, s *Store, m Message) {
		_, list := handOver(t, s, noon+60, network("local", ""))
		errorIf(t, len(list) != 1 || !list[0].MaybeSent || list[0].Tries != 2, "claimed anew: %+v", list)
	}, Claimed},
	{"sender gone, other network", false, func(t *testing.T, s *Store, m Message) {
		wantClaim(t, s, noon+60, network("tern", ""))
	}, Queued},
	{"sender gone, network sends twice", true, func(t *testing.T, s *Store, m Message) {
		write(t, s, func(tx *Tx) error { return second(tx.Begin(m, noon)) })
		wantClaim(t, s, noon+60, network("local", ""))
	}, Unknown},
	{"sender gone before its try", true, func(t *testing.T, s *Store, m Message) {
		wantClaim(t, s, noon+60, network("tern", ""), "k")
	}, Claimed},
	{"network sends twice from now on", false, func(t *testing.T, s *Store, m Message) {
		settle(t, s, noon, m.Unsure(noon+10, "no answer in time"))
		c := network("local", "")
		c.AtMostOnce = true
		wantClaim(t, s, noon+60, c)
	}, Unknown},
}

// TestUncertainTextEnds checks the end state of a text that a network may have taken in an earlier try.
func TestUncertainTextEnds(t *testing.T) {
	for _, c := range unsureEnds {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			claimant := local(1)
			claimant.AtMostOnce = c.once
			_, list := handOver(t, s, noon, claimant)
			c.do(t, s, list[0])
			wantState(t, s, id, c.want)
		})
	}
}

// A receipt settles a text of which nobody knew whether the network took it. It may name the text by the id that stood
// in the network's answer.
func TestReceiptSettlesUnknown(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	settle(t, s, noon+5, claim(t, s, noon)[0].LostTrack("cold").Named("net-1"))
	wantState(t, s, id, Unknown)
	errorIf(t, !storeReceipt(t, s, "local", "net-1", Delivered, noon+60), "no text has this id")
	wantState(t, s, id, Delivered)
}

// After an outage many texts are stale at once. They end a few at a time, the oldest first, and none is forgotten.
func TestStaleTextsEndAFewAtATime(t *testing.T) {
	s := open(t)
	const texts, limit = 23, 5
	for i := range texts {
		m := text(fmt.Sprintf("%02d", texts-i), examplePhone(100+i), noon)
		m.UsefulUntil = noon + int64(texts-i)
		enqueue(t, s, m)
	}
	for left := texts; ; {
		n := get(t, s, func(tx *Tx) (int, error) { return tx.ExpireStale(noon+100, limit) })
		fatalIf(t, n != min(limit, left), "%d texts expired of %d", n, left)
		left -= n
		wantNumber(t, s, int64(left), "SELECT count(*) FROM message WHERE state = 'queued' AND useful_until > $1",
			noon+int64(texts-left))
		if n < limit {
			break
		}
	}
	wantRows(t, s, map[string]int64{"message WHERE state = 'expired'": texts})
}
