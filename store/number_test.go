package store

import (
	"errors"
	"slices"
	"testing"

	"rowbell/engine"
)

// ringing gives a phone a plot, a waiting reminder, a dialogue, a prompt and a stored reply.
func ringing(t *testing.T, s *Store, p Phone) (message int64) {
	t.Helper()
	withPlot(t, s, p)
	grower := number(t, s, "SELECT id FROM grower WHERE phone = $1", p.E164())
	plot := number(t, s, "SELECT id FROM plot WHERE grower_id = $1", grower)
	m := reminder(text("ring "+p.E164(), p, noon), engine.KindOpen, grower, plot)
	m.UsefulUntil = noon + 200*day
	id := enqueue(t, s, m)
	write(t, s, func(tx *Tx) error {
		return errors.Join(
			second(tx.Tell(plot, engine.Told{Kind: engine.KindOpen, Window: 1, On: day0})),
			tx.SaveSession(Session{Phone: p, Channel: "ussd", Network: "n", State: []byte("x"),
				ExpiresAt: noon + 400*day}),
			tx.SavePrompt(Prompt{Phone: p, Body: []byte("asked"), Until: noon + 400*day}),
			tx.StoreReply("local", "k"+p.E164(), p, []byte("secret"), noon))
	})
	return id
}

// wantLeft checks how many rows of each table have the phone number p. want has the counts in the order
// grower, session, prompt, callback, message.
func wantLeft(t *testing.T, s *Store, p Phone, want ...int64) {
	t.Helper()
	for i, table := range []string{"grower", "session", "prompt", "callback", "message"} {
		wantNumber(t, s, want[i], "SELECT count(*) FROM "+table+" WHERE phone = $1", p.E164())
	}
}

func move(t *testing.T, s *Store, grower int64, to Phone, at int64) (stopped bool) {
	t.Helper()
	return get(t, s, func(tx *Tx) (bool, error) { return tx.Move(grower, to, at) })
}

// A number that was not used for 90 days is silent until Confirm is called. Visit, Stop and Start must not end the
// silence, because the next owner of the number may have called, or sent STOP or START.
func TestSilent(t *testing.T) {
	s := openWithPlot(t, ana)
	want := func(p Phone, at int64, want bool) {
		t.Helper()
		got := read(t, s, p, at, func(l *Ledger) (bool, error) { return l.Silent(), nil })
		due := get(t, s, func(tx *Tx) ([]DueGrower, error) { return tx.DueGrowers(at, 9) })
		errorIf(t, got != want || p == ana && due[0].Silent(at) != want,
			"%v silent after %d s: %v, and for the bell %+v", p, at-noon, got, due)
	}
	for at, silent := range map[int64]bool{0: false, SilentAfter - 1: false, SilentAfter: true, 2 * SilentAfter: true} {
		want(ana, noon+at, silent)
	}
	want(ben, noon+2*SilentAfter, false) // a phone without records is never silent
	later := noon + SilentAfter + 5*day
	for _, do := range []func(*Ledger) error{(*Ledger).Visit, (*Ledger).Stop, (*Ledger).Start} {
		ledger(t, s, ana, later, do)
	}
	want(ana, later, true)
	ledger(t, s, ana, later, func(l *Ledger) error {
		err := l.Confirm()
		errorIf(t, l.Silent(), "still silent in the same transaction")
		return err
	})
	want(ana, later+SilentAfter-1, false)
	want(ana, later+SilentAfter, true)
	for name, do := range map[string]func(*Ledger) error{
		"confirm": (*Ledger).Confirm, "unlink": (*Ledger).Unlink,
		"code": func(l *Ledger) error { return second(l.MoveCode()) },
	} {
		wantErr(t, try(s, ben, noon, do), ErrUnknown, "%s without records", name)
	}
}

func TestUnlink(t *testing.T) {
	s := open(t)
	id, other := ringing(t, s, ana), ringing(t, s, ben)
	over := text("over", ana, noon)
	over.GrowerID = 1
	enqueue(t, s, over)
	at := noon + 95*day
	ledger(t, s, ana, at, func(l *Ledger) error {
		_, code := l.MoveCode()
		err := l.Unlink()
		errorIf(t, l.Known() || l.GrowerID() != 0 || l.Phone() != ana,
			"the number still has the records of %d", l.GrowerID())
		return errors.Join(code, err)
	})
	wantLeft(t, s, ana, 0, 0, 0, 0, 0)
	wantStates(t, s, map[int64]State{id: Withdrawn, other: Queued})
	wantRows(t, s, map[string]int64{"move_code": 0, "told WHERE plot_id = 1": 0})
	// The bell (the reminder job) and the lists ignore unlinked records, even if the weather or the place changes.
	write(t, s, func(tx *Tx) error {
		changed := errors.Join(tx.PutWeather(1, aDayOfWeather, at), tx.SetLook(1, at))
		due, err := tx.DueGrowers(at+400*day, 10)
		ranked, _, err2 := tx.OpenPlots(1, 0, 10)
		for _, list := range [][]DueGrower{due, ranked} {
			errorIf(t, len(list) != 1 || list[0].Phone != ben, "listed %+v", list)
		}
		st := NewTotalsCount(at)
		_, err3 := st.Page(tx)
		errorIf(t, st.Growers != 1 || st.OpenPlots != 1 || st.Stopped != 0, "counts include the unlinked: %+v", st)
		unlinked, err4 := tx.Unlinked()
		equal(t, unlinked, []Unlinked{{ID: 1, At: at, Plots: 1}}, "unlinked")
		return errors.Join(changed, err, err2, err3, err4)
	})
	// The new owner of the number may consent and later be erased. The unlinked records must not change.
	withPlot(t, s, ana)
	ledger(t, s, ana, at, (*Ledger).Erase)
	wantRows(t, s, map[string]int64{"plot WHERE grower_id = 1": 1, "message WHERE grower_id = 1": 2})
	intact(t, s)
}

