package store

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// overwriting returns options that replace even newer records, and keep them under the name to + ".aside".
func overwriting(from, to string) RestoreOptions {
	return RestoreOptions{From: from, To: to, Now: noon + 2*day, DiscardNewer: true, Aside: to + ".aside"}
}

// restoreTo replaces the records at to with a backup. No process may have these records open.
func restoreTo(t testing.TB, from, to string) Restored {
	t.Helper()
	r, err := Restore(ctx, overwriting(from, to))
	ok(t, err)
	nothingUnfinished(t, filepath.Dir(to))
	left, _ := filepath.Glob(to + "-[wsj][aho]*") // -wal, -shm, -journal
	errorIf(t, len(left) > 0, "left beside the new records: %v", left)
	return r
}

// A restore to a new file brings back everything, except dialogues, prompts, move codes and waiting texts.
func TestRestoredIsWhatWasBackedUp(t *testing.T) {
	sqliteOnly(t)
	parallel.Store(t, true) // openAt must not make the test parallel, because the test changes a flag for all tests
	// Each check creates ten files and syncs them, which is slow. So there are fewer checks than the default.
	if checks := flag.Lookup("rapid.checks"); checks.Value.String() == checks.DefValue {
		defer func() { _ = flag.Set(checks.Name, checks.DefValue) }()
		_ = flag.Set(checks.Name, "20")
	}
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "")
		ok(t, err)
		s := openAt(t, filepath.Join(dir, "rowbell.db"))
		records(rt, t, s)
		backup := filepath.Join(dir, "backup.db")
		ok(t, second(Backup(ctx, s.path, backup, BackupOptions{})))
		shut(t, s)
		live, kept := dump(t, s.path), dump(t, backup)
		fatalIf(rt, !reflect.DeepEqual(live, kept), "the backup is not what was backed up")
		to := filepath.Join(dir, "restored.db")
		restoreTo(t, backup, to)
		restored := dump(t, to)
		for table := range live {
			switch table {
			case "session", "prompt", "move_code":
				equal(rt, restored[table], nil, "%s", table)
			case "message": // waiting texts must be withdrawn, those being sent in doubt, and the others unchanged
				after := byKey(restored[table])
				for key, row := range byKey(live[table]) {
					is := after[key]
					want := row
					for _, change := range [][2]string{{"'queued'", "'withdrawn'"}, {"'claimed'", "'unknown'"}} {
						if strings.Contains(row, change[0]) {
							want = change[1]
						}
					}
					errorIf(rt, !strings.Contains(is, want), "message\nwas %s\n is %s", row, is)
				}
			case "told", "plot": // changed by withdrawing the texts, see TestRestoreSendsNothingOld
				is, was := len(restored[table]), len(live[table])
				errorIf(rt, is > was || table == "plot" && is != was, "%s: %d rows, were %d", table, is, was)
			case "sqlite_sequence": // the next ids differ: a restore skips ids that may have been used
			default:
				equal(rt, restored[table], live[table], "%s", table)
			}
		}
		// A second backup and a second restore must change nothing except the next ids.
		delete(restored, "sqlite_sequence")
		again := filepath.Join(dir, "again.db")
		ok(t, second(Backup(ctx, to, filepath.Join(dir, "second.db"), BackupOptions{})))
		restoreTo(t, filepath.Join(dir, "second.db"), again)
		twice := dump(t, again)
		delete(twice, "sqlite_sequence")
		errorIf(rt, !reflect.DeepEqual(twice, restored), "a second restore changed the records")
	})
}

// byKey returns rows of the table of messages by the key of the message.
func byKey(rows []string) map[string]string {
	key := regexp.MustCompile(`'\d+/\d+'`)
	m := map[string]string{}
	for _, row := range rows {
		m[key.FindString(row)] = row
	}
	return m
}

