package store

import (
	"errors"
	"fmt"
	"testing"
	"time"
)

// paid is a network that charges 2 units for each SMS segment. A text has one segment, unless it begins with a number,
// as in "3 segments".
func paid(gateway string, n int) Claimant {
	c := network(gateway, "")
	c.Max, c.Price = n, 2_000_000
	c.Segments = func(text string) int {
		n := 1
		_, _ = fmt.Sscanf(text, "%d segments", &n)
		return n
	}
	return c
}

func spends(t *testing.T, s *Store, at int64) []Spend {
	t.Helper()
	return get(t, s, func(tx *Tx) ([]Spend, error) { return tx.Spends(at) })
}

// fill enqueues n texts to n different phones. They may be sent until useful seconds after noon.
func fill(t tester, s *Store, n int, useful int64) {
	t.Helper()
	write(t, s, func(tx *Tx) (err error) {
		for i := range n {
			m := text(fmt.Sprint("k", i), examplePhone(i), noon)
			m.UsefulUntil = noon + useful
			err = errors.Join(err, second(tx.Enqueue(m)))
		}
		return err
	})
}

// A claimed text is charged. The charge is given back if the network surely did not take the text. Otherwise the
// second try is not charged again.
func TestSpend(t *testing.T) {
	for _, c := range []struct {
		name   string
		settle func(Message) Settlement
		want   int64 // texts charged after the first try
		again  int64 // texts charged after the second try, if there is a second try
	}{
		{"took", func(m Message) Settlement { return m.Took("") }, 1, 1},
		{"again", func(m Message) Settlement { return m.Again(noon+60, "busy") }, 0, 1},
		{"unsure", func(m Message) Settlement { return m.Unsure(noon+60, "cut off") }, 1, 1},
		{"back", func(m Message) Settlement { return m.Back(noon, "stopping") }, 0, 1},
		{"refuse", func(m Message) Settlement { return m.Refuse("no") }, 0, 0},
		{"expire", func(m Message) Settlement { return m.Expire("late") }, 0, 0},
		{"lost track", func(m Message) Settlement { return m.LostTrack("cut off") }, 1, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			m := text("k", ana, noon)
			m.Text = "3 segments"
			enqueue(t, s, m)
			claimant := paid("heron", 1)
			claimant.Number = Limits{TextsADay: 9}
			_, list := handOver(t, s, noon, claimant)
			check := func(texts int64) {
				t.Helper()
				for _, got := range spends(t, s, noon) {
					want := Spend{Scope: got.Scope, Texts: texts, MonthTexts: texts, Segments: 3 * texts,
						MonthSegments: 3 * texts, Micros: 6_000_000 * texts, MonthMicros: 6_000_000 * texts}
					equal(t, got, want, "spent")
				}
				most, numbers, err := s.CountToOne(ctx, noon)
				errorIf(t, most != texts || numbers != 1 || err != nil, "to one %d of %d, %v", most, numbers, err)
			}
			check(1) // the text is charged before the result of its try is known
			settle(t, s, noon, c.settle(list[0]), c.settle(list[0]))
			check(c.want)
			handOver(t, s, noon+3600, claimant)
			check(c.again)
		})
	}
}

// If a text was withdrawn during its try, and the network surely did not take it, the charge is given back.
func TestSpendOfATextTakenBack(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	_, list := handOver(t, s, noon, paid("heron", 1))
	ledger(t, s, ana, noon, (*Ledger).Stop)
	settle(t, s, noon, list[0].Expire("not useful any more"))
	equal(t, spends(t, s, noon)[0].Texts, 0, "texts spent")
}

