package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/store/recordfile"
	"rowbell/store/testrun"
)

// fileStore opens a new store in a file, whatever database the tests run on.
func fileStore(t testing.TB) *Store {
	t.Helper()
	file, err := migrated()
	ok(t, err)
	path := filepath.Join(t.TempDir(), "rowbell.db")
	writeFile(t, path, file)
	return openWith(t, path, Options{})
}

// emptyTarget returns where records may be copied to: an empty database on the server of the tests, or a file that does
// not exist.
func emptyTarget(t testing.TB) string {
	t.Helper()
	if testrun.OnServer() {
		return testrun.EmptyDatabase(t)
	}
	return filepath.Join(t.TempDir(), "copy.db")
}

// circleRows fill the tables of circles, after withTwoPlots.
var circleRows = []string{
	"INSERT INTO circle (number, place_id, made_at, plan_at) VALUES (5724, 1, 1, 2)",
	"INSERT INTO circle_member (circle_id, grower_id, name, joined, keeper, guest, consent_at, consent_text, " +
		"language, channel) VALUES (1, 1, 'Ana', 1, 1, 0, 1, '2026-1', 'en', 'ussd')",
	"INSERT INTO circle_tool (circle_id, name, width_cm, max_width_cm, price, member_day, guest_day, broken) " +
		"VALUES (1, 'red', 15, 0.5, 9223372036854775807, 1, 2, 0)",
	"INSERT INTO circle_turn (tool_id, day, member_id, plot_id, window_no, edition, opens, best, closes, late) " +
		"VALUES (1, 20000, 1, 1, 1, 0, 20000, 20001, 20002, 1)",
	"INSERT INTO circle_wish (plot_id, window_no, extra_days, skip) VALUES (1, 1, 2, 0)",
	`INSERT INTO circle_told (plot_id, body) VALUES (1, '{"on":20000, "window":1}')`,
	"INSERT INTO circle_ask (circle_id, kind, from_id, to_id, day, other_day, days, amount, area_m2, for_circle, " +
		"asked_day, until_day) VALUES (1, 8, 1, 1, 20000, 0, 0, 500, 0.25, 1, 20000, 20030)",
	"INSERT INTO circle_entry (circle_id, day, debtor_id, amount, kind, tool_id, turn_day) " +
		"VALUES (1, 20000, 1, 1, 1, 1, 20000)",
}

// rowsOfStaff fill the tables that staff use.
var rowsOfStaff = []string{
	"INSERT INTO staff (name, role, created_at) VALUES ('mira', 2, 1)",
	"INSERT INTO staff_place (staff_id, place_id) VALUES (1, 1)",
	"INSERT INTO trail (at, staff_id, who, what, grower_id) VALUES (1, 1, 'mira', 'logged a visit', 1)",
	"INSERT INTO report_field (place_id, what, month, week, n, bins) VALUES (1, 2, 670, 2900, 3, '[4,3]')",
	"INSERT INTO report_text (place_id, week, kind, queued, claimed, accepted, delivered, refused, expired, " +
		"withdrawn, unknown, segments, micros) VALUES (0, 2900, 'reply', 1, 2, 3, 4, 5, 6, 7, 8, 9, 10)",
}

