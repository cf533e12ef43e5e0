package store

import (
	"errors"
	"fmt"
	"testing"
)

// A receipt may name a text by the network's id and come before the result of the try, which tells this id, is stored.
// The receipt must then be applied as soon as the result is stored.
func TestReceiptBeforeSettle(t *testing.T) {
	type early struct {
		gateway string
		state   State
		at      int64
	}
	for _, c := range []struct {
		name     string
		receipts []early
		more     int // number of receipts for other texts that come after these receipts
		want     State
	}{
		{"none", nil, 0, Accepted},
		{"delivered", []early{{"heron", Delivered, noon + 1}}, 0, Delivered},
		{"failed", []early{{"heron", Refused, noon + 1}}, 0, Refused},
		{"delivered last", []early{{"heron", Expired, noon + 1}, {"heron", Delivered, noon + 1}}, 0, Delivered},
		{"delivered first", []early{{"heron", Delivered, noon + 1}, {"heron", Expired, noon + 1}}, 0, Delivered},
		{"failed first", []early{{"heron", Refused, noon + 1}, {"heron", Accepted, noon + 1}}, 0, Refused},
		{"failed last", []early{{"heron", Accepted, noon + 1}, {"heron", Refused, noon + 1}}, 0, Refused},
		{"another network's", []early{{"tern", Refused, noon + 1}}, 0, Accepted},
		{"of a former text with this id", []early{{"heron", Refused, noon - day}}, 0, Accepted},
		{"too many since", []early{{"heron", Refused, noon + 1}}, maxEarly, Accepted},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			_, list := handOver(t, s, noon, network("heron", ""))
			for _, r := range c.receipts {
				errorIf(t, storeReceipt(t, s, r.gateway, "n1", r.state, r.at), "the text of an early receipt is known")
			}
			write(t, s, func(tx *Tx) (err error) {
				for i := range c.more {
					err = errors.Join(err, second(tx.Receipt("heron", fmt.Sprint("x", i), Refused, noon+2, "")))
				}
				return err
			})
			if c.more > 0 {
				wantNumber(t, s, maxEarly, "SELECT count(*) FROM early_receipt")
			}
			settle(t, s, noon+2, list[0].Took("n1"))
			wantState(t, s, id, c.want)
			wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE network_id = 'n1' AND accepted_at IS NOT NULL")
		})
	}
}

// An early receipt is in the records, so that another process finds it, also after a crash. Upkeep removes it after an
// hour.
func TestEarlyReceiptIsRecorded(t *testing.T) {
	s := open(t)
	id, late := enqueue(t, s, text("k", ana, noon)), enqueue(t, s, text("late", ben, noon))
	_, list := handOver(t, s, noon, network("heron", ""))
	storeReceipt(t, s, "heron", "n1", Delivered, noon+1)
	s = openAgain(t, s, Options{Process: "other"})
	settle(t, s, noon+2, list[0].Took("n1"))
	wantState(t, s, id, Delivered)
	wantNumber(t, s, 0, "SELECT count(*) FROM early_receipt")

	storeReceipt(t, s, "heron", "n2", Delivered, noon+1)
	equal(t, prune(t, s, noon+1+keepEarly).Early, 0, "pruned too early")
	equal(t, prune(t, s, noon+2+keepEarly).Early, 1, "pruned")
	settle(t, s, noon+2, list[1].Took("n2"))
	wantState(t, s, late, Accepted)
}

// A network answers a try so that it stays open whether it took the text, with its id of the text. A receipt about that
// id came before. So nobody need decide whether the text is sent again.
func TestReceiptBeforeAnUnsureResult(t *testing.T) {
	for name, result := range map[string]func(Message) Settlement{
		"waits":   func(m Message) Settlement { return m.Unsure(noon+60, "no answer") },
		"unknown": func(m Message) Settlement { return m.LostTrack("no answer") },
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			_, list := handOver(t, s, noon, network("heron", ""))
			storeReceipt(t, s, "heron", "n1", Delivered, noon+1)
			settle(t, s, noon+2, result(list[0]).Named("n1"))
			wantState(t, s, id, Delivered)
			wantNumber(t, s, 0, "SELECT count(*) FROM early_receipt")
		})
	}
}

