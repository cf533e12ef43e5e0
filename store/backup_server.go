package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"rowbell/store/agefile"
	"rowbell/store/recordfile"
)

// FileBase returns a file name for records, from which the names of their backups are made: for a server the name of
// the database, with the suffix of a record file.
func FileBase(db string) string {
	if !OnServer(db) {
		return filepath.Base(db)
	}
	conf, _, err := parseAddress(db)
	if err != nil || conf.Database == "" {
		return "rowbell" + recordfile.Suffix
	}
	return filepath.Base(conf.Database) + recordfile.Suffix
}

// backupServer writes the records on a server, as they are at one instant, to a record file. Processes may write
// meanwhile. Like backup, it gives the file its name when the file is complete, synced and checked. An encrypted one
// never stands on a disk unencrypted.
func backupServer(ctx context.Context, from, to string, o BackupOptions) (c Contents, err error) {
	if to, err = filepath.Abs(to); err != nil {
		return c, err
	}
	if err := mayReplace("", to, o.Replace); err != nil {
		return c, &OpenError{Op: "write", Path: to, Err: err, Try: "Give another name with --to"}
	}
	s, err := Open(ctx, from, Options{Existing: true})
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	part, err := newPart(filepath.Dir(to))
	if err != nil {
		return c, err
	}
	defer removePart(part)
	out, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return c, err
	}
	defer out.Close()
	err = whileSynced(out, o.Ticks, func() error {
		return s.View(ctx, func(tx *Tx) (err error) {
			if c, err = tx.contents(c); err != nil {
				return err
			}
			if len(o.Recipients) > 0 {
				return tx.encryptRecords(out, c, o.Recipients)
			}
			sums, err := tx.writeRecords(out, c)
			if err != nil {
				return err
			}
			return checkRecords(out, sums)
		})
	})
	if err = errors.Join(err, out.Sync()); err != nil {
		return c, err
	}
	info, err := out.Stat()
	if err != nil {
		return c, err
	}
	c.Path, c.Size = to, info.Size()
	return c, publish(part, to, o.Replace)
}

// writeRecords writes a record file.
func (tx *Tx) writeRecords(out io.Writer, c Contents) ([]recordfile.Sum, error) {
	at, err := tx.clock(c.Newest)
	if err == nil {
		err = tx.mayIdle()
	}
	if err != nil {
		return nil, err
	}
	tables, err := tx.tables()
	if err != nil {
		return nil, err
	}
	h := recordfile.Header{Schema: c.Schema, At: at, From: tx.s.Name(), Counts: recordfile.Counts{Growers: c.Growers,
		Stopped: c.Stopped, OpenPlots: c.OpenPlots, Rows: c.Rows, Newest: c.Newest}}
	if h.LastID, err = tx.lastIDs(); err != nil {
		return nil, err
	}
	for _, t := range tables {
		h.Tables = append(h.Tables, t.Table)
	}
	w, err := recordfile.NewWriter(out, h)
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		if err := errors.Join(tx.eachRow(t, w.Row), w.EndTable(), tx.ctx.Err()); err != nil {
			return nil, err
		}
	}
	return w.Close()
}

// checkRecords reads a record file from its beginning, and compares it with what was written.
func checkRecords(file io.ReadSeeker, want []recordfile.Sum) error {
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, sums, err := recordfile.Check(file)
	if err == nil && !slices.Equal(sums, want) {
		err = recordfile.ErrChanged
	}
	return err
}

// encryptRecords writes an encrypted record file, decrypts it and checks it.
func (tx *Tx) encryptRecords(out *os.File, c Contents, recipients []agefile.Recipient) error {
	read, write := io.Pipe()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_, err := tx.writeRecords(write, c)
		write.CloseWithError(err) // nil is the end of the file
	}()
	check, err := agefile.Encrypt(out, read, recipients, c.note())
	_ = read.CloseWithError(err) // so that the writer ends
	<-ended
	if err != nil {
		return err
	}
	if _, err := out.Seek(0, io.SeekStart); err != nil {
		return err
	}
	return check.Verify(out)
}

// isRecordFile reports whether the file begins like a record file.
func isRecordFile(path string) bool {
	return beginsLike(path, recordfile.MagicSize, recordfile.IsRecordFile)
}

// describeRecordFile reads a whole record file, and says what it holds.
func describeRecordFile(path string) (c Contents, err error) {
	refuse := func(err error) (Contents, error) {
		return Contents{}, &OpenError{Op: "check", Path: path, Err: err, Try: useAnother}
	}
	f, err := os.Open(path)
	if err != nil {
		return refuse(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return refuse(err)
	}
	h, _, err := recordfile.Check(f)
	switch {
	case err != nil:
		return refuse(err)
	case h.Schema > Schema():
		return refuse(fmt.Errorf("%w (schema %d, this one knows %d)", ErrNewer, h.Schema, Schema()))
	}
	return Contents{Path: path, Size: info.Size(), Schema: h.Schema, Growers: h.Counts.Growers,
		Stopped: h.Counts.Stopped, OpenPlots: h.Counts.OpenPlots, Rows: h.Counts.Rows, LastID: h.LastID["grower"],
		Newest: h.Counts.Newest}, nil
}