// records fills a store with random data.
func records(rt *rapid.T, t testing.TB, s *Store) {
	for i := range rapid.IntRange(0, 6).Draw(rt, "growers") {
		p := numbered(i)
		ledger(t, s, p, noon, func(l *Ledger) error {
			err := consent(l)
			for range rapid.IntRange(0, 3).Draw(rt, "plots") {
				no, add := l.AddPlot(aPlot(), aTool())
				err = errors.Join(err, add)
				if rapid.Bool().Draw(rt, "pass") {
					err = errors.Join(err, l.LogPass(no, engine.Pass{On: day0, With: engine.ByTool,
						Way: engine.Along, Left: engine.Few, Hours: 3, People: 1}))
				}
				if rapid.Bool().Draw(rt, "closed") {
					err = errors.Join(err, l.ClosePlot(no))
				}
			}
			return err
		})
		for n := range rapid.IntRange(0, 3).Draw(rt, "texts") {
			m := text(fmt.Sprintf("%d/%d", i, n), p, noon)
			m.GrowerID = number(t, s, "SELECT id FROM grower WHERE phone = $1", p.E164())
			kinds := rapid.SampledFrom([]engine.Kind{0, engine.KindOpen, engine.KindMoved})
			if kind := kinds.Draw(rt, "reminder"); kind != 0 {
				m = reminder(m, kind, m.GrowerID)
			}
			enqueue(t, s, m)
		}
		ends := []func(*Ledger) error{(*Ledger).Stop, (*Ledger).Unlink, (*Ledger).Erase, func(l *Ledger) error {
			return errors.Join(
				l.tx.SaveSession(Session{Phone: p, Channel: "ussd", State: []byte("s"), ExpiresAt: noon + 5*day}),
				l.tx.SavePrompt(Prompt{Phone: p, Body: []byte("asked"), Until: noon + 5*day}),
				l.tx.StoreReply("local", "k"+p.E164(), p, []byte("r"), noon))
		}, func(*Ledger) error { return nil }}
		ledger(t, s, p, noon, ends[rapid.IntRange(0, 4).Draw(rt, "then")])
	}
	write(t, s, func(tx *Tx) error {
		list, err := tx.Claim(noon, local(rapid.IntRange(0, 3).Draw(rt, "claimed")))
		for i, m := range list.Texts[:min(2, len(list.Texts))] { // a third text stays claimed
			err = errors.Join(err, tx.Settle(noon, []Settlement{m.Took("net"), m.Refuse("no")}[i]))
		}
		return err
	})
}

// A text that waited at the time of the backup is not sent after the restore. It counts as not sent, and the bell (the
// reminder job) looks at its plot again.
func TestRestoreSendsNothingOld(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	ringing(t, s, ana)
	enqueue(t, s, text("reply", ana, noon))
	enqueue(t, s, text("stranger", ben, noon))
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.SetLook(1, noon+9*day), tx.announce(1,
			engine.Window{Number: 1, Opens: day0, Best: day0 + 1, Closes: day0 + 2}))
	})
	backup := backupOf(t, s)
	to := filepath.Join(t.TempDir(), "new.db")
	r := restoreTo(t, backup, to)
	equal(t, r.Reconciled, Reconciled{Reminders: 1, Others: 2}, "reconciled")
	errorIf(t, r.Aside != "" || r.Replaced.Path != "", "replaced %+v", r)
	got := openAt(t, to)
	for query, want := range map[string]int64{
		"SELECT count(*) FROM message WHERE claim_at IS NOT NULL":                                                    0,
		"SELECT count(*) FROM message WHERE state = 'withdrawn' AND ended_at = " + strconv.FormatInt(noon+2*day, 10): 3,
		"SELECT count(*) FROM told":     0,
		"SELECT announced_no FROM plot": 0,
		"SELECT look_at FROM plot":      noon + 2*day,
		"SELECT count(*) FROM session":  0,
		"SELECT count(*) FROM prompt":   0,
		"SELECT count(*) FROM callback": 1,
		"SELECT count(*) FROM grower":   1,
	} {
		wantNumber(t, got, want, query)
	}
}

