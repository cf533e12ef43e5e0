package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"rowbell/store/recordfile"
)

// databaseOf makes a database file of a record file, beside it and with the schema that the record file has. It returns
// any other file as it is. Nothing is written before the whole record file was checked.
func databaseOf(ctx context.Context, part string) (string, error) {
	if !isRecordFile(part) {
		return part, nil
	}
	c, err := describeRecordFile(part)
	if err != nil {
		return part, err
	}
	file, err := newPart(filepath.Dir(part))
	if err != nil {
		return part, err
	}
	if err := loadRecords(ctx, part, file, c.Schema); err != nil {
		removePart(file)
		return part, err
	}
	removePart(part)
	return file, nil
}

// loadRecords adds the rows of a checked record file to an empty file, which becomes a database.
func loadRecords(ctx context.Context, from, to string, schema int64) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	r, err := recordfile.NewReader(in)
	if err != nil {
		return err
	}
	s, err := Open(ctx, to, Options{ReadConns: 1, noLock: true, unseeded: true, copying: true, fileSchema: schema})
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, s.Close()); err == nil {
			err = mergeLog(ctx, to)
		}
	}()
	h := r.Header()
	add := func(at int, page [][]any) error {
		return s.InTx(ctx, func(tx *Tx) error {
			return fail("load "+h.Tables[at].Name, tx.insertRows(table{Table: h.Tables[at]}, page))
		})
	}
	if err := s.View(ctx, func(tx *Tx) error { return tx.sameTables(h.Tables) }); err != nil {
		return err
	}
	at, page := 0, [][]any(nil)
	for {
		table, row, err := r.Next()
		ended := errors.Is(err, io.EOF)
		if err != nil && !ended {
			return err
		}
		if len(page) > 0 && (ended || table != at || len(page) == rowsOfPage) {
			if err := add(at, page); err != nil {
				return err
			}
			page = nil
		}
		if ended {
			return s.InTx(ctx, func(tx *Tx) error { return tx.setLastIDs(h.LastID) })
		}
		at, page = table, append(page, row)
	}
}

// sameTables returns an error if these are not the tables of the database.
func (tx *Tx) sameTables(want []recordfile.Table) error {
	have, err := tx.tables()
	if err != nil {
		return err
	}
	for _, t := range want {
		i := slices.IndexFunc(have, func(h table) bool { return h.Name == t.Name })
		if i < 0 || !slices.Equal(have[i].Columns, t.Columns) {
			return fmt.Errorf("%w: the table %s has other columns", recordfile.ErrChanged, t.Name)
		}
	}
	return nil
}

// RestoreToServer restores a backup, of either database, into an empty database on the server o.To. The records are
// built in a temporary file as Restore builds them, and then copied. If replaces names other records, decisions are
// taken over from them; no other process may have them open.
func RestoreToServer(ctx context.Context, o RestoreOptions, replaces string) (r Restored, err error) {
	dir, err := os.MkdirTemp("", "rowbell-restore-")
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file := o
	file.To, file.DiscardOld, file.Aside = filepath.Join(dir, "rowbell.db"), true, ""
	if replaces != "" {
		if _, err = Copy(ctx, CopyOptions{From: replaces, To: file.To, Now: o.Now, Rehearse: true}); err != nil {
			return r, err
		}
	}
	if r, err = Restore(ctx, file); err != nil {
		return r, err
	}
	// An earlier restore that was cut short has left a mark, and what it wrote may be of another instant.
	_, err = Copy(ctx, CopyOptions{From: file.To, To: o.To, Now: o.Now, Anew: true})
	var refused *OpenError
	if errors.Is(err, ErrOtherRecords) && errors.As(err, &refused) {
		refused.Try = "Name an empty database with --db"
	}
	r.Replaced.Path = DisplayName(replaces)
	return r, err
}