// richRecords fills every table, two of them with more than a page of rows.
func richRecords(t testing.TB, s *Store) {
	t.Helper()
	withTwoPlots(t, s, ana)
	withPlot(t, s, ben, cleo)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, engine.Pass{On: day0 - 1, With: engine.ByTool, Hours: 0.1, People: 2}),
			l.See(1, engine.Sighting{On: day0 - 1, Leaves: 2}), l.Stop(), l.Start())
	})
	enqueue(t, s, reminder(text("r", ana, noon), engine.KindOpen, 1, 1, 2))
	enqueue(t, s, text("a", cleo, noon))
	ok(t, try(s, cleo, noon, (*Ledger).Erase)) // leaves an id that is never used again
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "k", ana, []byte{0, 255}, noon) })
	for _, query := range append(slices.Concat(circleRows, rowsOfStaff),
		"INSERT INTO weather (place_id, day, min_c, max_c) VALUES (1, 20000, 20.1, 1e300)",
		"INSERT INTO weather (place_id, day, rain_mm) VALUES (1, 20001, -0.0), (1, 20002, 4.9e-324)",
		"INSERT INTO place_look (place_id, asked_at, planted_until, after_grower) VALUES (1, 1, 2, 3)",
		"INSERT INTO letter (who, made_at, filter, words, begins_day, begins_hour, until_day, quiet_hour, confirmed, "+
			`last_grower) VALUES ('mira', 1, '{}', '{"en":"é"}', 20000, 8, 20001, 20, 2, 3)`,
		"INSERT INTO letter_place (letter_id, place_id, grower) VALUES (1, 1, 2)",
		"INSERT INTO told (plot_id, window_no, edition, kind, day) VALUES (1, 1, 0, 2, 20000)",
		`INSERT INTO correction (plot_id, at, what, was, now, channel) VALUES (1, 5, 'pass', '{ "a":1}', 'null', '')`,
		"INSERT INTO trial (grower_id, plot_a, plot_b, way_a, way_b, begun_day) VALUES (1, 1, 2, 255, 0, 20000)",
		"INSERT INTO session (phone, channel, network, state, saved_at, expires_at) "+
			"VALUES ('+447700900001', 'Sms', '', x'', 1, 2)",
		"INSERT INTO prompt (phone, body, asked_at, until) VALUES ('+447700900001', x'7b7d', -9223372036854775808, 1)",
		"INSERT INTO exchange (phone, at, mark, same, fruitless, hour_at, answers, pauses, until, flooded) "+
			"VALUES ('+447700900001', 1, x'000102030405060708090a0b0c0d0e0f', 1, 1, 1, 1, 1, 1, 0)",
		"INSERT INTO move_wrong (day, wrong) VALUES (20000, 3)",
		"INSERT INTO early_receipt (gateway, network_id, state, at, reason) VALUES ('local', 'n1', 'delivered', 1, '')",
		"INSERT INTO trouble (grower_id, kind, day) VALUES (1, 2, 20000)",
		"INSERT INTO contact (plot_id, at, day, what, window_no, reasons) VALUES (1, 1, 20000, 2, 1, 3)",
		"INSERT INTO lease (name, holder, number, until, done_at) VALUES ('upkeep', 'rowbell', 3, 0, 4)",
		"INSERT INTO process (name, number, until, version, schema) VALUES ('rowbell', 1, 0, '1', 17)") {
		if s.server != nil {
			query = strings.NewReplacer("x''", `''::bytea`, "x'", `'\x`).Replace(query)
		}
		execSQL(t, s, query)
	}
	write(t, s, func(tx *Tx) error {
		hash := func(i int) []byte { return slices.Concat([]byte{byte(i >> 8), byte(i)}, make([]byte, 30)) }
		err := errors.Join(tx.do("INSERT INTO session (phone, channel, network, state, saved_at, expires_at) "+
			"VALUES ('+447700900001', 'ussd', $1, $2, 1, 2)", "né\x00", []byte{0, 255}),
			tx.do("INSERT INTO move_code (hash, grower_id, until) VALUES ($1, 1, 9)", hash(1)),
			tx.do("INSERT INTO staff_link (hash, staff_id, until) VALUES ($1, 1, 9)", hash(3)),
			tx.do("INSERT INTO move_try (hash, wrong, until) VALUES ($1, 1, 9)", hash(2)),
			tx.do("INSERT INTO consent_text (version, language, body) VALUES ('2026-1', 'en', $1)", "two\nlines"))
		for i := range rowsOfPage + 1 {
			err = errors.Join(err, tx.do("INSERT INTO opt_out (hash, at) VALUES ($1, $2)", hash(i+7), i))
		}
		for i := range rowsOfPage {
			err = errors.Join(err, tx.do("INSERT INTO spend (scope, day, texts, segments, micros) "+
				"VALUES ($1, $2, 1, 1, 1)", fmt.Sprint("number/", i%1900), i))
		}
		return err
	})
	for _, sum := range sumsOf(t, s) {
		fatalIf(t, sum.Rows == 0, "the table %s is empty: fill it", sum.Table)
	}
}

func sumsOf(t testing.TB, s *Store) (list []recordfile.Sum) {
	t.Helper()
	view(t, s, func(tx *Tx) (err error) { list, err = tx.sums(func() {}); return err })
	return list
}

func lastIDsOf(t testing.TB, s *Store) (ids map[string]int64) {
	t.Helper()
	view(t, s, func(tx *Tx) (err error) { ids, err = tx.lastIDs(); return err })
	return ids
}