// A restore can replace records that cannot be read. Such a file and its write-ahead log are kept, even with
// DiscardOld.
func TestRestoreOverUnreadableRecords(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	backup := backupOf(t, s)
	shut(t, s)
	for _, c := range spoilt {
		to := filepath.Join(t.TempDir(), "rowbell.db")
		ok(t, copyFile(backup, to))
		c.spoil(t, to)
		head, _ := os.ReadFile(to)
		logged := len(head) > 0 && !strings.HasPrefix(string(head), "SQLite")
		if logged {
			writeFile(t, to+"-wal", []byte("a log"))
		}
		before, _ := os.ReadFile(to)
		r, err := Restore(ctx, RestoreOptions{From: backup, To: to, Now: noon, Aside: to + ".aside", DiscardOld: true})
		if c.name == "a directory" || errors.Is(c.is, ErrForeign) {
			errorIf(t, err == nil, "%s was replaced", c.name)
			continue
		}
		fatalIf(t, err != nil, "%s: %v", c.name, err)
		kept, _ := os.ReadFile(to + ".aside")
		errorIf(t, r.Damaged != nil && string(kept) != string(before), "%s: what was there is not kept", c.name)
		errorIf(t, r.Damaged == nil && second(os.Stat(to+".aside")) == nil, "%s: was to be thrown away", c.name)
		log, err := os.ReadFile(to + ".aside-wal")
		errorIf(t, logged && string(log) != "a log", "%s: its log is lost: %v", c.name, err)
		errorIf(t, second(os.Stat(to+"-wal")) == nil, "%s: the old log would be played into the new records", c.name)
		err = second(Inspect(ctx, to))
		errorIf(t, err != nil, "%s: %v", c.name, err)
	}
}

func TestRestoreRefuses(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	backup := backupOf(t, s)
	o := RestoreOptions{From: backup, To: s.path, Now: noon + day, Aside: s.path + ".aside"}
	wantErr(t, second(Restore(ctx, o)), ErrInUse, "while records are in use")
	ledger(t, s, ana, noon+2*day, (*Ledger).Visit)
	shut(t, s)
	other := openPool(s.path, writerDSN, hardening, 1) // another program that does not use the file lock
	ok(t, second(other.Exec("UPDATE grower SET seen_at = seen_at")))
	wantErr(t, second(Restore(ctx, o)), ErrInUse, "while another program has them open")
	closed(t, other)
	var newer *NewerError
	err := second(Restore(ctx, o))
	fatalIf(t, !errors.As(err, &newer), "over newer records: %v", err)
	equal(t, *newer, NewerError{Records: noon + 2*day, Backup: noon}, "over newer records")
	for _, from := range []string{s.path, filepath.Dir(s.path)} {
		o := o
		o.From = from
		errorIf(t, second(Restore(ctx, o)) == nil, "from %s it was done", from)
	}
	o.DiscardNewer = true
	ok(t, second(Restore(ctx, o)))
	r, err := Restore(ctx, o)
	ok(t, err)
	equal(t, r.Aside, o.Aside+"-2", "the second file laid aside")
}

// If the path is a symbolic link, the file behind it is replaced, and the link is not changed.
func TestRestoreBehindALink(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	backup := backupOf(t, s)
	shut(t, s)
	link, from := filepath.Join(t.TempDir(), "link.db"), filepath.Join(t.TempDir(), "from.db")
	ok(t, errors.Join(os.Symlink(s.path, link), os.Symlink(backup, from)))
	restoreTo(t, from, link)
	to, err := os.Readlink(link)
	errorIf(t, err != nil || to != s.path, "%s %v", to, err)
	equal(t, number(t, openAt(t, s.path), "SELECT count(*) FROM grower"), 1, "growers")
}

// A backup with an older schema is migrated before it replaces the records.
func TestRestoreOfAnOlderSchema(t *testing.T) {
	sqliteOnly(t)
	path, db := atFirst(t)
	putFirstRecords(t, db)
	closed(t, db)
	backup := filepath.Join(t.TempDir(), "backup.db")
	c, err := Backup(ctx, path, backup, BackupOptions{})
	fatalIf(t, err != nil || c.Schema != 1 || c.Growers != 2, "%+v %v", c, err)
	restoreTo(t, backup, path) // the replaced records have the old schema too
	c, err = Inspect(ctx, path)
	errorIf(t, err != nil || c.Schema != Schema() || c.Growers != 2 || c.OpenPlots != 2, "%+v %v", c, err)
}

const (
	crashRestore = "ROWBELL_TEST_CRASH_RESTORE"
	crashStep    = "ROWBELL_TEST_CRASH_STEP"
)

