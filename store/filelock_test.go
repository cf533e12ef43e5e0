package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// TestWhoMayWorkTogether takes two locks on one file, for every pair of lock levels.
func TestWhoMayWorkTogether(t *testing.T) {
	for _, c := range []struct {
		first, second string
		together      bool
	}{
		{visiting, visiting, true},
		{serving, visiting, true},
		{visiting, serving, true},
		{serving, serving, false},
		{visiting, alone, false},
		{serving, alone, false},
		{alone, visiting, false},
		{alone, serving, false},
		{alone, alone, false},
	} {
		t.Run(c.first+" and "+c.second, func(t *testing.T) {
			t.Parallel() // takeLock waits a second before it refuses, so the cases run in parallel
			path := filepath.Join(t.TempDir(), "rowbell.db")
			h, err := takeLock(ctx, path, c.first)
			ok(t, err)
			defer h.release()
			other, err := takeLock(ctx, path, c.second)
			defer other.release()
			errorIf(t, c.together != (err == nil) || !c.together && !errors.Is(err, ErrInUse),
				"%q beside %q: %v", c.second, c.first, err)
			info, err := os.Stat(path + lockSuffix)
			errorIf(t, err != nil || info.Size() != 0 || info.Mode().Perm() != 0o600,
				"the file of the claims: %v %v", info, err)
			errorIf(t, second(os.Stat(path+lockSuffix+"-journal")) == nil, "a journal is left beside it")
		})
	}
}

func TestOneServiceAFile(t *testing.T) {
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