// A limit of the day defers texts until midnight, 12 hours after noon. A limit of the month defers texts until the
// first of July, because the tests run in June.
var limitCases = []struct {
	name     string
	set      func(*Claimant)
	texts    []string // bodies of the texts, which give the number of segments
	want     int      // how many texts must be claimed at once
	deferred Deferred
	reason   string
}{
	{"texts of all", func(c *Claimant) { c.All.TextsADay = 2 }, []string{"a", "b", "c"}, 2,
		Deferred{"all", "texts", noon + 12*3600, 1}, "deferred: texts a day of all texts"},
	{"texts of the network", func(c *Claimant) { c.Own.TextsADay = 1 }, []string{"a", "b", "c"}, 1,
		Deferred{"gateway", "texts", noon + 12*3600, 2}, "deferred: texts a day through heron"},
	{"money of the day, by segments", func(c *Claimant) { c.All.MicrosADay = 7_000_000 },
		[]string{"3 segments", "1 segments", "0 segments"}, 2,
		Deferred{"all", "money-day", noon + 12*3600, 1}, "deferred: money a day of all texts"},
	{"just enough money", func(c *Claimant) { c.All.MicrosADay = 8_000_000 },
		[]string{"3 segments", "1 segments"}, 2, Deferred{}, ""},
	{"money of the month", func(c *Claimant) { c.Own.MicrosAMonth = 1_000_000 }, []string{"a"}, 0,
		Deferred{"gateway", "money-month", noon + 29*day + 12*3600, 1}, "deferred: money a month through heron"},
	{"no limits", func(*Claimant) {}, []string{"a", "b", "c"}, 3, Deferred{}, ""},
}

func TestLimits(t *testing.T) {
	for _, c := range limitCases {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			for i, body := range c.texts {
				m := text(fmt.Sprint("k", i), numbered(i), noon)
				m.Text, m.UsefulUntil = body, noon+40*86400
				enqueue(t, s, m)
			}
			claimant := paid("heron", 10)
			c.set(&claimant)
			claims := get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(noon, claimant) })
			equal(t, len(claims.Texts), c.want, "texts claimed")
			if c.reason == "" {
				equal(t, claims.Deferred, nil, "deferred")
				return
			}
			equal(t, claims.Deferred, []Deferred{c.deferred}, "deferred")
			wantNumber(t, s, int64(c.deferred.Texts),
				"SELECT count(*) FROM message WHERE held = 1 AND state = 'queued' AND tries = 0 AND reason = $1",
				c.reason)
			for _, m := range claims.Texts { // all texts that were not deferred
				settle(t, s, noon, m.Took(""))
			}
			wantClaim(t, s, c.deferred.Until-1, claimant)
			claimant.All, claimant.Own = Limits{}, Limits{}
			got, _ := handOver(t, s, c.deferred.Until, claimant)
			equal(t, len(got), c.deferred.Texts, "texts claimed when the limit allows them")
		})
	}
}

// A text that was claimed by a process that said no more of it ends without a settlement. Its charge is given back if
// its try surely did not begin.
func TestUnsentTextsAreNotCharged(t *testing.T) {
	ends := map[string]func(t *testing.T, s *Store){
		"its use ends": func(t *testing.T, s *Store) {
			write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(noon+7200, 1000)) })
		},
		"STOP comes":         func(t *testing.T, s *Store) { ledger(t, s, ana, noon+60, (*Ledger).Stop) },
		"all data is erased": func(t *testing.T, s *Store) { ledger(t, s, ana, noon+60, (*Ledger).Erase) },
	}
	for name, end := range ends {
		for _, c := range []struct {
			what        string
			once, begun bool
			want        int64 // texts charged
		}{
			{"claimed", true, false, 0},
			{"begun", true, true, 1},
			{"claimed for a network that recognises it", false, false, 1},
		} {
			t.Run(name+", "+c.what, func(t *testing.T) {
				s := open(t)
				m := text("k", ana, noon)
				enqueue(t, s, m)
				claimant := paid("heron", 10)
				claimant.AtMostOnce = c.once
				_, list := handOver(t, s, noon, claimant)
				if c.begun {
					write(t, s, func(tx *Tx) error { return second(tx.Begin(list[0], noon)) })
				}
				end(t, s)
				equal(t, spends(t, s, noon)[0].Texts, c.want, "texts charged")
			})
		}
	}
}

