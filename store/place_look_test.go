package store

import (
	"strings"
	"sync/atomic"
	"testing"

	"github.com/mattn/go-sqlite3"
)

// plotChanges counts the changed rows of the table plot, and the most of them in one commit.
type plotChanges struct{ all, most, commits, now atomic.Int64 }

func countPlotChanges(t *testing.T, s *Store) *plotChanges {
	t.Helper()
	n := &plotChanges{}
	write(t, s, func(tx *Tx) error {
		return tx.conn.Raw(func(c any) error {
			conn := c.(*sqlite3.SQLiteConn)
			conn.RegisterUpdateHook(func(_ int, _, table string, _ int64) {
				if table == "plot" {
					n.all.Add(1)
					n.now.Add(1)
				}
			})
			conn.RegisterCommitHook(func() int {
				n.most.Store(max(n.most.Load(), n.now.Swap(0)))
				n.commits.Add(1)
				return 0
			})
			return nil
		})
	})
	n.commits.Store(0)
	return n
}

// A place of any size is looked at in small transactions; if one fails, the next call goes on there. Each plot changes
// once.
func TestLookAtAPlaceIsBrokenOff(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	const growers, broken, later = 2000, 1234, 7 * day
	addGrowers(t, s, growers)
	execSQL(t, s, "UPDATE plot SET look_at = $1", noon+later)
	n := countPlotChanges(t, s)
	write(t, s, func(tx *Tx) error { return tx.LookAtPlace(1, noon) })
	equal(t, n.all.Load(), 0, "plots changed by the mark")
	execSQL(t, s, `CREATE TRIGGER fails BEFORE UPDATE ON plot WHEN old.grower_id = 1234
		BEGIN SELECT RAISE(ABORT, 'no room'); END`)
	err := s.LookAtPlaces(ctx, noon+60)
	fatalIf(t, err == nil || !strings.Contains(err.Error(), "no room"), "error %v", err)
	done := number(t, s, "SELECT count(*) FROM plot WHERE look_at = $1", noon)
	errorIf(t, done < broken-lookStep || done >= broken, "%d plots are due after the failure", done)
	errorIf(t, n.all.Load() >= done+lookStep, "%d plots changed, %d of them for good", n.all.Load(), done)
	execSQL(t, s, "DROP TRIGGER fails")

	s = openAgain(t, s, Options{})
	n = countPlotChanges(t, s)
	ok(t, s.LookAtPlaces(ctx, noon+120))
	equal(t, n.all.Load(), growers-done, "plots changed afterwards")
	wantRows(t, s, map[string]int64{"plot WHERE look_at <> 1780315200": 0, "place_look": 0})
	equal(t, noon, 1780315200, "noon")
	errorIf(t, n.most.Load() > lookStep || n.commits.Load() < (growers-done)/lookStep,
		"%d commits, up to %d plots in one", n.commits.Load(), n.most.Load())
	before := n.commits.Load()
	ok(t, s.LookAtPlaces(ctx, noon+180))
	equal(t, n.commits.Load(), before, "commits without a mark")
}

// While a place is looked at, a plot that its grower changes keeps its own look, a place that is asked for again begins
// anew, and another place keeps its plots.
func TestLookAtAPlaceAmongOthers(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	anotherPlace(t, s, "hills", "UTC", cleo)
	looks := func(want ...int64) {
		t.Helper()
		var got []int64
		view(t, s, func(tx *Tx) (err error) {
			got, err = column[int64](tx, "SELECT look_at FROM plot ORDER BY id", nil)
			return err
		})
		equal(t, got, want, "looks")
	}
	const later = 7 * day
	execSQL(t, s, "UPDATE plot SET look_at = $1", noon+later)
	write(t, s, func(tx *Tx) error { return tx.LookAtPlace(1, noon) })
	setLook(t, s, ben, 1, noon+50)      // after the mark, and due before the bell comes
	ok(t, s.LookAtPlaces(ctx, noon+60)) // which is a minute later
	looks(noon, noon+50, noon+later)    // ben's screen has just shown what is new: the bell must know when
	setLook(t, s, ana, 1, noon+later)
	write(t, s, func(tx *Tx) error { return tx.LookAtPlace(1, noon+100) })
	write(t, s, func(tx *Tx) error { return second(tx.lookAtSome(noon + 100)) })
	setLook(t, s, ana, 1, noon+later)
	write(t, s, func(tx *Tx) error { return tx.LookAtPlace(1, noon+200) })
	ok(t, s.LookAtPlaces(ctx, noon+200))
	looks(noon+200, noon+50, noon+later)
	// Weather concerns the plots that were planted before it, also if more is asked for meanwhile.
	execSQL(t, s, "UPDATE plot SET look_at = $1", noon+later)
	write(t, s, func(tx *Tx) error { return tx.lookAtPlace(1, noon+300, aPlot().Planted) })
	write(t, s, func(tx *Tx) error { return tx.lookAtPlace(1, noon+300, aPlot().Planted-1) })
	write(t, s, func(tx *Tx) error { return tx.lookAtPlace(2, noon+300, aPlot().Planted-1) })
	ok(t, s.LookAtPlaces(ctx, noon+300))
	looks(noon+300, noon+300, noon+later)
}
