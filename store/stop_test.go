package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	"rowbell/engine"
)

// ring does what the bell does for a plot: it tells, queues and asks.
func ring(t *testing.T, s *Store, p Phone, nos []int, kind engine.Kind, at int64) (id int64) {
	t.Helper()
	m := text(fmt.Sprintf("%s %v %s %d", p.E164(), nos, kind, at), p, at)
	m.Reminder, m.Note = kind, ""
	ledger(t, s, p, at, func(l *Ledger) error {
		m.GrowerID = l.GrowerID()
		for _, no := range nos {
			plot, err := l.PlotID(no)
			if err != nil {
				return err
			}
			m.PlotIDs = append(m.PlotIDs, plot)
			if fresh, err := l.tx.Tell(plot, engine.Told{Kind: kind, Window: 1, On: l.Today()}); !fresh || err != nil {
				t.Errorf("Tell: %v, %v", fresh, err)
			}
			if err := l.tx.SetLook(plot, at+86400); err != nil {
				return err
			}
		}
		return l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("1=done"), AskedAt: at, Until: at + 3600})
	})
	return enqueue(t, s, m)
}

func claim(t *testing.T, s *Store, at int64) []Message {
	t.Helper()
	var list []Message
	write(t, s, func(tx *Tx) (err error) {
		claims, err := tx.Claim(at, local(100))
		list = claims.Texts
		return err
	})
	return list
}

func TestStop(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	sending := ring(t, s, ana, []int{1}, engine.KindPrepare, noon)
	claim(t, s, noon)
	waiting := ring(t, s, ana, []int{1}, engine.KindOpen, noon+1)
	others := ring(t, s, ben, []int{1}, engine.KindOpen, noon+1)
	loose := enqueue(t, s, text("an answer", ana, noon))

	ledger(t, s, ana, noon+2, (*Ledger).Stop)

	for id, want := range map[int64]State{sending: Withdrawn, waiting: Withdrawn, loose: Withdrawn, others: Queued} {
		wantState(t, s, id, want)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM prompt")
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at IS NOT NULL")
	// What is logged while stopped does not wake the bell, and a reply may still go out.
	ledger(t, s, ana, noon+3, func(l *Ledger) error {
		if !l.Stopped() || !l.Known() {
			t.Errorf("stopped %v, known %v", l.Stopped(), l.Known())
		}
		if err := l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
			return err
		}
		return second(l.AddPlot(aPlot(), aTool()))
	})
	if due := due(t, s, noon+1e6); len(due) != 1 || due[0].Phone != ben {
		t.Errorf("due after STOP: %v", due)
	}
	reply := enqueue(t, s, text("you are stopped", ana, noon+3))
	wantState(t, s, reply, Queued)

	ledger(t, s, ana, noon+4, (*Ledger).Start)
	if read(t, s, ana, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }) {
		t.Error("still stopped after Start")
	}
	if due := due(t, s, noon+4); len(due) != 1 || due[0].Phone != ana || len(due[0].Plots) != 2 {
		t.Errorf("due after START: %v", due)
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM opt_out")
}

func TestStopOfAPhoneWithoutRecordsHolds(t *testing.T) {
	s := open(t)
	ledger(t, s, ana, noon, (*Ledger).Stop)
	ledger(t, s, ana, noon+1, (*Ledger).Stop) // twice is no error
	if !read(t, s, ana, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }) {
		t.Error("not stopped")
	}
	ledger(t, s, ana, noon, consent)
	if read(t, s, ana, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }) {
		t.Error("consent did not lift it")
	}
}

func TestErase(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	ring(t, s, ben, []int{1}, engine.KindOpen, noon)
	enqueue(t, s, text("before consent", ana, noon))
	ledger(t, s, ana, noon, func(l *Ledger) error {
		if err := l.See(1, engine.Sighting{On: day0, Amount: engine.Few}); err != nil {
			return err
		}
		if err := l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
			return err
		}
		return errors.Join(
			l.tx.SaveSession(Session{Phone: ana, Channel: "ussd", State: []byte("x"), SavedAt: noon, ExpiresAt: noon + 60}),
			l.tx.StoreReply("local", "a", ana, []byte("by the well"), noon),
			l.tx.StoreReply("local", "b", ben, []byte("by the well"), noon),
			l.tx.StoreReply("local", "c", "", nil, noon),
		)
	})
	ledger(t, s, ana, noon+1, func(l *Ledger) error {
		if err := l.Erase(); err != nil {
			return err
		}
		if l.Known() || l.GrowerID() != 0 || l.Language() != "" || !l.Stopped() {
			t.Errorf("the ledger after Erase: known %v, id %d, language %q, stopped %v", l.Known(), l.GrowerID(), l.Language(), l.Stopped())
		}
		if nos, err := l.Plots(); len(nos) != 0 || err != nil {
			t.Errorf("plots after Erase: %v, %v", nos, err)
		}
		return nil
	})
	for table, want := range map[string]int64{"grower": 1, "plot": 1, "pass": 0, "sighting": 0, "told": 1, "message": 1,
		"message_plot": 1, "prompt": 1, "session": 0, "opt_out": 1, "callback": 2} {
		wantNumber(t, s, want, "SELECT count(*) FROM "+table)
	}
	// Consent starts again from nothing, under an id that was never used.
	ledger(t, s, ana, noon+2, func(l *Ledger) error {
		if err := consent(l); err != nil {
			return err
		}
		if l.GrowerID() != 3 || l.Stopped() {
			t.Errorf("id %d, stopped %v after consent anew", l.GrowerID(), l.Stopped())
		}
		return nil
	})
}

