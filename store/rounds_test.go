package store

import (
	"errors"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
)

// readAgain writes the rounds of growers, and returns whether each had not changed, and whether they were read again.
func readAgain(t *testing.T, run *Rounds, read []DueGrower, reads *atomic.Int64) (same []bool, again bool) {
	t.Helper()
	before := reads.Load()
	ok(t, run.Write(ctx, func(tx *Tx) (bool, error) {
		var err error
		if same, err = tx.Unchanged(noon, read); err != nil {
			return true, err
		}
		var rounds []Round
		for i, g := range read {
			if same[i] {
				rounds = append(rounds, Round{Looks: []NextLook{{PlotID: g.Plots[0].ID, At: noon + day}}})
			}
		}
		return true, second(tx.WriteRounds(noon, rounds))
	}))
	return same, reads.Load() > before
}

const toSwahili = "UPDATE grower SET language = 'sw' WHERE id = "

// othersWrite are ways to write between the reading and the writing of a batch.
var othersWrite = map[string]struct {
	write   func(t *testing.T, s *Store)
	changed bool // the grower of ben
	again   bool // the growers are read again
}{
	"nobody": {func(*testing.T, *Store) {}, false, false},
	"who reads": {func(t *testing.T, s *Store) {
		ok(t, s.View(ctx, func(tx *Tx) error { return second(tx.DueGrowers(noon, 9)) }))
	}, false, false},
	"a callback":                  {func(t *testing.T, s *Store) { execSQL(t, s, toSwahili+"2") }, true, true},
	"a callback of another phone": {func(t *testing.T, s *Store) { withPlot(t, s, cleo) }, false, true},
	"a callback that changes no records": {func(t *testing.T, s *Store) {
		write(t, s, func(tx *Tx) error {
			start, err := tx.StartStep(ReplyKey{}, ben, "ussd", noon)
			return errors.Join(err, tx.SaveSession(start.Session), tx.StoreReply("local", "a", ben, nil, noon))
		})
	}, false, false},
	"the outbox": {func(t *testing.T, s *Store) {
		enqueue(t, s, text("a", ben, noon))
		settle(t, s, noon, claim(t, s, noon)[0].Took("n-1"))
	}, false, false},
	"background work": {func(t *testing.T, s *Store) {
		ok(t, s.Background(ctx, func(tx *Tx) (bool, error) { return true, tx.do(toSwahili + "2") }))
	}, true, true},
	"another connection": {func(t *testing.T, s *Store) {
		if s.server != nil {
			execSQL(t, s, toSwahili+"2")
			return
		}
		db := openPool(s.path, writerDSN, hardening, 1) // as a command has it
		_, err := db.ExecContext(ctx, toSwahili+"2")
		ok(t, errors.Join(err, db.Close()))
	}, true, true},
	"another run": {func(t *testing.T, s *Store) {
		run := s.Rounds()
		read, err := run.Due(ctx, noon, 9)
		ok(t, err)
		readAgain(t, run, read[1:2], new(atomic.Int64))
	}, true, true},
}

// What was planned for a grower is written if nobody else has changed the grower meanwhile, however that is written. A
// file reads the grower again only if others wrote what plans are made of.
func TestRoundsNoticeWhatOthersWrite(t *testing.T) {
	for name, tt := range othersWrite {
		t.Run(name, func(t *testing.T) {
			var reads atomic.Int64
			s := openNew(t, Options{OnStatement: func(query string) {
				if strings.HasPrefix(query, sqlDueAgain[:strings.Index(sqlDueAgain, "WHERE")]) {
					reads.Add(1)
				}
			}})
			withPlot(t, s, ana, ben)
			run := s.Rounds()
			ana, err := run.Due(ctx, noon, 1)
			ok(t, err)
			ben, err := run.Due(ctx, noon, 1, ana...)
			ok(t, err)
			tt.write(t, s)
			again := tt.again || s.server != nil
			for i, read := range [][]DueGrower{ana, ben} { // the round of ana leaves that of ben as it is
				same, readThem := readAgain(t, run, read, &reads)
				want := []bool{i == 0 || !tt.changed}
				errorIf(t, !slices.Equal(same, want), "batch %d: the same: %v, want %v", i, same, want)
				errorIf(t, readThem != again, "batch %d: read again: %v, want %v", i, readThem, again)
			}
		})
	}
}

