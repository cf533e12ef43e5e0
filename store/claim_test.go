package store

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
)

// Two lanes: the prefix of ten invented numbers, and a number.
var tens, twos = fmt.Sprintf("+44%d", 770090001), fmt.Sprintf("+44%d", 7700900002)

// Who waits for an answer comes before reminders, and of both that first whose
// useful time ends first, also over several lanes and several claims.
func TestClaimByUrgency(t *testing.T) {
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "rowbell.db"), Options{RoutePrefixes: []string{tens}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for i, m := range []struct {
		key      string
		reminder engine.Kind
		note     string
		phone    Phone
		useful   int64
	}{
		{"reminder for a week", engine.KindOpen, "", "+447700900001", 7 * 86400},
		{"reminder for a day", engine.KindLastDays, "", "+447700900011", 86400},
		{"answer", 0, "reply", "+447700900002", 86400},
		{"reminder for an hour", engine.KindNudge, "", "+447700900003", 3600},
		{"short answer", 0, "note", "+447700900012", 3600},
	} {
		msg := text(m.key, m.phone, noon-int64(i))
		msg.Reminder, msg.Note, msg.UsefulUntil = m.reminder, m.note, noon+m.useful
		enqueue(t, s, msg)
	}
	c := network("heron", tens, "")
	c.Max = 2
	for _, want := range [][]string{{"short answer", "answer"}, {"reminder for an hour", "reminder for a day"}, {"reminder for a week"}, nil} {
		if got, _ := handOver(t, s, noon, c); !slices.Equal(got, want) {
			t.Errorf("claimed %q, want %q", got, want)
		}
	}
}

// A number's lane is the longest prefix it begins with; a network gets those
// that it serves.
func TestLanes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rowbell.db")
	open := func(lanes []string) *Store {
		s, err := Open(context.Background(), path, Options{RoutePrefixes: lanes})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := open([]string{"+44", tens, ""})
	enqueue(t, s, text("far", "+447700900011", noon))
	enqueue(t, s, text("near", "+447700900002", noon))
	lane := func(key string) (lane string) {
		t.Helper()
		view(t, s, func(tx *Tx) error {
			_, err := tx.one("SELECT lane FROM message WHERE key = $1", args(key), &lane)
			return err
		})
		return lane
	}
	if far, near := lane("far"), lane("near"); far != tens || near != "+44" {
		t.Errorf("lanes %q, %q", far, near)
	}
	wantClaim(t, s, noon, network("heron", ""))
	s.Close()
	// Opened beside the service, without a word of lanes: as they were.
	s = open(nil)
	withPlot(t, s, ana)
	m := text("moving", ana, noon)
	m.GrowerID = 1
	enqueue(t, s, m)
	write(t, s, func(tx *Tx) error { return second(tx.Move(1, "+447700900013", noon)) })
	if got := lane("moving"); got != tens {
		t.Errorf("moved to another number it is in lane %q", got)
	}
	s.Close()
	// Routes were changed: what waits is sorted anew.
	s = open([]string{twos})
	if far, near := lane("far"), lane("near"); far != "" || near != twos {
		t.Errorf("after the change: lanes %q, %q", far, near)
	}
	s.Close()
	s = open([]string{})
	defer s.Close()
	if got, _ := handOver(t, s, noon, network("heron", "")); len(got) != 3 {
		t.Errorf("with no routes left: %q", got)
	}
}

