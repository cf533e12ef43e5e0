package testrun

import (
	"os"
	"path/filepath"
	"sync"
	"testing"
)

const fileName = "rowbell.db"

var migrated struct {
	once   sync.Once
	octets []byte
	err    error
}

// Records makes records for one test and returns where they are: the path of a file, or the address of a database on
// the server of the tests. The function migrate makes records at the address of an empty database or in a new file; it
// is called once for all tests, because the migrations take longer than most tests.
func Records(t testing.TB, migrate func(address string) error) string {
	t.Helper()
	if OnServer() {
		return Database(t, migrate)
	}
	path := filepath.Join(t.TempDir(), fileName)
	File(t, path, migrate)
	return path
}

// File makes records for one test in a new file. The function migrate is for Records.
func File(t testing.TB, path string, migrate func(address string) error) {
	t.Helper()
	migrated.once.Do(func() { migrated.octets, migrated.err = migratedFile(migrate) })
	err := migrated.err
	if err == nil {
		err = os.WriteFile(path, migrated.octets, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func migratedFile(migrate func(address string) error) ([]byte, error) {
	dir, err := os.MkdirTemp("", "rowbell-migrated-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, fileName)
	if err := migrate(path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}
