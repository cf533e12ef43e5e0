package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A folder that holds something is not touched.
func TestFolderMustBeNew(t *testing.T) {
	folder := t.TempDir()
	records := filepath.Join(folder, "rowbell.db")
	if err := os.WriteFile(records, []byte("of real growers"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, command := range []string{"calls", "season"} {
		var out, errs bytes.Buffer
		code := run([]string{command, "--program", os.Args[0], "--folder", folder}, &out, &errs)
		if code != 1 || !strings.Contains(errs.String(), "is not empty: give a new one") {
			t.Errorf("%s: exit code %d, %s", command, code, errs.String())
		}
	}
	if kept, err := os.ReadFile(records); err != nil || string(kept) != "of real growers" {
		t.Errorf("the records are %q, %v", kept, err)
	}
}
