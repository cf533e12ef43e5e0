package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"strings"

	"rowbell/store/recordfile"
)

// CopyOptions say which records are copied, and where to. Each is the path of a file or the address of a server.
type CopyOptions struct {
	From, To string
	Now      int64
	Rehearse bool                    // leave the source as it is, and mark the target as a copy that nobody may serve
	Anew     bool                    // remove what an earlier copy, and only that, has left in the target
	Progress func(done, total int)   // called with the rows that were read and those that will be
	step     func(what string) error // for tests: called before each write
}

// Copied is the result of Copy.
type Copied struct {
	From, To string // without a password
	Tables   []recordfile.Sum
	Resumed  bool // an earlier copy had begun
}

// ErrOtherRecords means that the target of a copy has records already.
var ErrOtherRecords = errors.New("there are records in it already")

// ChangedError means that source and target of a copy differ at its end.
type ChangedError struct{ Tables []string }

func (e *ChangedError) Error() string {
	return fmt.Sprintf("source and target differ in %v: the source was changed after the copy had begun, "+
		"or the target was", e.Tables)
}

// Copy copies all records into a target that has none. How far it has come stands in the target, in the transactions
// that write the rows, so that after an end at any point it goes on when it is called again. At the end it reads both
// sides again and compares the count and the checksum of each table. Then it marks the source as moved, so that nothing
// opens it any more. No other process may have the source or the target open meanwhile.
func Copy(ctx context.Context, o CopyOptions) (c Copied, err error) {
	if o.Progress == nil {
		o.Progress = func(int, int) {}
	}
	if o.step == nil {
		o.step = func(string) error { return nil }
	}
	if sameRecords(o.From, o.To) {
		return c, &OpenError{Op: "copy", Path: DisplayName(o.To), Err: errors.New("source and target are the same"),
			Try: "Name two with --from and --to"}
	}
	from, closeFrom, err := openAlone(ctx, o.From, Options{Existing: true}, o.Now)
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, closeFrom()) }()
	to, closeTo, err := openAlone(ctx, o.To, Options{unseeded: true}, o.Now)
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, closeTo()) }()
	w := &copyWork{CopyOptions: o, from: from, to: to}
	c = Copied{From: from.Name(), To: to.Name()}
	err = from.View(ctx, func(source *Tx) (err error) { // all rows as of one instant
		if err = source.mayIdle(); err == nil {
			c.Resumed, err = w.begin(ctx, source)
		}
		if err == nil {
			err = w.rows(ctx, source)
		}
		if err == nil {
			c.Tables, err = w.compare(ctx, source)
		}
		return err
	})
	if err == nil && to.server != nil {
		err = to.server.analyze(ctx)
	}
	if err == nil {
		err = w.finish(ctx)
	}
	return c, err
}

func sameRecords(a, b string) bool {
	if OnServer(a) != OnServer(b) {
		return false
	}
	return sameFile(a, b) || OnServer(a) && DisplayName(a) == DisplayName(b)
}

// copyWork is a copy in progress.
type copyWork struct {
	CopyOptions
	from, to    *Store
	mark        copyMark
	done, total int
}

// begin marks the target, or finds the mark of an earlier copy there. It reports whether there was one.
func (w *copyWork) begin(ctx context.Context, source *Tx) (resumed bool, err error) {
	tables, err := w.look(source)
	if err != nil {
		return false, err
	}
	id, err := source.sourceOf()
	if err != nil {
		return false, err
	}
	var to movedMark
	isMoved, err := source.mark(metaMoved, &to)
	if err == nil {
		err = w.step("mark the target")
	}
	if err != nil {
		return false, err
	}
	err = w.to.InTx(ctx, func(tx *Tx) (err error) {
		w.mark = copyMark{}
		if resumed, err = tx.mark(metaCopying, &w.mark); err != nil {
			return err
		}
		refuse := func(err error, try string) error {
			return &OpenError{Op: "copy", Path: w.to.Name(), Err: err, Try: try}
		}
		switch {
		case isMoved && (to.ID != w.mark.ID || w.Rehearse): // otherwise only the end of the copy is missing
			return source.checkMarks(Options{})
		case resumed && w.Anew && !isMoved:
			err, resumed = tx.empty(), false
		case resumed && w.mark.Source != id:
			return refuse(fmt.Errorf("%w: from %s, and these are other records", ErrUnfinish, w.mark.From), anewTry)
		case resumed && w.mark.Rehearsed:
			return refuse(ErrRehearsal, anewTry)
		case resumed:
			return nil
		default:
			var has string
			if has, err = tx.anyRows(); err == nil && has != "" {
				return refuse(fmt.Errorf("%w (in the table %s)", ErrOtherRecords, has),
					"Name a new file or an empty database with --to")
			}
		}
		if err != nil {
			return err
		}
		w.mark = copyMark{ID: rand.Text(), From: w.from.Name(), Source: id, Table: tables[0].Name}
		return tx.setMark(metaCopying, w.mark)
	})
	return resumed, err
}

// look counts the rows of the source, which must have the schema of this program, and returns its tables.
func (w *copyWork) look(source *Tx) ([]table, error) {
	var schema int64
	if _, err := source.one(sqlSchema, nil, &schema); err != nil {
		return nil, fail("copy", err)
	}
	if schema != Schema() {
		return nil, &OpenError{Op: "copy", Path: w.from.Name(), Try: "Copy them with the newer version",
			Err: fmt.Errorf("%w (schema %d, this one knows %d)", ErrNewer, schema, Schema())}
	}
	tables, err := source.tables()
	for _, t := range tables {
		var n int
		if err == nil {
			_, err = source.one("SELECT count(*) FROM "+t.Name, nil, &n)
		}
		w.total += 3 * n // copied once, and read again on both sides
	}
	return tables, fail("copy", err)
}

