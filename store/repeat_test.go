package store

import "testing"

func TestRepeatsGetTheFirstReply(t *testing.T) {
	s := open(t)
	for i, c := range []struct {
		at                        int64
		gateway, key, reply, want string
		seen                      bool
	}{
		{0, "local", "a", "one", "", false},
		{0, "local", "a", "", "one", true},
		{0, "local", "b", "", "", false},
		{0, "local", "b", "", "", true},
		{0, "other", "a", "three", "", false},
		{0, "other", "a", "", "three", true},
		{60, "local", "a", "", "one", true},
		{61, "local", "a", "anew", "", false}, // too late to be a repeat, so the new reply is stored
		{121, "local", "a", "", "anew", true},
	} {
		write(t, s, func(tx *Tx) error {
			got, seen, err := tx.StoredReply(c.gateway, c.key, noon+c.at-60)
			errorIf(t, seen != c.seen || string(got) != c.want || err != nil, "%d: %q, %v, %v", i, got, seen, err)
			if seen {
				return nil
			}
			var reply []byte // an empty reply may be nil or have length 0
			if c.reply != "" {
				reply = []byte(c.reply)
			}
			return tx.StoreReply(c.gateway, c.key, ana, reply, noon+c.at)
		})
	}
}