// Texts of one phone keep their order, whatever becomes of the first.
func TestNothingOvertakes(t *testing.T) {
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

// An unsure text is the same network's; its doubts do not hold up what another
// network can send.
func TestDoubtIsBound(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("1", ana, noon))
	enqueue(t, s, text("2", ana, noon+1))
	heron, tern := network("heron", ""), network("tern", "")
	heron.Max = 1
	_, list := handOver(t, s, noon, heron)
	settle(t, s, noon+1, list[0].Unsure(noon+30, "no answer in time"))
	wantClaim(t, s, noon+20, heron)
	got, others := handOver(t, s, noon+20, tern)
	if !slices.Equal(got, []string{"2"}) {
		t.Fatalf("the other network takes %q", got)
	}
	settle(t, s, noon+21, others[0].Took(""))
	wantClaim(t, s, noon+100, tern)
	// Also where the network is not the first of its lane any more.
	got, list = handOver(t, s, noon+100, network("heron"))
	if !slices.Equal(got, []string{"1"}) || !list[0].MaybeSent {
		t.Fatalf("its own network claims %+v", list)
	}
	// A no to the repeat tells nothing of the first try.
	settle(t, s, noon+101, list[0].Refuse("no"))
	wantState(t, s, id, Unknown)
}

// How a text ends that may have been taken, by what became of it.
func TestUnsureEnds(t *testing.T) {
	for _, c := range []struct {
		name string
		once bool
		do   func(*testing.T, *Store, Message)
		want State
	}{
		{"useful time over", false, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.Unsure(noon+10, "no answer in time"))
			write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(m.UsefulUntil + 1)) })
		}, Unknown},
		{"next try too late", false, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.Unsure(m.UsefulUntil+1, "no answer in time"))
		}, Unknown},
		{"surely not, next try too late", false, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.Again(m.UsefulUntil+1, "busy"))
		}, Expired},
		{"stopped while it waits", false, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.Unsure(noon+10, "no answer in time"))
			ledger(t, s, ana, noon+1, (*Ledger).Stop)
		}, Unknown},
		{"stopped while it is on its way", false, func(t *testing.T, s *Store, m Message) {
			ledger(t, s, ana, noon+1, (*Ledger).Stop)
			settle(t, s, noon+2, m.Unsure(noon+10, "no answer in time"))
		}, Unknown},
		{"stopped while it is on its way, surely not", false, func(t *testing.T, s *Store, m Message) {
			ledger(t, s, ana, noon+1, (*Ledger).Stop)
			settle(t, s, noon+2, m.Again(noon+10, "busy"))
		}, Withdrawn},
		{"sender gone, network sends once", false, func(t *testing.T, s *Store, m Message) {
			_, list := handOver(t, s, noon+60, network("local", ""))
			if len(list) != 1 || !list[0].MaybeSent || list[0].Tries != 2 {
				t.Errorf("claimed anew: %+v", list)
			}
		}, Claimed},
		{"sender gone, other network", false, func(t *testing.T, s *Store, m Message) {
			wantClaim(t, s, noon+60, network("tern", ""))
		}, Queued},
		{"sender gone, network sends twice", true, func(t *testing.T, s *Store, m Message) {
			wantClaim(t, s, noon+60, network("local", ""))
		}, Unknown},
		{"sender gone for good", true, func(t *testing.T, s *Store, m Message) {
			write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(m.UsefulUntil + 1)) })
		}, Unknown},
		{"network sends twice from now on", false, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.Unsure(noon+10, "no answer in time"))
			c := network("local", "")
			c.AtMostOnce = true
			wantClaim(t, s, noon+60, c)
		}, Unknown},
		{"a receipt settles it", true, func(t *testing.T, s *Store, m Message) {
			settle(t, s, noon, m.LostTrack("no answer in time"))
			write(t, s, func(tx *Tx) error { return second(tx.Receipt("local", m.Key, Delivered, noon+9, "")) })
		}, Delivered},
	} {
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

// A text that was not tried after all waits as before, and no receipt speaks of it.
func TestBack(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	_, list := handOver(t, s, noon, network("heron", ""))
	settle(t, s, noon, list[0].Back(noon, "stopping"))
	write(t, s, func(tx *Tx) error {
		known, err := tx.Receipt("heron", "k", Refused, noon, "")
		if known {
			t.Error("a receipt for a text that was never handed over was taken")
		}
		return err
	})
	if _, list = handOver(t, s, noon, network("tern", "")); len(list) != 1 || list[0].Tries != 1 || list[0].Gateway != "tern" {
		t.Errorf("claimed %+v", list)
	}
}

// A receipt counts only from the network that has the text.
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
		{"tern", "7", Delivered, true, Accepted, Delivered}, // both call a text 7
		{"tern", "7", Accepted, true, Accepted, Delivered},
		{"heron", "7", Refused, true, Refused, Delivered},
		{"heron", "7", Accepted, true, Refused, Delivered},
	} {
		write(t, s, func(tx *Tx) error {
			known, err := tx.Receipt(r.gateway, r.id, r.state, noon+5, "")
			if known != r.known {
				t.Errorf("%+v: known %v", r, known)
			}
			return err
		})
		if gotA, gotB := stateOf(t, s, a), stateOf(t, s, b); gotA != r.a || gotB != r.b {
			t.Errorf("%+v: %s, %s", r, gotA, gotB)
		}
	}
}

