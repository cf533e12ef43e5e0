package store

import (
	"context"
	"fmt"
	"testing"

	"github.com/mattn/go-sqlite3"
)

func TestAdvice(t *testing.T) {
	for _, e := range []sqlite3.ErrNo{sqlite3.ErrFull, sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen,
		sqlite3.ErrBusy, sqlite3.ErrCorrupt, sqlite3.ErrMisuse} {
		errorIf(t, Advice(fmt.Errorf("store: commit: %w", sqlite3.Error{Code: e})) == "", "no words for code %d", e)
	}
	for _, err := range []error{nil, context.Canceled, ErrClosed} {
		equal(t, Advice(err), "", "%v is not the database's", err)
	}
}
