package stack_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/store"
	"rowbell/store/testrun"
)

// Records of another machine, a file that is there, and a database that holds something are not loaded.
func TestOnlyNewRecordsOfThisMachine(t *testing.T) {
	cases := []struct {
		db, says string
		size     int
	}{
		{"/var/lib/records.db", "a file is made by itself", 1},
		{"postgres://rowbell@192.0.2.1/rowbell", "192.0.2.1 is another machine", 1},
		{"postgres://rowbell@db.example/rowbell", "db.example is another machine", 1},
		{"postgres://rowbell@127.0.0.1,192.0.2.1/rowbell", "192.0.2.1 is another machine", 1},
		{"postgres://%zz", "--db", 1},
		{"", "several processes need records on a server", 2},
	}
	if testrun.OnServer() {
		used := testrun.Database(t, func(address string) error {
			s, err := store.Open(context.Background(), address, store.Options{})
			if err != nil {
				return err
			}
			return s.Close()
		})
		cases = append(cases, struct {
			db, says string
			size     int
		}{used, "is not empty", 1})
	}
	for _, tt := range cases {
		_, err := stack.Start(context.Background(), stack.Options{Program: os.Args[0], Folder: t.TempDir(), DB: tt.db,
			Processes: tt.size}, &stack.Network{})
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%q: %v, want an error that says %q", tt.db, err, tt.says)
		}
	}
}
