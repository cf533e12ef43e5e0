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
			got, seen, err := tx.StoredReply(c.gateway, c.key, ana, noon+c.at-60)
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

// A dialogue may begin before the phone has records and go on after it has, with replies under one key.
func TestReplyWithRecordsCountsMore(t *testing.T) {
	s := openWithPlot(t, ana)
	keep := func(owner Phone, reply string) {
		write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "a", owner, []byte(reply), noon) })
	}
	wants := func(want string) {
		t.Helper()
		got := get(t, s, func(tx *Tx) (string, error) {
			reply, _, err := tx.StoredReply("local", "a", ana, noon)
			return string(reply), err
		})
		errorIf(t, got != want, "%q, want %q", got, want)
	}
	keep("", "nobody's")
	wants("nobody's")
	keep(ana, "ana's")
	wants("ana's")
	keep(ben, "ben's")
	wants("ana's")
	ledger(t, s, ana, noon, (*Ledger).Erase)
	wants("nobody's")
	keep("", "anew")
	wants("anew")
}

func TestRepliesOutliveTheChangeOfTheirIndex(t *testing.T) {
	sqliteOnly(t) // TestServerMigrationsGoDownAndUpAgain is the other one
	s := open(t)
	p := provider(t, s)
	ok(t, second(p.DownTo(ctx, 12)))
	execSQL(t, s, `INSERT INTO callback (gateway, key, phone, reply, at)
		VALUES
		('local', 'a', '`+ana.E164()+`', x'7365656e', 1780000000), ('local', 'b', NULL, x'6e6f626f6479', 1780000000)`)
	ok(t, second(p.Up(ctx)))
	for key, want := range map[string]string{"a": "seen", "b": "nobody", "c": ""} {
		got := get(t, s, func(tx *Tx) (string, error) {
			reply, _, err := tx.StoredReply("local", key, ana, 1780000000)
			return string(reply), err
		})
		errorIf(t, got != want, "%s: %q, want %q", key, got, want)
	}
	ok(t, second(p.DownTo(ctx, 12)))
	wantNumber(t, s, 2, "SELECT count(*) FROM callback")
	wantNumber(t, s, 1, "SELECT count(*) FROM callback WHERE phone IS NULL")
}