// Some networks tell only the minute of a receipt. Early receipts are bounded also if all have the same time.
func TestEarlyReceiptsAreBounded(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) (err error) {
		for i := range maxEarly + 20 {
			err = errors.Join(err, second(tx.Receipt("heron", fmt.Sprint("x", i), Refused, noon, "")))
		}
		return err
	})
	wantNumber(t, s, maxEarly, "SELECT count(*) FROM early_receipt")
}

// storeReceipt stores a receipt, and returns whether its text was known.
func storeReceipt(t *testing.T, s *Store, gateway, id string, state State, at int64) bool {
	t.Helper()
	return get(t, s, func(tx *Tx) (bool, error) { return tx.Receipt(gateway, id, state, at, "told") })
}

type receipt struct {
	id    string
	state State
	known bool
}

var receiptCases = []struct {
	name     string
	from     State
	receipts []receipt
	want     State
}{
	{"delivered, by the network's id", Accepted, []receipt{{"net-1", Delivered, true}}, Delivered},
	{"delivered, by our key", Accepted, []receipt{{"k", Delivered, true}}, Delivered},
	{"failed", Accepted, []receipt{{"net-1", Refused, true}}, Refused},
	{"expired on the network", Accepted, []receipt{{"net-1", Expired, true}}, Expired},
	{"unknown id", Accepted, []receipt{{"net-2", Delivered, false}, {"", Delivered, false}}, Accepted},
	{"twice", Accepted, []receipt{{"k", Delivered, true}, {"k", Delivered, true}}, Delivered},
	{"failed after delivered", Accepted, []receipt{{"k", Delivered, true}, {"k", Refused, true}}, Delivered},
	{"delivered after failed", Accepted, []receipt{{"k", Refused, true}, {"k", Delivered, true}}, Delivered},
	{"expired, before we heard that the network took it", Claimed, []receipt{{"k", Expired, true}}, Expired},
	{"failed, before we heard that the network took it", Claimed, []receipt{{"k", Refused, true}}, Refused},
	{"expired after failed", Accepted, []receipt{{"k", Refused, true}, {"k", Expired, true}}, Refused},
	{"before we heard that the network took it", Claimed, []receipt{{"k", Delivered, true}}, Delivered},
	{"failed while waiting for the next try", Queued, []receipt{{"k", Refused, true}}, Refused},
	{"still trying, while waiting for the next try", Queued, []receipt{{"k", Accepted, true}}, Accepted},
	{"of one lost track of", Unknown, []receipt{{"k", Delivered, true}}, Delivered},
	{"failed, of one lost track of", Unknown, []receipt{{"k", Refused, true}}, Refused},
	{"of one that we gave up", Expired, []receipt{{"k", Delivered, true}}, Delivered},
	{"failed, of one taken back while it was sent", Withdrawn, []receipt{{"k", Refused, true}}, Refused},
}

func TestReceipts(t *testing.T) {
	for _, c := range receiptCases {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			m := claim(t, s, noon)[0]
			switch c.from {
			case Accepted:
				settle(t, s, noon, m.Took("net-1"))
			case Queued:
				settle(t, s, noon, m.Again(noon+9, ""))
			case Unknown:
				settle(t, s, noon, m.LostTrack(""))
			case Expired:
				settle(t, s, noon, m.Expire(""))
			case Withdrawn:
				ledger(t, s, ana, noon, (*Ledger).Stop)
			}
			for _, r := range c.receipts {
				equal(t, storeReceipt(t, s, "local", r.id, r.state, noon+100), r.known, "known, receipt %v", r)
			}
			wantState(t, s, id, c.want)
			// A late result does not change a text that ended. The exception is a withdrawn text, because the
			// result says that it was sent.
			settle(t, s, noon+200, m.Took("net-1"))
			if c.want != Withdrawn {
				wantState(t, s, id, c.want)
			}
		})
	}
	s := open(t)
	for _, bad := range []State{Queued, Withdrawn, Unknown, "lost"} {
		err := try(s, ana, noon, func(l *Ledger) error { return second(l.tx.Receipt("local", "k", bad, noon, "")) })
		errorIf(t, err == nil, "a receipt of %q was taken", bad)
	}
}