// What others write while a batch is read is noticed, although the batch is as it was before.
func TestRoundsNoticeWhatIsWrittenWhileTheyRead(t *testing.T) {
	var armed atomic.Bool
	var s *Store
	s = openNew(t, Options{OnStatement: func(query string) {
		if strings.HasPrefix(query, sqlDueTold[:strings.Index(sqlDueTold, "WHERE")]) && armed.Swap(false) {
			execSQL(t, s, toSwahili+"1")
		}
	}})
	withPlot(t, s, ana)
	run := s.Rounds()
	armed.Store(true)
	read, err := run.Due(ctx, noon, 1)
	ok(t, err)
	errorIf(t, armed.Load() || read[0].Language != "en", "written: %v; read: %+v", !armed.Load(), read)
	same, _ := readAgain(t, run, read, new(atomic.Int64))
	errorIf(t, same[0], "a change while the batch was read is not noticed")
}

// A batch that is read just before others commit a change is read again.
func TestRoundsNoticeWhatIsCommittedAfterTheyRead(t *testing.T) {
	sqliteOnly(t)
	var read []DueGrower
	var run *Rounds
	s := openNew(t, Options{Fault: func(at Point) (err error) {
		if at == AtCommit && run != nil && read == nil {
			read, err = run.Due(ctx, noon, 1)
		}
		return err
	}})
	withPlot(t, s, ana)
	run = s.Rounds()
	execSQL(t, s, toSwahili+"1")
	fatalIf(t, len(read) != 1 || read[0].Language != "en", "%+v", read)
	same, _ := readAgain(t, run, read, new(atomic.Int64))
	errorIf(t, same[0], "a change that was committed after the batch was read is not noticed")
}

// DueGrowers reads nothing of the tables that count as beside plans, and what is deleted there takes no other rows with
// it.
func TestTablesBesidePlans(t *testing.T) {
	var read []string
	s := openNew(t, Options{OnStatement: func(query string) { read = append(read, query) }})
	withPlot(t, s, ana)
	write(t, s, func(tx *Tx) error {
		read = nil
		_, err := tx.DueGrowers(noon, 9)
		for _, query := range read {
			errorIf(t, changesPlans(query), "counts as a change: %s", query)
		}
		return err
	})
	read = append(read, sqlWorked, sqlTurnsOfPlots, sqlToldTurns, sqlHistoryOf, sqlDueShare, sqlDueAgain)
	fatalIf(t, len(read) < 11, "only %d queries: %q", len(read), read)
	for _, table := range besidePlans {
		name := regexp.MustCompile(`\b` + table + `\b`)
		for _, query := range read {
			errorIf(t, name.MatchString(query), "%s is read by %s", table, query)
		}
	}
	if s.server != nil {
		return
	}
	links := 0
	write(t, s, func(tx *Tx) error {
		return tx.each(`SELECT m.name, f."table" FROM sqlite_schema m, pragma_foreign_key_list(m.name) f`, nil,
			func(scan func(...any) error) error {
				var from, to string
				err := scan(&from, &to)
				links++
				errorIf(t, slices.Contains(besidePlans, to) && !slices.Contains(besidePlans, from),
					"a row of %s may be deleted with one of %s", from, to)
				return err
			})
	})
	fatalIf(t, links < 30, "only %d references between tables", links)
}

func TestChangesPlans(t *testing.T) {
	for query, want := range map[string]bool{
		"SELECT 1": false, "UPDATE message\n\tSET tries = 1": false, "INSERT INTO message_plot (message_id)": false,
		"DELETE FROM session WHERE phone = $1": false, "DELETE FROM session": false, "ROLLBACK TO part": false,
		"UPDATE plot SET look_at = 1": true, "DELETE FROM grower WHERE id = 1": true, "INSERT INTO told (day)": true,
		"WITH x AS (SELECT 1) UPDATE plot SET no = 1": true, "INSERT OR IGNORE INTO message (id)": true,
		"CREATE TABLE message (id)": true, "UPDATE": true, "": true,
	} {
		equal(t, changesPlans(query), want, "%q", query)
	}
}
