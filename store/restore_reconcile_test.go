package store

import (
	"errors"
	"fmt"
	"testing"
)

// examplePhone returns the n-th of the phone numbers that are reserved for examples, beginning with +447700900000.
func examplePhone(n int) Phone { return Phone(fmt.Sprintf("+44%d", 7700900000+n)) }

func numbered(n int) Phone { return examplePhone(200 + n) }

// Decisions that growers made after the backup must still be valid after a restore.
//
//revive:disable-next-line:function-length one history before and after a restore
func TestRestoreTakesDecisionsOver(t *testing.T) {
	stopped, started, erased, anew, moved, unlinked, untouched, moves, stranger, staff, swapA, swapB :=
		numbered(1), numbered(2), numbered(3), numbered(4), numbered(5), numbered(6),
		numbered(7), numbered(8), numbered(9), numbered(10), numbered(11), numbered(12)
	s := openWithPlot(t, stopped, started, erased, anew, moved, unlinked, untouched, staff, swapA, swapB)
	ledger(t, s, started, noon, (*Ledger).Stop)
	ledger(t, s, staff, noon, (*Ledger).Unlink)
	id := func(s *Store, p Phone) int64 {
		return number(t, s, "SELECT coalesce((SELECT id FROM grower WHERE phone = $1), 0)", p.E164())
	}
	was := map[Phone]int64{}
	for _, p := range []Phone{moved, unlinked, untouched, swapA, swapB} {
		was[p] = id(s, p)
	}
	byStaff := number(t, s, "SELECT id FROM grower WHERE unlinked_at IS NOT NULL")
	backup := backupOf(t, s)

	const after = 1 * day
	ledger(t, s, stopped, noon+after, (*Ledger).Stop)
	ledger(t, s, started, noon+after, (*Ledger).Start)
	ledger(t, s, erased, noon+after, (*Ledger).Erase)
	ledger(t, s, anew, noon+after, (*Ledger).Erase)
	ledger(t, s, anew, noon+after, consent)
	ledger(t, s, stranger, noon+after, (*Ledger).Stop)
	ledger(t, s, unlinked, noon+after, (*Ledger).Unlink)
	write(t, s, func(tx *Tx) error {
		move := func(id int64, to Phone) error {
			_, err := tx.Move(id, to, noon+after)
			return err
		}
		return errors.Join(
			tx.setMeta(metaSending, []byte("a dry week")),
			move(was[moved], moves),
			move(was[swapA], numbered(20)), move(was[swapB], swapA), move(was[swapA], swapB),
			tx.EraseUnlinked(byStaff))
	})
	newGrower := numbered(30)
	withPlot(t, s, newGrower)
	highest := number(t, s, "SELECT max(id) FROM grower")
	to := shut(t, s)

	r := restoreTo(t, backup, to)
	equal(t, r.Reconciled, Reconciled{Stopped: 1, Started: 1, Strangers: 1, Erased: 3, Moved: 3, Unlinked: 1,
		Held: true}, "reconciled")
	ok(t, r.Damaged)
	got := openAt(t, to)
	wantNumber(t, got, 0, "SELECT count(*) FROM grower WHERE id = $1 AND phone NOT LIKE '+0%'", was[unlinked])
	for p, want := range map[Phone]struct {
		id      int64
		stopped bool
		look    bool
	}{
		stopped:   {id(got, stopped), true, false},
		started:   {id(got, started), false, true},
		erased:    {0, true, false},
		anew:      {0, false, false},
		moved:     {0, false, false},
		moves:     {was[moved], false, true},
		unlinked:  {0, false, false},
		untouched: {was[untouched], false, true},
		stranger:  {0, true, false},
		swapA:     {was[swapB], false, true},
		swapB:     {was[swapA], false, true},
		newGrower: {0, false, false},
	} {
		equal(t, id(got, p), want.id, "%v is grower", p)
		is := read(t, got, p, noon+3*day, func(l *Ledger) (bool, error) { return l.Stopped(), nil })
		equal(t, is, want.stopped, "%v stopped", p)
		n := number(t, got, `SELECT count(*) FROM plot p JOIN grower g ON g.id = p.grower_id
			WHERE g.phone = $1 AND p.look_at IS NOT NULL`, p.E164())
		errorIf(t, (n > 0) != want.look, "%v: the bell looks at %d plots", p, n)
	}
	wantNumber(t, got, 1, "SELECT count(*) FROM meta WHERE key = $1 AND value = CAST('a dry week' AS BLOB)",
		metaSending)
	wantNumber(t, got, highest, "SELECT seq FROM sqlite_sequence WHERE name = 'grower'")
	old, err := Inspect(ctx, r.Aside)
	errorIf(t, err != nil || old.Newest != noon+after || r.Replaced.Newest != old.Newest,
		"kept aside: %+v %v", old, err)
}

// From damaged records a STOP is copied, but an erasure is not: a missing grower may be in the unreadable part.
func TestRestoreOverDamagedRecords(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	backup := backupOf(t, s)
	ledger(t, s, ana, noon+day, (*Ledger).Stop)
	ledger(t, s, ben, noon+day, (*Ledger).Erase)
	root := number(t, s, "SELECT rootpage FROM sqlite_schema WHERE name = 'plot_look'")
	to := shut(t, s)
	spoil(t, to, func(b []byte) []byte { clear(b[(root-1)*4096 : root*4096]); return b })
	r := restoreTo(t, backup, to)
	errorIf(t, r.Damaged == nil || r.Reconciled.Stopped != 2 || r.Reconciled.Erased != 0, "%+v", r)
	got := openAt(t, to)
	for _, p := range []Phone{ana, ben} {
		errorIf(t, !read(t, got, p, noon+3*day, func(l *Ledger) (bool, error) { return l.Known() && l.Stopped(), nil }),
			"%v is not stopped", p)
	}
	wantNumber(t, got, 2+skipped, "SELECT seq FROM sqlite_sequence WHERE name = 'grower'")
}

// What was spent after the backup still counts for the limits after the restore.
func TestRestoreKeepsWhatWasSpent(t *testing.T) {
	s := open(t)
	spend := func(scope string, texts int) {
		execSQL(t, s, sqlTakeSpent, scope, 20000, texts, texts, texts)
	}
	spend("", 3)
	spend("gateway/heron", 9)
	backup := backupOf(t, s)
	spend("", 5)
	spend("number/x", 2)
	to := shut(t, s)
	restoreTo(t, backup, to)
	got := openAt(t, to)
	for scope, want := range map[string]int64{"": 5, "gateway/heron": 9, "number/x": 2} {
		wantNumber(t, got, 3*want, "SELECT coalesce(sum(texts + segments + micros), 0) FROM spend WHERE scope = $1",
			scope)
	}
}
