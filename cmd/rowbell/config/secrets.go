package config

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/fault"
)

// Secrets looks secrets up: the secret NAME is in the environment variable NAME, or in the file whose path is in
// NAME_FILE. A file is read once; Changed notices a new one.
type Secrets struct {
	env   func(string) string
	files map[string]*secretFile // by the name of the secret
}

// secretFile is a file with a secret.
type secretFile struct {
	path  string
	value string
	read  identity // of the file when the value was read
	seen  identity // of the file at the last check
	wrong string   // why the file of the last check was not taken; "" if it was
}

// identity tells whether a file is another one or was written.
type identity struct {
	info fs.FileInfo // nil: there is no file
	size int64
	at   time.Time
}

func identityOf(path string) identity {
	info, err := os.Stat(path)
	if err != nil {
		return identity{}
	}
	return identity{info, info.Size(), info.ModTime()}
}

func (a identity) equal(b identity) bool {
	if a.info == nil || b.info == nil {
		return a.info == nil && b.info == nil
	}
	return os.SameFile(a.info, b.info) && a.size == b.size && a.at.Equal(b.at)
}

// NewSecrets returns the secrets of this environment. It reads no file yet.
func NewSecrets(env func(string) string) *Secrets {
	return &Secrets{env: env, files: map[string]*secretFile{}}
}

// Lookup returns the secret of this name. The error shows neither the secret nor the path of its file.
func (s *Secrets) Lookup(name string) (string, error) {
	if f := s.files[name]; f != nil {
		return f.value, nil
	}
	value, path := strings.TrimSpace(s.env(name)), s.env(name+"_FILE")
	switch {
	case value != "" && path != "":
		return "", fmt.Errorf("%s and %s_FILE are both set", name, name)
	case value != "":
		return value, nil
	case path == "":
		return "", fmt.Errorf("%s is not set: "+
			"set it to the secret, or %s_FILE to the path of a file that holds it", name, name)
	}
	f := &secretFile{path: path, read: identityOf(path)}
	f.seen = f.read
	var err error
	if f.value, err = readSecret(path); err != nil {
		return "", fmt.Errorf("%s_FILE: %w", name, err)
	}
	s.files[name] = f
	return f.value, nil
}

// optional returns the secret of this name, or "" if its two environment variables are not set.
func (s *Secrets) optional(name string) (string, error) {
	if strings.TrimSpace(s.env(name)) == "" && s.env(name+"_FILE") == "" {
		return "", nil
	}
	return s.Lookup(name)
}

// readSecret reads a secret from a file. The error does not contain the path, because the path may be a secret in the
// wrong variable.
func readSecret(path string) (string, error) {
	b, err := fault.ReadFile(path)
	var at *fs.PathError
	if errors.As(err, &at) {
		return "", fmt.Errorf("the file it names cannot be read: %w", at.Err)
	}
	return strings.TrimSpace(string(b)), err
}

// Changed checks the files of the secrets that were looked up. If some were written since, it returns the secrets with
// their new values. The caller tries them, and keeps s if they do not fit. All changed files are taken together, and
// only if two checks find the same files, so that no file is read while it is half written. If a file is gone or empty,
// the old value stays. Changed returns nil if there is nothing to try.
func (s *Secrets) Changed() *Secrets {
	next := &Secrets{env: s.env, files: map[string]*secretFile{}}
	changed, pending := false, false
	for name, f := range s.files {
		n := *f
		next.files[name] = &n
		now := identityOf(f.path)
		steady := now.equal(f.seen)
		f.seen, n.seen = now, now
		switch {
		case now.equal(f.read):
			f.wrong = "" // the file is back as it was
			continue
		case now.info == nil:
			f.wrong = "the file is gone"
			continue
		case !now.info.Mode().IsRegular():
			f.wrong = "it is not a file any more"
			continue
		case now.size > maxSecretFile:
			f.wrong = "the file is too long for a secret"
			continue
		case !steady:
			f.wrong, pending = justChanged, true
			continue
		case f.wrong != "" && f.wrong != justChanged:
			continue // it was tried
		}
		value, err := readSecret(f.path)
		switch {
		case !identityOf(f.path).equal(now):
			f.seen, pending = identity{}, true // it is being written: check again
		case err != nil:
			f.wrong = "the file cannot be read"
		case value == "":
			f.wrong = "the file is empty"
		default:
			n.value, n.read, n.wrong = value, now, ""
			changed = true
		}
	}
	if !changed || pending {
		return nil
	}
	return next
}

// maxSecretFile is the greatest size of a file that is read anew, in octets.
const maxSecretFile = 64 << 10

// justChanged is the state of a file between the check that first finds it and the check that reads it.
const justChanged = "the file has changed"

// Reject notes that the networks cannot be made with the values of next, and why. The reason may be another than the
// values, such as a certificate that is gone. The values are not tried again until their files change.
func (s *Secrets) Reject(next *Secrets, why error) {
	for name, f := range s.files {
		if n := next.files[name]; n != nil && !n.read.equal(f.read) {
			f.wrong = "the file was not taken: " + why.Error()
		}
	}
}

// Wrong lists the names of the secrets whose files were not taken, with the reasons. Their old values count.
func (s *Secrets) Wrong() []string {
	var list []string
	for _, name := range slices.Sorted(maps.Keys(s.files)) {
		if f := s.files[name]; f.wrong != "" && f.wrong != justChanged {
			list = append(list, name+"_FILE: "+f.wrong)
		}
	}
	return list
}
