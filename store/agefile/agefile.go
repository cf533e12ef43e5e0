// Package agefile encrypts a backup to public keys, in the format age-encryption.org/v1, and decrypts it with a private
// key. Both work on streams. Nobody can decrypt a backup without a private key, which the service never has.
//
//	to, err := agefile.Recipients([]string{"age1..."})
//	err = agefile.Encrypt(w, backup, to, agefile.Note{Growers: 12})
//	note, err := agefile.ReadNote(file)                // needs no key
//	plain, err := agefile.Decrypt(file, identityFile)
//
// A note in the head of the file says what the backup holds. It is readable without a key, and contains counts only.
package agefile

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"

	"filippo.io/age"
)

// Suffix is the end of the file names of encrypted backups.
const Suffix = ".age"

const magic = "age-encryption.org/v1\n"

// privatePrefix is the beginning of a private key. An error never contains such a key.
const privatePrefix = "AGE-SECRET-KEY-"

// Recipient is a public key.
type Recipient = age.Recipient

// Recipients reads public keys, as age-keygen prints them.
func Recipients(keys []string) (list []Recipient, err error) {
	for i, key := range keys {
		key = strings.TrimSpace(key)
		r, err := age.ParseX25519Recipient(key)
		switch {
		case strings.HasPrefix(strings.ToUpper(key), privatePrefix):
			return nil, fmt.Errorf("key %d is a private key: write the public key, which begins with age1, "+
				"and keep the private key away from this machine", i+1)
		case err != nil:
			return nil, fmt.Errorf("key %d is not a public key: write what age-keygen prints as public key, "+
				"which begins with age1", i+1)
		}
		list = append(list, r)
	}
	return list, nil
}

// Note says what an encrypted backup holds.
type Note struct {
	Schema           int64
	Growers, Stopped int64
	OpenPlots        int64
	Rows, LastID     int64 // growers, also those without a number; the highest id that a grower ever had
	Newest           int64 // in Unix seconds
}

const (
	noteType   = "rowbell-note"
	noteFormat = "schema=%d growers=%d stopped=%d plots=%d rows=%d last=%d newest=%d"
)

// Wrap implements age.Recipient. It adds the note to the head of the file, in the form of a recipient whose type no
// other program knows: the format tells readers to skip such recipients. The note is authenticated with the head.
func (n Note) Wrap([]byte) ([]*age.Stanza, error) {
	args := fmt.Sprintf(noteFormat, n.Schema, n.Growers, n.Stopped, n.OpenPlots, n.Rows, n.LastID, n.Newest)
	return []*age.Stanza{{Type: noteType, Args: strings.Fields(args)}}, nil
}

// IsEncrypted reports whether a file begins as an encrypted file does. head is the beginning of the file.
func IsEncrypted(head []byte) bool { return strings.HasPrefix(string(head), magic) }

// MagicSize is how many bytes of a file IsEncrypted needs.
const MagicSize = len(magic)

// maxHead bounds the size of the head of an encrypted file.
const maxHead = 64 << 10

// ErrNoNote is returned for a file that is encrypted, but not a backup of rowbell.
var ErrNoNote = errors.New("it is encrypted, but it is not a backup of rowbell")

// ReadNote returns the note of an encrypted backup. The note can only be trusted after the backup was decrypted.
func ReadNote(r io.Reader) (n Note, err error) {
	lines := bufio.NewScanner(io.LimitReader(r, maxHead))
	for lines.Scan() && !strings.HasPrefix(lines.Text(), "---") {
		args, ok := strings.CutPrefix(lines.Text(), "-> "+noteType+" ")
		if !ok {
			continue
		}
		_, err := fmt.Sscanf(args, noteFormat, &n.Schema, &n.Growers, &n.Stopped, &n.OpenPlots, &n.Rows, &n.LastID,
			&n.Newest)
		if err != nil {
			return Note{}, ErrNoNote
		}
		return n, nil
	}
	return Note{}, errors.Join(ErrNoNote, lines.Err())
}

// Check is what is needed to check an encrypted backup that was just written.
type Check struct {
	key *age.X25519Identity
	sum [sha256.Size]byte
}

// Encrypt encrypts the backup src. The file can be decrypted with the private key of any recipient, and by the returned
// Check, whose key exists only in memory.
func Encrypt(dst io.Writer, src io.Reader, to []Recipient, note Note) (Check, error) {
	key, err := age.GenerateX25519Identity()
	if err != nil {
		return Check{}, err
	}
	w, err := age.Encrypt(dst, append([]Recipient{note, key.Recipient()}, to...)...)
	if err != nil {
		return Check{}, err
	}
	hash := sha256.New()
	_, err = io.Copy(w, io.TeeReader(src, hash))
	return Check{key, [sha256.Size]byte(hash.Sum(nil))}, errors.Join(err, w.Close())
}

// Verify decrypts the written file and compares it with what was encrypted.
func (c Check) Verify(file io.Reader) error {
	plain, err := age.Decrypt(file, c.key)
	if err != nil {
		return explain(err)
	}
	hash := sha256.New()
	if _, err := io.Copy(hash, plain); err != nil {
		return explain(err)
	}
	if [sha256.Size]byte(hash.Sum(nil)) != c.sum {
		return ErrChanged
	}
	return nil
}

var (
	// ErrOtherKey is returned if none of the private keys fits.
	ErrOtherKey = errors.New("it is encrypted to another key than that of the identity file")
	// ErrChanged is returned if the encrypted file was changed or cut off.
	ErrChanged = errors.New("the encrypted file was cut off or changed after it was made")
	// ErrIdentity is returned for a file that has no private key.
	ErrIdentity = errors.New("the identity file has no private key: name the file that age-keygen wrote; " +
		"its key begins with " + privatePrefix)
)

// Decrypt returns a reader of the decrypted backup. identities is a file of private keys, as age-keygen writes it. The
// reader never returns a changed octet: it returns ErrChanged instead. Whether the file was cut off is known only at
// its end.
func Decrypt(file, identities io.Reader) (io.Reader, error) {
	keys, err := age.ParseIdentities(identities)
	if err != nil || len(keys) == 0 {
		return nil, ErrIdentity // the error of age may contain a part of the file
	}
	plain, err := age.Decrypt(file, keys...)
	if err != nil {
		return nil, explain(err)
	}
	return explainer{plain}, nil
}

// explainer is a reader that explains the errors of the decrypting reader r.
type explainer struct{ r io.Reader }

func (r explainer) Read(p []byte) (int, error) {
	n, err := r.r.Read(p)
	return n, explain(err)
}

// explain says in the operator's words why a file cannot be decrypted. Errors of the disk stay as they are.
func explain(err error) error {
	var noMatch *age.NoIdentityMatchError
	var disk interface{ Timeout() bool } // fs.PathError and other errors of the system have it
	switch {
	case err == nil, err == io.EOF:
		return err
	case errors.As(err, &noMatch):
		return ErrOtherKey
	case errors.As(err, &disk):
		return err
	}
	return ErrChanged
}
