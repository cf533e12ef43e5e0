package push

import (
	"fmt"
	"testing"
	"time"
)

// The same reason again is one line, and only the last reasons are remembered.
func TestRecord(t *testing.T) {
	var r record
	at := time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)
	for i := range 3 {
		r.failed(at.Add(time.Duration(i)*time.Second), "no answer")
	}
	if len(r.failures) != 1 || r.failures[0] != (Failure{at.Add(2 * time.Second), "no answer", 3}) {
		t.Errorf("three times the same: %+v", r.failures)
	}
	for i := range maxFailures {
		r.failed(at.Add(time.Hour), fmt.Sprint("reason ", i))
	}
	if len(r.failures) != maxFailures || r.failures[0].Reason != "reason 0" {
		t.Errorf("many reasons: %+v", r.failures)
	}
}