// What was erased is nowhere in the files after a checkpoint.
func TestErasedIsGoneFromTheFiles(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "a", ana, []byte("by the well"), noon) })
	if err := s.Checkpoint(context.Background()); err != nil {
		t.Fatal(err)
	}
	found := func() (n int) {
		for _, file := range []string{s.path, s.path + "-wal"} {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			n += bytes.Count(b, []byte(ana)) + bytes.Count(b, []byte("by the well"))
		}
		return n
	}
	if found() == 0 {
		t.Fatal("the records are not where they are looked for")
	}
	ledger(t, s, ana, noon+1, (*Ledger).Erase)
	if err := s.Checkpoint(context.Background()); err != nil {
		t.Fatal(err)
	}
	if n := found(); n != 0 {
		t.Errorf("number or name are found %d times", n)
	}
	withPlot(t, s, ana) // the writer goes on
}

// The number itself must not be found in what is kept of an opt-out.
func TestOptOutIsKeyed(t *testing.T) {
	a, b := open(t), open(t)
	hash := func(s *Store) []byte { return (&Ledger{tx: &Tx{s: s}, phone: ana}).hash() }
	if string(hash(a)) == string(hash(b)) {
		t.Error("two databases hash a phone alike: the key is not their own")
	}
	path := a.path
	before := hash(a)
	ledger(t, a, ana, noon, (*Ledger).Stop)
	shut(t, a)
	again := openAt(t, path)
	if string(hash(again)) != string(before) {
		t.Error("the key changed on opening again")
	}
	if !read(t, again, ana, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }) {
		t.Error("the opt-out is lost on opening again")
	}
}

// A change to a plot takes back what was not sent about it, and what that
// told, also for another plot that shared the text.
func TestChangesWithdrawTexts(t *testing.T) {
	moved := aPlot()
	moved.Planted += 3
	renamed := aPlot()
	renamed.Label = "other"
	for name, c := range map[string]struct {
		do         func(*Ledger) error
		told, seen int64 // rows left of told; plots to look at now or since the morning
	}{
		"ClosePlot":        {func(l *Ledger) error { return l.ClosePlot(1) }, 1, 1},
		"LogPass":          {func(l *Ledger) error { return l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}) }, 1, 2},
		"See":              {func(l *Ledger) error { return l.See(1, engine.Sighting{On: day0, Amount: engine.Many}) }, 1, 2},
		"ChangePlot label": {func(l *Ledger) error { return l.ChangePlot(1, renamed, aTool()) }, 1, 2},
		"ChangePlot day":   {func(l *Ledger) error { return l.ChangePlot(1, moved, aTool()) }, 0, 2},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			withPlot(t, s, ana)
			ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
			gone := ring(t, s, ana, []int{1}, engine.KindPrepare, noon-86400)
			sending := claim(t, s, noon-86400)[0] // it is on its way: it is not taken back
			both := ring(t, s, ana, []int{1, 2}, engine.KindOpen, noon)
			if n := len(due(t, s, noon+1)); n != 0 {
				t.Fatalf("%d growers due before the change", n)
			}
			ledger(t, s, ana, noon+1, c.do)
			wantState(t, s, both, Withdrawn)
			wantState(t, s, gone, Claimed)
			settle(t, s, noon+2, sending.Again(noon+2, "not reached"))
			wantState(t, s, gone, Expired)
			wantNumber(t, s, c.told, "SELECT count(*) FROM told")
			wantNumber(t, s, c.seen, "SELECT count(*) FROM plot WHERE look_at = $1 OR look_at = $2", noon+1, day0.At(7, time.UTC).Unix())
		})
	}
}

// The bell says something newer of one plot: the old text goes, and the plot
// that shared it is looked at again.
func TestSupersede(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
	both := ring(t, s, ana, []int{1, 2}, engine.KindOpen, noon)
	answer := text("an answer", ana, noon)
	answer.PlotIDs = []int64{1}
	about := enqueue(t, s, answer)
	sending := ring(t, s, ana, []int{2}, engine.KindPrepare, noon-86400)
	claim(t, s, noon-86400)
	ledger(t, s, ana, noon+86400+60, func(l *Ledger) error {
		id, err := l.PlotID(1)
		if err != nil {
			return err
		}
		return l.tx.Supersede(id, noon+86400+60, l.Zone(), noon+80000)
	})
	for id, want := range map[int64]State{both: Withdrawn, about: Withdrawn, sending: Claimed} {
		wantState(t, s, id, want)
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM told WHERE kind = $1", int64(engine.KindOpen))
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at = $1 AND no = 2", noon+80000)
	wantNumber(t, s, 1, "SELECT count(*) FROM plot WHERE look_at = $1", noon+80000)
}
