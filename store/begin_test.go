package store

import (
	"testing"

	"rowbell/engine"
)

func heronOnce() Claimant {
	c := network("heron", "")
	c.AtMostOnce = true
	return c
}

// After a crash, only texts of which a try was begun on a network that is not idempotent end as unknown. The others are
// claimed again, and their charge is given back.
func TestEndClaims(t *testing.T) {
	sqliteOnly(t) // on a server only the leases end claims
	s := open(t)
	idle, begun := enqueue(t, s, text("idle", ana, noon)), enqueue(t, s, text("begun", ben, noon))
	once := heronOnce()
	once.Price, once.Segments = 1, func(string) int { return 1 }
	_, list := handOver(t, s, noon, once)
	fatalIf(t, len(list) != 2, "claimed %+v", list)
	for _, want := range []bool{true, false} { // a text is begun once
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.Begin(list[1], noon+1) }), want, "begun")
	}
	again := enqueue(t, s, text("again", Phone("+447700900077"), noon))
	handOver(t, s, noon, network("tern", ""))
	got := get(t, s, func(tx *Tx) (Interrupted, error) { return tx.EndClaims(noon + 2) })
	equal(t, got, Interrupted{Queued: 1, Again: 1, Unknown: 1}, "ended claims")
	wantStates(t, s, map[int64]State{idle: Queued, begun: Unknown, again: Queued})
	wantNumber(t, s, 1, "SELECT texts FROM spend WHERE scope = 'gateway/heron'")
	equal(t, get(t, s, func(tx *Tx) (int64, error) { return tx.UndecidedCount(noon + 2) }), 1, "undecided")
	wantClaim(t, s, noon+2, network("tern", ""), "idle", "again")
	equal(t, get(t, s, func(tx *Tx) (Interrupted, error) { return tx.EndClaims(noon + 3) }), Interrupted{Again: 2}, "")
}

// On a server a process that starts again ends the claims of its earlier run, and no claims of other processes.
func TestEndClaimsOfThisProcess(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	one := heronOnce()
	one.Max = 1
	mine := enqueue(t, a, text("mine", ana, noon))
	handOver(t, a, noon, one)
	theirs := enqueue(t, a, text("theirs", ben, noon))
	handOver(t, b, noon, one)
	end := func(s *Store) Interrupted {
		return get(t, s, func(tx *Tx) (Interrupted, error) { return tx.EndClaims(noon + 1) })
	}
	equal(t, end(openWith(t, addressOf(a), Options{Process: "c"})), Interrupted{}, "a process that is new")
	wantStates(t, a, map[int64]State{mine: Claimed, theirs: Claimed})
	equal(t, end(openWith(t, addressOf(a), Options{Process: "a"})), Interrupted{Queued: 1}, "started again")
	wantStates(t, a, map[int64]State{mine: Queued, theirs: Claimed})
}

// If the lease of a text ends before its try begins, another worker claims the text. Then the first worker cannot begin
// the try.
func TestBeginAfterTheLease(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	_, first := handOver(t, s, noon, heronOnce())
	_, second := handOver(t, s, noon+60, heronOnce())
	fatalIf(t, len(second) != 1 || second[0].MaybeSent, "claimed after the lease: %+v", second)
	for i, want := range []bool{false, true} {
		m := [][]Message{first, second}[i][0]
		equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.Begin(m, noon+61) }), want, "worker %d begins", i)
	}
	wantClaim(t, s, noon+3000, heronOnce())
	wantState(t, s, id, Unknown)
}

// A text that was never begun expires; one that was begun is unknown.
func TestExpireWhileClaimed(t *testing.T) {
	s := open(t)
	idle, begun := enqueue(t, s, text("idle", ana, noon)), enqueue(t, s, text("begun", ben, noon))
	_, list := handOver(t, s, noon, heronOnce())
	write(t, s, func(tx *Tx) error { return second(tx.Begin(list[1], noon)) })
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(noon+3601, 1000)) })
	wantStates(t, s, map[int64]State{idle: Expired, begun: Unknown})
	equal(t, get(t, s, func(tx *Tx) (int64, error) { return tx.UndecidedCount(noon + 3601) }), 0, "still useful")
}

// An undecided text is sent again only while it is useful and wanted. A receipt decides it.
func TestUndecided(t *testing.T) {
	by := func(fn func(*Ledger) error) func(*testing.T, *Store) {
		return func(t *testing.T, s *Store) { ledger(t, s, ana, noon+5, fn) }
	}
	for name, c := range map[string]struct {
		at   int64
		do   func(*testing.T, *Store)
		want bool
	}{
		"nothing happened": {noon + 10, func(*testing.T, *Store) {}, true},
		"too late":         {noon + 3*day, func(*testing.T, *Store) {}, false},
		"receipt": {noon + 10, func(t *testing.T, s *Store) {
			storeReceipt(t, s, "heron", "r", Delivered, noon+5)
		}, false},
		"stopped":     {noon + 10, by((*Ledger).Stop), false},
		"unlinked":    {noon + 10, by((*Ledger).Unlink), false},
		"erased":      {noon + 10, by((*Ledger).Erase), false},
		"plot closed": {noon + 10, by(closePlot(1)), false},
		"weeded":      {noon + 10, by(logPass(1, engine.Pass{On: day0, With: engine.ByTool, Left: engine.Few})), false},
		"decided": {noon + 10, func(t *testing.T, s *Store) {
			write(t, s, func(tx *Tx) error { return second(tx.LeaveUnknown(1)) })
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := openWithPlot(t, ana)
			m := reminder(text("r", ana, noon), engine.KindOpen, 1, 1)
			m.UsefulUntil = noon + day
			id := enqueue(t, s, m)
			_, list := handOver(t, s, noon, heronOnce())
			write(t, s, func(tx *Tx) error { return second(tx.Begin(list[0], noon)) })
			settle(t, s, noon+1, list[0].LostTrack("no answer"))
			c.do(t, s)
			seen := get(t, s, func(tx *Tx) ([]Message, error) { return tx.Undecided(c.at, c.at, 100) })
			equal(t, len(seen) == 1, c.want, "listed: %+v", seen)
			equal(t, get(t, s, func(tx *Tx) (bool, error) { return tx.SendAgain(id, c.at) }), c.want, "sent again")
			if c.want {
				wantClaim(t, s, c.at, network("tern", ""), "r")
			}
		})
	}
}
