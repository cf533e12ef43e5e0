package push

import (
	"context"
	"fmt"
	"testing"
)

func TestOutcome(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{nil, "taken"},
		{context.DeadlineExceeded, "unsure"},
		{&Refusal{Again: true}, "again"},
		{&Refusal{Again: true, Unsure: true}, "unsure"},
		{fmt.Errorf("tern: %w", &Refusal{Number: true}), "number"},
		{&Refusal{}, "never"},
	} {
		if got := outcome(c.err); got != c.want {
			t.Errorf("%v: %s, want %s", c.err, got, c.want)
		}
	}
}