// Each phone number has its own limit. A limit on the number of texts never defers the text that confirms a STOP.
func TestNumberLimit(t *testing.T) {
	s := open(t)
	for i, p := range []Phone{ana, ana, ben} {
		enqueue(t, s, text(fmt.Sprint("k", i), p, noon+int64(i)))
	}
	stop := text("stop", ana, noon+5)
	stop.Note = "stop"
	c := paid("heron", 10)
	c.Number.TextsADay, c.All.TextsADay, c.Own.TextsADay = 1, 2, 2
	wantClaim(t, s, noon+5, c, "k0", "k2")
	enqueue(t, s, stop)
	execSQL(t, s, "UPDATE message SET state = 'accepted', accepted_at = 1, claim_at = NULL WHERE state = 'claimed'")
	wantClaim(t, s, noon+5, c, "stop")
	wantNumber(t, s, 0, "SELECT count(*) FROM spend WHERE scope LIKE '%77009%'")
	top := spends(t, s, noon)[0]
	most, numbers, err := s.CountToOne(ctx, noon)
	errorIf(t, most != 1 || numbers != 2 || top.Texts != 3 || err != nil, "to one %d of %d, %v; spent %+v",
		most, numbers, err, top)
}

// A text that is deferred to an instant after its useful time ends as expired, and its reason names the limit. When
// the service starts with other limits, the deferred texts are due again at once.
func TestDeferredExpiresOrIsReleased(t *testing.T) {
	s := open(t)
	fill(t, s, 2, 3600)
	c := paid("heron", 10)
	c.All.TextsADay = 1
	handOver(t, s, noon, c)
	write(t, s, func(tx *Tx) error { return second(tx.ExpireStale(noon+3601, 1000)) })
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE state = 'expired' AND reason = $1",
		"deferred: texts a day of all texts")
	enqueue(t, s, text("late", ana, noon))
	wantClaim(t, s, noon, c)
	s = openAgain(t, s, Options{RoutePrefixes: []string{}})
	c.All.TextsADay = 5
	wantClaim(t, s, noon, c, "late")
}

// One claim looks at maxLook texts at most, and the next claim continues with the texts after them.
func TestManyAreDeferred(t *testing.T) {
	s := open(t)
	fill(t, s, maxLook+50, 3600)
	c := paid("heron", 16)
	c.All.MicrosADay = 1
	deferred := 0
	for range 3 {
		for _, d := range get(t, s, func(tx *Tx) (Claims, error) { return tx.Claim(noon, c) }).Deferred {
			deferred += d.Texts
		}
	}
	equal(t, deferred, maxLook+50, "texts deferred")
}

func TestSpendIsPruned(t *testing.T) {
	s := open(t)
	fill(t, s, 1, 3600)
	handOver(t, s, noon, paid("heron", 10))
	// There are two rows of spending: one for all networks together, one for the network heron.
	for _, c := range []struct{ days, want int64 }{{spendRetentionDays, 0}, {spendRetentionDays + 1, 2}} {
		equal(t, prune(t, s, noon+c.days*day).Spend, c.want, "rows pruned after %d days", c.days)
	}
}

// Months are calendar months in UTC. The test includes the end of a year.
func TestMonthOf(t *testing.T) {
	for at, want := range map[string][2]string{
		"2026-12-31T23:59:59Z": {"2026-12-01", "2027-01-01"},
		"2028-02-29T00:00:00Z": {"2028-02-01", "2028-03-01"},
		"2026-06-01T00:00:00Z": {"2026-06-01", "2026-07-01"},
	} {
		instant, err := time.Parse(time.RFC3339, at)
		ok(t, err)
		first, next := monthOf(instant.Unix())
		equal(t, [2]string{first.Format(time.DateOnly), next.Format(time.DateOnly)}, want, "%s", at)
	}
}

// After deferred texts are released, they are due at once, and another network may also claim them.
func TestReleaseDeferred(t *testing.T) {
	s := open(t)
	fill(t, s, 5, 3600)
	c := network("tern", "")
	c.Own = Limits{TextsADay: 1}
	handOver(t, s, noon, c)
	for _, want := range []int{3, 1, 0} {
		equal(t, get(t, s, func(tx *Tx) (int, error) { return tx.ReleaseDeferred(3) }), want, "texts released")
	}
	keys, _ := handOver(t, s, noon, network("heron", ""))
	errorIf(t, len(keys) != 4, "claimed %q", keys)
}