const anewTry = "Name another with --to, or begin anew with --anew"

// anyRows returns the name of a table that has a row; "" without one.
func (tx *Tx) anyRows() (string, error) {
	tables, err := tx.tables()
	for _, t := range tables {
		if err == nil {
			var page [][]any
			if page, err = tx.page(t, nil, 1); len(page) > 0 {
				return t.Name, err
			}
		}
	}
	return "", err
}

// empty removes all rows of the records.
func (tx *Tx) empty() error {
	tables, err := tx.tables()
	if err != nil {
		return err
	}
	var whole []string
	for _, t := range slices.Backward(tables) {
		query := "DELETE FROM " + t.Name
		if t.where != "" {
			query += " WHERE " + t.where
		} else if tx.pg != nil {
			whole = append(whole, t.Name)
			continue
		}
		if err := tx.do(query); err != nil {
			return fail("empty", err)
		}
	}
	// Faster than to delete the rows. It also empties tables that are not copied and refer to those that are.
	if len(whole) > 0 {
		err = tx.do("TRUNCATE " + strings.Join(whole, ", ") + " CASCADE")
	}
	return fail("empty", err)
}

// rows copies the rows that are not in the target yet, page by page.
func (w *copyWork) rows(ctx context.Context, source *Tx) error {
	tables, err := source.tables()
	if err != nil {
		return err
	}
	first := slices.IndexFunc(tables, func(t table) bool { return t.Name == w.mark.Table })
	for i := first; i >= 0 && i < len(tables); {
		after, err := recordfile.ParseRow(w.mark.After)
		if err != nil {
			return fail("copy", err)
		}
		t := tables[i]
		page, err := source.page(t, after, rowsOfPage)
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return fail("copy", err)
		}
		next := w.mark
		if len(page) == rowsOfPage {
			next.After = recordfile.AppendRow(nil, t.keyOf(page[len(page)-1]))
		} else {
			i++
			next.Table, next.After = "", nil
			if i < len(tables) {
				next.Table = tables[i].Name
			}
		}
		if err := w.step("write " + t.Name); err != nil {
			return err
		}
		err = w.to.InTx(ctx, func(tx *Tx) error {
			return errors.Join(tx.insertRows(t, page), tx.setMark(metaCopying, next))
		})
		if err != nil {
			return fmt.Errorf("store: copy of %s: %w", t.Name, err)
		}
		w.mark = next
		w.read(len(page))
	}
	last, err := source.lastIDs()
	if err != nil {
		return err
	}
	if err := w.step("set the ids"); err != nil {
		return err
	}
	return w.to.InTx(ctx, func(tx *Tx) error { return tx.setLastIDs(last) })
}

// read counts rows for the display.
func (w *copyWork) read(n int) {
	w.done += n
	if n != 1 || w.done%1000 == 0 {
		w.Progress(w.done, max(w.done, w.total))
	}
}

// compare reads both sides again, and returns the sums if they are equal.
func (w *copyWork) compare(ctx context.Context, source *Tx) (have []recordfile.Sum, err error) {
	one := func() { w.read(1) }
	want, err := source.sums(one)
	if err != nil {
		return nil, err
	}
	wantID, err := source.lastIDs()
	if err != nil {
		return nil, err
	}
	var haveID map[string]int64
	err = w.to.View(ctx, func(tx *Tx) (err error) {
		if have, err = tx.sums(one); err == nil {
			haveID, err = tx.lastIDs()
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	var differ []string
	for i, sum := range want {
		if i >= len(have) || have[i] != sum {
			differ = append(differ, sum.Table)
		}
	}
	if t := behind(wantID, haveID); t != "" {
		differ = append(differ, "the ids of "+t)
	}
	if len(differ) > 0 {
		return nil, &OpenError{Op: "copy", Path: w.to.Name(), Err: &ChangedError{differ},
			Try: "The source is as it was. Begin anew with --anew"}
	}
	return have, nil
}

// finish marks the source as moved, and then takes the mark from the target. If it is cut short between, nobody can
// open either, and the next copy goes on.
func (w *copyWork) finish(ctx context.Context) error {
	if w.Rehearse {
		w.mark.Rehearsed = true
		if err := w.step("mark the rehearsal"); err != nil {
			return err
		}
		return w.to.InTx(ctx, func(tx *Tx) error { return tx.setMark(metaCopying, w.mark) })
	}
	if err := w.step("mark the source"); err != nil {
		return err
	}
	err := w.from.InTx(ctx, func(tx *Tx) error {
		// A service that was suspended for long finds the mark when it wakes, and ends: see RenewProcess.
		return errors.Join(tx.do(sqlDropProcesses, int64(1)<<60),
			tx.setMark(metaMoved, movedMark{ID: w.mark.ID, To: w.to.Name(), At: w.Now}))
	})
	if err == nil {
		err = w.step("finish the target")
	}
	if err != nil {
		return err
	}
	return w.to.InTx(ctx, func(tx *Tx) error { return tx.do(sqlDropMeta, metaCopying) })
}