// "Still trying" says that the network has the text: it is not sent again.
func TestStillTrying(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	_, list := handOver(t, s, noon, local(1))
	settle(t, s, noon, list[0].Unsure(noon+10, "no answer in time"))
	write(t, s, func(tx *Tx) error { return second(tx.Receipt("local", "k", Accepted, noon+5, "")) })
	if got, _ := handOver(t, s, noon+60, local(1)); got != nil || stateOf(t, s, id) != Accepted {
		t.Errorf("it is %s, claimed again %v", stateOf(t, s, id), got)
	}
}

func TestSendingHeld(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	write(t, s, func(tx *Tx) error { return tx.HoldSending("a wrong text", noon) })
	write(t, s, func(tx *Tx) error { return tx.HoldSending("a wrong text is out", noon+5) })
	write(t, s, func(tx *Tx) error {
		claims, err := tx.Claim(noon+9, local(1))
		if !claims.OperatorHold || len(claims.Texts) > 0 {
			t.Errorf("held: %+v", claims)
		}
		h, held, err2 := tx.SendingHeld()
		if want := (SendingHold{"a wrong text is out", noon}); !held || h != want {
			t.Errorf("held %v: %+v, want %+v", held, h, want)
		}
		if err == nil {
			err = err2
		}
		return err
	})
	for _, want := range []bool{true, false} {
		write(t, s, func(tx *Tx) error {
			was, err := tx.ReleaseSending()
			if was != want {
				t.Errorf("it was held: %v", was)
			}
			return err
		})
	}
	wantClaim(t, s, noon+10, local(1), "k")
	late := text("late", ben, noon)
	lateID := enqueue(t, s, late)
	write(t, s, func(tx *Tx) error { return tx.HoldSending("again", noon) })
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(late.UsefulUntil + 1)) })
	if a, b := stateOf(t, s, id), stateOf(t, s, lateID); a != Unknown || b != Expired {
		t.Errorf("while held: %s, %s", a, b)
	}
}

// The queries of a claim go along their index.
func TestClaimGoesByItsIndex(t *testing.T) {
	s := open(t)
	for _, c := range []struct{ query, index string }{
		{sqlDueByPrefix, "message_claim (urgency=? AND lane=? AND useful_until>?"},
		{sqlDueByPrefix, "message_waits (phone=?"},
		{sqlDueUncertain, "message_doubt (gateway=?"},
		{sqlExpire, "message_claim (urgency=? AND lane=? AND useful_until<?"},
		{sqlPendingInQuietHours, "message_claim (urgency=?"},
		{sqlPendingOfPhone, "message_waits (phone=?"},
	} {
		plan := ""
		err := s.View(context.Background(), func(tx *Tx) error {
			none := make([]any, len(uniq(placeholder.FindAllString(c.query, -1))))
			return tx.each("EXPLAIN QUERY PLAN "+c.query, none, func(row func(...any) error) error {
				var id, parent, unused int64
				var detail string
				err := row(&id, &parent, &unused, &detail)
				plan += detail + "\n"
				return err
			})
		})
		if err != nil || !strings.Contains(plan, c.index) {
			t.Errorf("%v, want %s in\n%s", err, c.index, plan)
		}
	}
}
