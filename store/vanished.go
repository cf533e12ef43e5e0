package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// ErrVanished is returned if there are no records, although something says that there were.
var ErrVanished = errors.New("there were records here, and they are gone")

// ErrNoRecords is returned by Open with the option Existing if the file is missing or empty.
var ErrNoRecords = errors.New("there are no records")

// The service writes a small file beside the database that says how many growers there are. Like the lock file, it
// stays when only the database is removed.
const seenSuffix = "-seen"

// seen is the content of that file.
type seen struct {
	Growers int64 `json:"growers"` // number of growers, including those without a phone number
	LastID  int64 `json:"last_id"` // the highest id that a grower ever had; ids are never used again
}

// NoteGrowers writes how many growers the open records have into the file beside them, if that has changed.
func (s *Store) NoteGrowers(ctx context.Context) error {
	if s.fileDB == nil || s.CheckFile() != nil {
		return nil
	}
	var now seen
	err := s.View(ctx, func(tx *Tx) error { return second(tx.one(sqlSeen, nil, &now.Growers, &now.LastID)) })
	if err != nil {
		return fail("note growers", err)
	}
	return fail("note growers", writeSeen(s.path, now))
}

const sqlSeen = `SELECT (SELECT count(*) FROM grower),
	(SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'grower')`

func writeSeen(path string, now seen) error {
	real, err := realPath(path)
	if err != nil {
		return err
	}
	if was, known := readSeen(real); known && was == now {
		return nil
	}
	b, err := json.Marshal(now)
	if err != nil {
		return err
	}
	part, err := newPart(filepath.Dir(real))
	if err != nil {
		return err
	}
	defer removePart(part)
	if err := os.WriteFile(part, append(b, '\n'), 0o600); err != nil {
		return err
	}
	return os.Rename(part, real+seenSuffix)
}

// readSeen reads that file. It returns the zero value if the file cannot be read. The result known is true if there is
// such a file.
func readSeen(real string) (was seen, known bool) {
	b, err := os.ReadFile(real + seenSuffix)
	if err == nil && json.Unmarshal(b, &was) != nil {
		was = seen{}
	}
	return was, !errors.Is(err, os.ErrNotExist)
}

// Vanished returns an error that wraps ErrVanished if there are no growers in the database file at path, although the
// files beside it or a backup say that there were. c describes the content of the file; it is the zero value if the
// file is missing or empty. The first of the backups is the newest. If all growers were erased on purpose, Vanished
// returns nil.
func Vanished(ctx context.Context, path string, c Contents, backups []string) error {
	if c.Rows > 0 {
		return nil
	}
	noFile := c.Schema == 0
	why := ""
	if real, err := realPath(path); err == nil {
		was, known := readSeen(real)
		_, noLockFile := os.Lstat(real + lockSuffix)
		_, noLink := os.Readlink(path)
		switch {
		case was.Growers > 0 && was.LastID > c.LastID:
			why = fmt.Sprintf("%s had %d growers", filepath.Base(path), was.Growers)
		case noFile && known:
			why = "the files of the service beside it are still there"
		case noFile && noLockFile == nil:
			why = "the lock file beside it is there, of a service or of a restore that failed"
		case noFile && noLink == nil:
			why = "it is a link to a file that is not there"
		}
	}
	newest := ""
	for _, b := range backups {
		had, err := Describe(ctx, b)
		if err != nil {
			continue
		}
		newest = b
		if why == "" && had.Rows > 0 && had.LastID > c.LastID {
			why = fmt.Sprintf("the backup %s has %d growers", filepath.Base(b), had.Rows)
		}
		break
	}
	if why == "" && noFile && len(backups) > 0 {
		why = "there are backups"
	}
	if why == "" {
		return nil
	}
	try := "Put back a backup with rowbell restore; or begin without growers: rowbell serve --new"
	if newest != "" {
		identity := ""
		if isEncrypted(newest) {
			identity = " --identity FILE"
		}
		try = fmt.Sprintf("Put back the newest backup: rowbell restore --from %s%s --db %s; "+
			"or begin without growers: rowbell serve --new", newest, identity, path)
	}
	return &OpenError{Op: "open", Path: path, Err: fmt.Errorf("%w (%s)", ErrVanished, why), Try: try}
}

// missing reports whether there is no database file at path, or an empty one.
func missing(path string) bool {
	info, err := os.Stat(path)
	return errors.Is(err, os.ErrNotExist) || err == nil && Empty(info)
}

// Empty reports whether SQLite takes a file for a new database. It does so also with a file of a single octet.
func Empty(info os.FileInfo) bool { return info.Mode().IsRegular() && info.Size() <= 1 }

// renameLeftLog renames the write-ahead log of a database file that was moved away or emptied. The log contains the
// last writes, and SQLite would delete it beside a new file.
func renameLeftLog(path string) error {
	real, err := realPath(path)
	if err != nil || !missing(path) {
		return nil // without its folder there is no log
	}
	if log, err := os.Stat(real + "-wal"); err != nil || log.Size() == 0 {
		return nil
	}
	return renameLog(real, "left")
}

// createFile creates the database file if it does not exist. It will contain phone numbers, so only this user may read
// it. The write-ahead log gets the same permissions.
func createFile(path string) error {
	if err := renameLeftLog(path); err != nil {
		return &OpenError{Op: "open", Path: path, Err: err, Try: "Move the file " + filepath.Base(path) + "-wal away"}
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return &OpenError{Op: "open", Path: path, Err: err, Try: "Check who may write to the directory"}
	}
	return f.Close()
}