// A restore is killed before each of its steps. The file must contain all the old or all the new records, and the
// restore can be repeated.
func TestKilledRestore(t *testing.T) {
	sqliteOnly(t)
	if dir := os.Getenv(crashRestore); dir != "" {
		at, _ := strconv.Atoi(os.Getenv(crashStep))
		restoreUntilKilled(t, dir, at)
		return
	}
	s := openWithPlot(t, ana)
	backup := backupOf(t, s)
	withPlot(t, s, ben)
	shut(t, s)
	for at := 1; ; at++ {
		dir := t.TempDir()
		to := filepath.Join(dir, "rowbell.db")
		ok(t, errors.Join(copyFile(s.path, to), copyFile(backup, filepath.Join(dir, "backup.db"))))
		child := exec.Command(os.Args[0], "-test.run=^TestKilledRestore$")
		child.Env = append(os.Environ(), crashRestore+"="+dir, fmt.Sprintf("%s=%d", crashStep, at))
		out, err := child.CombinedOutput()
		c, whole := Inspect(ctx, to)
		fatalIf(t, whole != nil || c.Growers != 1 && c.Growers != 2, "killed at step %d: %+v %v", at, c, whole)
		if err == nil {
			errorIf(t, at < 8 || c.Growers != 1, "%d steps, %d growers: %s", at, c.Growers, out)
			return
		}
		ok(t, second(Restore(ctx, overwriting(filepath.Join(dir, "backup.db"), to))))
		again := openAt(t, to)
		wantNumber(t, again, 1, "SELECT count(*) FROM grower")
		intact(t, again)
		shut(t, again)
	}
}

// restoreUntilKilled runs a restore in this process, and kills the process before the step with the number at.
func restoreUntilKilled(t *testing.T, dir string, at int) {
	n := 0
	o := overwriting(filepath.Join(dir, "backup.db"), filepath.Join(dir, "rowbell.db"))
	o.step = func(string) {
		if n++; n == at {
			self, _ := os.FindProcess(os.Getpid())
			_ = self.Kill()
			select {} // wait until the process ends
		}
	}
	ok(t, second(Restore(ctx, o)))
}

// examplePhone returns the n-th of the phone numbers that are reserved for examples, beginning with +447700900000.
func examplePhone(n int) Phone { return Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

func numbered(n int) Phone { return examplePhone(200 + n) }

// Decisions that growers made after the backup must still be valid after a restore.
//
//revive:disable-next-line:function-length one history before and after a restore
func TestRestoreTakesDecisionsOver(t *testing.T) {
	sqliteOnly(t)
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
			tx.EraseUnlinked(byStaff, noon))
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
	sqliteOnly(t)
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

// An id that was used after the backup is not used again, even if the backup has no row of that table.
func TestRestoreSkipsIDsOfEmptyTables(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	backup := backupOf(t, s)
	used := enqueue(t, s, text("a", ana, noon))
	to := shut(t, s)
	restoreTo(t, backup, to)
	again := enqueue(t, openAt(t, to), text("b", ana, noon))
	errorIf(t, again <= used, "a text after the restore has the id %d, %d was used before", again, used)
}

// A restore reads both records in pages, and does something only for the growers whose records differ. So its memory
// and its statements do not grow with the number of growers.
func TestRestoreLooksOnlyAtDifferences(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	const growers = 300
	for i := range growers {
		ledger(t, s, numbered(i), noon, consent)
		if i%10 == 0 {
			ledger(t, s, numbered(i), noon, (*Ledger).Stop)
		}
	}
	ledger(t, s, ana, noon, (*Ledger).Stop) // without records
	backup := backupOf(t, s)
	ledger(t, s, numbered(1), noon+1, (*Ledger).Stop)
	ledger(t, s, numbered(2), noon+1, (*Ledger).Erase)
	o := overwriting(backup, shut(t, s))
	statements := 0
	o.onStatement = func(string) { statements++ }
	r, err := Restore(ctx, o)
	ok(t, err)
	equal(t, r.Reconciled, Reconciled{Stopped: 1, Erased: 1}, "reconciled")
	errorIf(t, statements > growers/3, "%d statements for %d growers, of whom two differ", statements, growers)
}

// What was spent after the backup still counts for the limits after the restore.
func TestRestoreKeepsWhatWasSpent(t *testing.T) {
	sqliteOnly(t)
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