func TestUnlinkedRecordsMoveOrAreErased(t *testing.T) {
	s := open(t)
	ringing(t, s, ana)
	ringing(t, s, ben)
	at := noon + 95*day
	ledger(t, s, ana, at, (*Ledger).Unlink)
	ledger(t, s, ben, at, (*Ledger).Unlink)
	write(t, s, func(tx *Tx) error {
		_, moved := tx.MoveUnlinked(1, cleo, at+day)
		due, err := tx.DueGrowers(at+day, 10)
		errorIf(t, len(due) != 1 || due[0].Phone != cleo || len(due[0].Plots) != 1 || due[0].Silent(at+day),
			"the bell looks at %+v", due)
		return errors.Join(moved, err, tx.EraseUnlinked(2, noon))
	})
	wantRows(t, s, map[string]int64{"grower": 1, "plot": 1, "message": 1, "grower WHERE unlinked_at IS NOT NULL": 0})
}

func TestMoveRefuses(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	code := codeOf(t, s, ana, noon)
	for name, c := range map[string]struct {
		do   func(*Tx) error
		want error
	}{
		"to a number with records": {func(tx *Tx) error { return second(tx.Move(1, ben, noon)) }, ErrTaken},
		"to its own number":        {func(tx *Tx) error { return second(tx.Move(1, ana, noon)) }, ErrTaken},
		"of nobody":                {func(tx *Tx) error { return second(tx.Move(9, cleo, noon)) }, ErrUnknown},
		"by staff, linked":         {func(tx *Tx) error { return second(tx.MoveUnlinked(1, cleo, noon)) }, ErrLinked},
		"by staff, nobody":         {func(tx *Tx) error { return second(tx.MoveUnlinked(9, cleo, noon)) }, ErrUnknown},
		"erased, linked":           {func(tx *Tx) error { return tx.EraseUnlinked(1, noon) }, ErrUnknown},
		"erased, nobody":           {func(tx *Tx) error { return tx.EraseUnlinked(9, noon) }, ErrUnknown},
		"by code, to a number with records": {func(tx *Tx) error {
			l, err := tx.Ledger(ben, noon)
			if err == nil {
				_, _, err = l.TakeOver(code)
			}
			return err
		}, ErrTaken},
	} {
		wantErr(t, s.InTx(ctx, c.do), c.want, "%s", name)
	}
}

// The bell (the reminder job) ignores the plots of a number that does not exist, until somebody uses the number
// or the records move to another number.
func TestNoSuchNumber(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	id := ring(t, s, ana, []int{1}, engine.KindOpen, noon)
	m := claim(t, s, noon)[0]
	waiting := ring(t, s, ana, []int{1}, engine.KindLastDays, noon+1)
	settle(t, s, noon+2, m.NoSuchNumber("no such number"))
	wantStates(t, s, map[int64]State{id: Refused, waiting: Withdrawn})
	later := noon + 5*day
	wantDue := func(want ...Phone) {
		t.Helper()
		var got []Phone
		for _, g := range due(t, s, later) {
			got = append(got, g.Phone)
		}
		slices.Sort(got)
		equal(t, got, want, "the bell looks at the plots")
	}
	wantDue(ben)
	ledger(t, s, ana, later, (*Ledger).Visit)
	wantDue(ana, ben)
	write(t, s, func(tx *Tx) error { return tx.unreachable(ana, later) })
	wantDue(ben)
	move(t, s, 1, cleo, later)
	wantRows(t, s, map[string]int64{"grower WHERE unreachable_at IS NOT NULL": 0})
	wantDue(ben, cleo)
	// If the number has no records, the text is marked refused and nothing else changes.
	enqueue(t, s, text("stranger", "+447700900099", later))
	_, list := handOver(t, s, later, local(9))
	list = slices.DeleteFunc(list, func(m Message) bool { return m.Key != "stranger" })
	settle(t, s, later, list[0].NoSuchNumber("no such number"))
}