func export(t testing.TB, s *Store, phones ...Phone) (all []string) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		for _, p := range phones {
			data, err := tx.PersonalData(p, noon)
			if err != nil {
				return err
			}
			b, err := json.Marshal(data)
			all = append(all, string(b))
			if err != nil {
				return err
			}
		}
		return nil
	})
	return all
}

// There and back: each row is the same, octet by octet, and so are the next ids.
func TestCopyThereAndBack(t *testing.T) {
	first := fileStore(t)
	richRecords(t, first)
	want, person := sumsOf(t, first), export(t, first, ana, ben)
	ids := lastIDsOf(t, first)
	there, back := emptyTarget(t), filepath.Join(t.TempDir(), "back.db")
	from := shut(t, first)
	for _, to := range []string{there, back} {
		c, err := Copy(ctx, CopyOptions{From: from, To: to, Now: noon})
		ok(t, err)
		equal(t, c.Tables, want, "the sums after the copy")
		s := openWith(t, to, Options{Existing: true})
		equal(t, sumsOf(t, s), want, "the sums in %s", s.Name())
		equal(t, export(t, s, ana, ben), person, "what is stored about persons")
		now := lastIDsOf(t, s)
		maps.DeleteFunc(now, func(name string, _ int64) bool { return ids[name] == 0 }) // a server counts more
		equal(t, now, ids, "the last ids")
		_, err = Open(ctx, from, Options{})
		wantErr(t, err, ErrMoved, "open what was copied")
		errorIf(t, err == nil || !strings.Contains(err.Error(), DisplayName(to)), "it does not say where to: %v", err)
		if s.server != nil { // SQLite has no negative zero
			execSQL(t, s, "UPDATE weather SET rain_mm = '-0'::float8 WHERE rain_mm = 0")
		}
		from = shut(t, s)
	}
	s := openWith(t, back, Options{Existing: true})
	withPlot(t, s, cleo)
	if last := number(t, s, "SELECT max(id) FROM grower"); last != 4 {
		t.Errorf("the next grower has the id %d, want 4: 3 was used", last)
	}
	intact(t, s)
}

// However often and wherever a copy ends, it goes on.
func TestCopyGoesOnWhereItEnded(t *testing.T) {
	first := fileStore(t)
	richRecords(t, first)
	want := sumsOf(t, first)
	from, to := shut(t, first), emptyTarget(t)
	var steps []string
	for {
		calls := 0
		c, err := Copy(ctx, CopyOptions{From: from, To: to, Now: noon, step: func(what string) error {
			if calls++; calls > 1 && !slices.Contains(steps, what) || len(steps) == 0 {
				steps = append(steps, what)
				return errBad
			}
			return nil
		}})
		if err == nil {
			equal(t, c.Tables, want, "the sums")
			break
		}
		fatalIf(t, !errors.Is(err, errBad), "%v", err)
		if what := steps[len(steps)-1]; what != "mark the target" {
			_, err = Open(ctx, to, Options{})
			wantErr(t, err, ErrUnfinish, "open before %s", what)
		}
		if steps[len(steps)-1] != "finish the target" {
			ok(t, mayOpen(from))
		}
	}
	equal(t, len(steps), len(transferred)+4, "steps")
	equal(t, sumsOf(t, openWith(t, to, Options{Existing: true})), want, "the sums in the target")
	wantErr(t, mayOpen(from), ErrMoved, "the source")
}

// A copy that ended after it had marked the source cannot become a rehearsal: then nobody could open either side. It
// can only be finished.
func TestNoRehearsalOfMovedRecords(t *testing.T) {
	from, to := shut(t, openWithPlot(t, ana)), filepath.Join(t.TempDir(), "to.db")
	o := CopyOptions{From: from, To: to, step: func(what string) error {
		if what == "finish the target" {
			return errBad
		}
		return nil
	}}
	wantErr(t, second(Copy(ctx, o)), errBad, "a copy that is cut short")
	o.step, o.Rehearse, o.Anew = nil, true, true
	wantErr(t, second(Copy(ctx, o)), ErrMoved, "a rehearsal")
	o.Rehearse = false
	ok(t, second(Copy(ctx, o)))
	ok(t, mayOpen(to))
}

func mayOpen(db string) error {
	s, err := Open(ctx, db, Options{Existing: true})
	if err != nil {
		return err
	}
	return s.Close()
}