// A receipt must be ignored if it comes from another network than the network that has the text.
func TestReceiptOfAnotherNetwork(t *testing.T) {
	s := open(t)
	a, b := enqueue(t, s, text("a", ana, noon)), enqueue(t, s, text("b", ben, noon))
	heron, tern := network("heron", ""), network("tern", "")
	heron.Max = 1
	_, first := handOver(t, s, noon, heron)
	_, second := handOver(t, s, noon, tern)
	settle(t, s, noon, first[0].Took("7"), second[0].Took("7"))
	for _, r := range []struct {
		gateway, id string
		state       State
		known       bool
		a, b        State
	}{
		{"tern", "a", Delivered, false, Accepted, Accepted},
		{"adze", "7", Refused, false, Accepted, Accepted},
		{"", "a", Refused, false, Accepted, Accepted},
		{"tern", "7", Accepted, true, Accepted, Accepted},
		{"tern", "7", Delivered, true, Accepted, Delivered}, // heron also uses the id 7, for text a
		{"tern", "7", Accepted, true, Accepted, Delivered},
		{"heron", "7", Refused, true, Refused, Delivered},
		{"heron", "7", Accepted, true, Refused, Delivered},
	} {
		equal(t, storeReceipt(t, s, r.gateway, r.id, r.state, noon+5), r.known, "known, receipt %+v", r)
		wantStates(t, s, map[int64]State{a: r.a, b: r.b})
	}
}

// The next try of a text was deferred by a limit. Then a receipt says that the network took the text after all. So the
// text must not be due again at the next start of the service.
func TestReceiptForDeferredText(t *testing.T) {
	for _, told := range []State{Delivered, Refused, Expired, Accepted} {
		t.Run(told.String(), func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			_, list := handOver(t, s, noon, network("heron", ""))
			settle(t, s, noon, list[0].Again(noon+30, "busy"))
			enqueue(t, s, text("other", ben, noon))
			c := network("heron", "")
			c.All = Limits{TextsADay: 1}
			handOver(t, s, noon, c)
			handOver(t, s, noon+30, c)
			wantNumber(t, s, 1, "SELECT held FROM message WHERE id = $1", id)
			storeReceipt(t, s, "heron", "k", told, noon+40)
			wantState(t, openAgain(t, s, Options{RoutePrefixes: []string{}}), id, told)
		})
	}
}

// A receipt comes to one process at the moment at which another stores the result that names its text. Whichever is
// first, the receipt is applied.
func TestReceiptDuringSettle(t *testing.T) {
	serverOnly(t)
	for _, first := range []string{"result", "receipt"} {
		t.Run(first, func(t *testing.T) {
			a := openNew(t, Options{Process: "a"})
			b := openWith(t, addressOf(a), Options{Process: "b"})
			id := enqueue(t, a, text("k", ana, noon))
			_, list := handOver(t, a, noon, network("heron", ""))
			do := map[string]func(*Tx) error{
				"result":  func(tx *Tx) error { return tx.Settle(noon+1, list[0].Took("n1")) },
				"receipt": func(tx *Tx) error { return second(tx.Receipt("heron", "n1", Delivered, noon+1, "")) },
			}
			other := map[string]string{"result": "receipt", "receipt": "result"}[first]
			ended := make(chan error, 1)
			begun := false // the transaction may run again
			write(t, a, func(tx *Tx) error {
				if err := do[first](tx); err != nil {
					return err
				}
				if !begun {
					begun = true
					go func() { ended <- b.InTx(ctx, do[other]) }()
				}
				return waitForLock(tx, ended)
			})
			ok(t, <-ended)
			wantState(t, a, id, Delivered)
		})
	}
}
