package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"rowbell/store/agefile"
)

// backupEncrypted makes an encrypted backup. SQLite can copy the records only into a file, so a plain copy stands
// beside the records while it is checked and encrypted: on their disk, which holds them anyway, never on the disk of
// the backups. The encrypted file is decrypted once and compared with the copy before it gets its name.
func backupEncrypted(ctx context.Context, real, to string, o BackupOptions) (c Contents, err error) {
	plain, err := newPart(filepath.Dir(real))
	if err == nil {
		defer removePart(plain)
		err = copyRecords(ctx, real, plain, o.Ticks)
	}
	if err != nil {
		if noRoom(err) {
			err = &OpenError{Op: "back up", Path: real, Err: fmt.Errorf("the disk of the records is full (%w)", err),
				Try: "Make room there: while an encrypted backup is made, a copy stands beside the records"}
		}
		return c, err
	}
	if c, err = Inspect(ctx, plain); err != nil {
		return c, err
	}
	part, err := newPart(filepath.Dir(to))
	if err != nil {
		return c, err
	}
	defer removePart(part)
	if c.Size, err = encryptFile(plain, part, c.note(), o); err != nil {
		return c, err
	}
	c.Path = to
	return c, publish(part, to, o.Replace)
}

// note returns the note of an encrypted backup with these contents.
func (c Contents) note() agefile.Note {
	return agefile.Note{Schema: c.Schema, Growers: c.Growers, Stopped: c.Stopped, OpenPlots: c.OpenPlots, Rows: c.Rows,
		LastID: c.LastID, Newest: c.Newest}
}

// encryptFile encrypts the file plain into the file to, syncs and checks it, and returns its size.
func encryptFile(plain, to string, note agefile.Note, o BackupOptions) (size int64, err error) {
	in, err := os.Open(plain)
	if err != nil {
		return 0, err
	}
	defer in.Close()
	// The name of the plain copy is removed now, so that a crash leaves no copy. A system on which an open file cannot
	// be removed keeps it until the end of the backup.
	_ = os.Remove(plain)
	out, err := os.OpenFile(to, os.O_RDWR, 0)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	var check agefile.Check
	err = whileSynced(out, o.Ticks, func() (err error) {
		check, err = agefile.Encrypt(out, in, o.Recipients, note)
		return err
	})
	if err = errors.Join(err, out.Sync()); err != nil {
		return 0, err
	}
	if size, err = out.Seek(0, io.SeekEnd); err == nil {
		_, err = out.Seek(0, io.SeekStart)
	}
	if err != nil {
		return 0, err
	}
	return size, check.Verify(out)
}

// isEncrypted reports whether the file begins like an encrypted backup.
func isEncrypted(path string) bool { return beginsLike(path, agefile.MagicSize, agefile.IsEncrypted) }

// beginsLike reports whether is accepts the first size octets of the file. A file that cannot be read is not accepted.
func beginsLike(path string, size int, is func(head []byte) bool) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, size)
	_, err = io.ReadFull(f, head)
	return err == nil && is(head)
}

func readNote(path string) (agefile.Note, error) {
	f, err := os.Open(path)
	if err != nil {
		return agefile.Note{}, err
	}
	defer f.Close()
	return agefile.ReadNote(f)
}

// Describe describes a backup. If the backup is encrypted, Describe reads only the note, which needs no key. It reads
// any other file whole, as Inspect does.
func Describe(ctx context.Context, path string) (Contents, error) {
	switch {
	case isRecordFile(path):
		return describeRecordFile(path)
	case !isEncrypted(path):
		return Inspect(ctx, path)
	}
	info, err := os.Stat(path)
	if err == nil {
		var n agefile.Note
		n, err = readNote(path)
		if err == nil {
			return Contents{Path: path, Size: info.Size(), Schema: n.Schema, Growers: n.Growers, Stopped: n.Stopped,
				OpenPlots: n.OpenPlots, Rows: n.Rows, LastID: n.LastID, Newest: n.Newest}, nil
		}
	}
	return Contents{}, &OpenError{Op: "check", Path: path, Err: err, Try: useAnother}
}

// decryptBackup decrypts the backup from into the file to. The caller removes that file if there is an error.
func decryptBackup(from, to, identity string) error {
	refuse := func(err error, try string) error { return &OpenError{Op: "check", Path: from, Err: err, Try: try} }
	if identity == "" {
		return refuse(errors.New("it is encrypted"), "Name the file of your private key with --identity")
	}
	keys, err := os.Open(identity)
	if err != nil {
		return refuse(fmt.Errorf("the identity file cannot be read: %w", err), "Name another with --identity")
	}
	defer keys.Close()
	in, err := os.Open(from)
	if err != nil {
		return refuse(err, otherBackup)
	}
	defer in.Close()
	plain, err := agefile.Decrypt(in, keys)
	if err == nil {
		var out *os.File
		if out, err = os.OpenFile(to, os.O_WRONLY|os.O_TRUNC, 0); err != nil {
			return err
		}
		_, err = io.Copy(out, plain)
		err = errors.Join(err, out.Sync(), out.Close())
	}
	switch {
	case errors.Is(err, agefile.ErrChanged):
		return refuse(err, otherBackup)
	case errors.Is(err, agefile.ErrOtherKey), errors.Is(err, agefile.ErrIdentity):
		return refuse(err, "Name the file of the right private key with --identity")
	}
	return err
}
