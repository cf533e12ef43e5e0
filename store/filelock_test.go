package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// The test takes two locks on one file, for every pair of lock levels. Commands (visiting) may work together and
// beside one service (serving). A restore works alone.
func TestWhoMayWorkTogether(t *testing.T) {
	sqliteOnly(t)
	levels := map[string]string{"visiting": visiting, "serving": serving, "alone": alone}
	for first, a := range levels {
		for next, b := range levels {
			together := a != alone && b != alone && (a == visiting || b == visiting)
			t.Run(first+" and "+next, func(t *testing.T) {
				t.Parallel() // takeLock waits a second before it refuses, so the cases run in parallel
				path := filepath.Join(t.TempDir(), "rowbell.db")
				h, err := takeLock(ctx, path, a)
				ok(t, err)
				defer h.release()
				other, err := takeLock(ctx, path, b)
				defer other.release()
				errorIf(t, together != (err == nil) || !together && !errors.Is(err, ErrInUse), "second lock: %v", err)
				info, err := os.Stat(path + lockSuffix)
				errorIf(t, err != nil || info.Size() != 0 || info.Mode().Perm() != 0o600, "lock file: %v %v", info, err)
				errorIf(t, second(os.Stat(path+lockSuffix+"-journal")) == nil, "a journal is left beside it")
			})
		}
	}
}

func TestOneServiceAFile(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	path, link := filepath.Join(dir, "rowbell.db"), filepath.Join(dir, "other.db")
	s := openWith(t, path, Options{Serving: true})
	ok(t, os.Symlink(path, link))
	for _, p := range []string{path, link} {
		wantErr(t, second(Open(ctx, p, Options{Serving: true})), ErrInUse, "a second service on %s", filepath.Base(p))
		shut(t, openAt(t, p))
	}
	shut(t, s)
	shut(t, openWith(t, link, Options{Serving: true}))
}