// A source that was changed between two parts of a copy is found out, and not marked; --anew copies it.
func TestCopyTellsThatTheSourceWasChanged(t *testing.T) {
	s := fileStore(t)
	richRecords(t, s)
	from, to := shut(t, s), emptyTarget(t)
	o := CopyOptions{From: from, To: to, Now: noon, step: func(what string) error {
		if what == "write plot" {
			return errBad
		}
		return nil
	}}
	_, err := Copy(ctx, o)
	wantErr(t, err, errBad, "the first part")
	s = openAt(t, from)
	execSQL(t, s, "UPDATE grower SET seen_at = seen_at + 1 WHERE id = 2")
	want := sumsOf(t, s)
	closed(t, s)
	o.step = nil
	_, err = Copy(ctx, o)
	var changed *ChangedError
	fatalIf(t, !errors.As(err, &changed), "%v", err)
	equal(t, changed.Tables, []string{"grower"}, "the tables that differ")
	ok(t, mayOpen(from))
	o.Anew = true
	c, err := Copy(ctx, o)
	ok(t, err)
	equal(t, c.Tables, want, "the sums")
}

// Ids that were used in the source, and may be used again in the target, are a difference.
func TestCopyComparesTheLastIDs(t *testing.T) {
	source, target := fileStore(t), fileStore(t)
	withPlot(t, source, ana)
	withPlot(t, target, ana)
	execSQL(t, target, "UPDATE sqlite_sequence SET seq = 0 WHERE name = 'plot'")
	w := &copyWork{CopyOptions: CopyOptions{Progress: func(int, int) {}}, from: source, to: target}
	err := source.View(ctx, func(tx *Tx) error { return second(w.compare(ctx, tx)) })
	var changed *ChangedError
	errorIf(t, !errors.As(err, &changed) || !slices.Contains(changed.Tables, "the ids of plot"), "%v", err)
}

func TestCopyRefuses(t *testing.T) {
	s := openWithPlot(t, ana)
	from := addressOf(s)
	to := filepath.Join(t.TempDir(), "to.db")
	try := func(o CopyOptions) error { _, err := Copy(ctx, o); return err }
	wantErr(t, try(CopyOptions{From: from, To: to}), ErrInUse, "a source that is open")
	closed(t, s)
	other := fileStore(t)
	wantErr(t, try(CopyOptions{From: from, To: addressOf(other)}), ErrInUse, "a target that is open")
	withPlot(t, other, ben)
	path := shut(t, other)
	wantErr(t, try(CopyOptions{From: from, To: path}), ErrOtherRecords, "a target with records")
	wantErr(t, try(CopyOptions{From: from, To: path, Anew: true}), ErrOtherRecords, "that, anew")
	errorIf(t, try(CopyOptions{From: from, To: from}) == nil, "a copy into itself was made")
	none := filepath.Join(t.TempDir(), "none.db")
	wantErr(t, try(CopyOptions{From: none, To: to}), ErrNoRecords, "no source")
	wantErr(t, second(os.Stat(none+lockSuffix)), os.ErrNotExist, "a lock file beside no source")

	ok(t, try(CopyOptions{From: from, To: to, Rehearse: true}))
	ok(t, mayOpen(from))
	ok(t, mayOpen(to))
	_, err := Open(ctx, to, Options{Serving: true})
	wantErr(t, err, ErrRehearsal, "to serve a rehearsal")
	wantErr(t, try(CopyOptions{From: from, To: to}), ErrRehearsal, "a copy into a rehearsal")
	wantErr(t, try(CopyOptions{From: path, To: to}), ErrUnfinish, "other records into a rehearsal")
	ok(t, try(CopyOptions{From: from, To: to, Anew: true}))
	wantErr(t, try(CopyOptions{From: from, To: filepath.Join(t.TempDir(), "second.db")}), ErrMoved, "moved records")
	ok(t, mayOpen(to))
}

// On a server, neither the service nor a command can be opened while a copy runs.
func TestCopyIsAloneOnAServer(t *testing.T) {
	serverOnly(t)
	from := shut(t, openWithPlot(t, ana))
	tried := 0
	_, err := Copy(ctx, CopyOptions{From: from, To: filepath.Join(t.TempDir(), "to.db"), step: func(string) error {
		tried++
		wantErr(t, mayOpen(from), ErrCopying, "open the source meanwhile")
		_, err := Copy(ctx, CopyOptions{From: from, To: filepath.Join(t.TempDir(), "b.db")})
		wantErr(t, err, ErrInUse, "a second copy")
		return errBad
	}})
	wantErr(t, err, errBad, "the copy")
	equal(t, tried, 1, "steps")
	ok(t, mayOpen(from))
	s := openAt(t, from)
	write(t, s, func(tx *Tx) error { return second(tx.StartProcess("1", noon)) })
	closed(t, s)
	_, err = Copy(ctx, CopyOptions{From: from, To: filepath.Join(t.TempDir(), "to.db")})
	wantErr(t, err, ErrInUse, "a service that was killed within the last minute")
	s = openAt(t, from)
	execSQL(t, s, "UPDATE process SET until = 0")
	closed(t, s)
	ok(t, second(Copy(ctx, CopyOptions{From: from, To: filepath.Join(t.TempDir(), "moved.db")})))
	wantRows(t, openWith(t, from, Options{copying: true}), map[string]int64{"process": 0})
}

