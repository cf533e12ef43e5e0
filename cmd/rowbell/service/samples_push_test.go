package service

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/gateway"
	"rowbell/store"
)

// playPush sends what is due to the network of a sample and compares what it got with the file.
func playPush(t *testing.T, s *started, n *configtest.Network, step configtest.Step) {
	t.Helper()
	n.Expect(t, step)
	if !step.At.IsZero() {
		s.clock.Set(step.At)
	}
	ok(t, s.Settle(t.Context()))
	compare(t, step.File, n.Got())
}

// became returns what became of all texts to the growers of the samples' dialogues.
func (s *started) became() string {
	s.t.Helper()
	var b strings.Builder
	for _, n := range []int{123, 124, 200} {
		phone, err := gateway.ParsePhone(fmt.Sprint("+44", 7700900000+int64(n)), "")
		ok(s.t, err)
		s.records(func(tx *store.Tx, _ int64) error {
			list, err := tx.Inbox(phone, 0)
			for _, m := range list {
				fmt.Fprintf(&b, "%s: %s, network's id %q, reason %q\n", m.Kind(), m.State, m.NetworkID, m.Reason)
				fmt.Fprintf(&b, "%s\n\n", m.Text)
			}
			return err
		})
	}
	return b.String()
}

// compare compares what was seen with a file, or writes the file with the flag -update.
func compare(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		ok(t, os.WriteFile(file, []byte(got), 0o644))
		return
	}
	want, err := os.ReadFile(file)
	ok(t, err)
	if got != string(want) {
		t.Errorf("%s:\n%s\nwant\n%s", file, got, want)
	}
}