// A process that stood still while its records were moved is told so before it goes on.
func TestAProcessIsToldThatItsRecordsWereMoved(t *testing.T) {
	serverOnly(t)
	s := open(t)
	number := get(t, s, func(tx *Tx) (int64, error) { return tx.StartProcess("1", noon) })
	see := func() error {
		return s.InTx(ctx, func(tx *Tx) error { return second(tx.RenewProcess(number, noon)) })
	}
	ok(t, see())
	write(t, s, func(tx *Tx) error { return tx.setMark(metaMoved, movedMark{To: "elsewhere"}) })
	wantErr(t, see(), ErrMoved, "after the move")
}

// A service that was cut off while its records were moved gets no connection to the old ones, so it acknowledges
// nothing there.
func TestAServiceThatWasCutOffWritesNothingAfterAMove(t *testing.T) {
	serverOnly(t)
	db := shut(t, open(t))
	s, other := openWith(t, db, Options{Serving: true}), openWith(t, db, Options{copying: true})
	withPlot(t, s, ana)
	write(t, other, func(tx *Tx) error { return tx.setMark(metaMoved, movedMark{To: "elsewhere"}) })
	execSQL(t, other, "SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity "+
		"WHERE datname = current_database() AND application_name = 'rowbell serve'")
	wantErr(t, try(s, ana, noon, (*Ledger).Stop), ErrMoved, "a write")
	wantNumber(t, other, 0, "SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL")
}

// Every table is either transferred or has a reason why not. Both databases have the same columns of the same kinds.
func TestEveryTableIsTransferred(t *testing.T) {
	stores := []*Store{fileStore(t)}
	if testrun.OnServer() {
		stores = append(stores, open(t))
	}
	var want []table
	for _, s := range stores {
		view(t, s, func(tx *Tx) error {
			query := "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
			if s.server != nil {
				query = "SELECT relname::text FROM pg_class WHERE relnamespace = current_schema()::regnamespace " +
					"AND relkind IN ('r', 'p')"
			}
			names, err := column[string](tx, query, nil)
			for _, name := range names {
				in := slices.ContainsFunc(transferred, func(t table) bool { return t.Name == name })
				errorIf(t, in == (leftBehind[name] != ""), "%s: give the table %s a line in transferred or leftBehind",
					s.Name(), name)
			}
			list, more := tx.tables()
			equal(t, len(list), len(transferred), "tables in %s", s.Name())
			if want == nil {
				want = list
			}
			equal(t, list, want, "tables of %s", s.Name())
			return errors.Join(err, more)
		})
	}
}

// The order of the rows must be the same on both databases, so the key must be a unique index, and its text compared
// octet by octet.
func TestRowsOfATableComeInTheOrderOfItsKey(t *testing.T) {
	s := open(t)
	view(t, s, func(tx *Tx) error {
		tables, err := tx.tables()
		for _, table := range tables {
			after := make([]any, len(table.key))
			_, more := tx.page(table, after, 1)
			err = errors.Join(err, more)
			if tx.pg != nil {
				continue
			}
			query := "EXPLAIN QUERY PLAN SELECT * FROM " + table.Name + " WHERE (" + strings.Join(table.key, ", ") +
				") > (" + strings.TrimSuffix(strings.Repeat("?, ", len(after)), ", ") + ") ORDER BY " +
				strings.Join(table.key, ", ")
			err = errors.Join(err, tx.each(query, after, func(scan func(...any) error) error {
				var detail string
				err := scan(new(any), new(any), new(any), &detail)
				errorIf(t, strings.Contains(detail, "TEMP B-TREE") || strings.HasPrefix(detail, "SCAN"),
					"a page of %s: %s", table.Name, detail)
				return err
			}))
		}
		return err
	})
}
