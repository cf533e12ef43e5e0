package store

import (
	"fmt"
	"testing"

	"rowbell/engine"
)

// herd fills a database with growers of one plot each.
func herd(b *testing.B, s *Store, growers int) {
	b.Helper()
	for from := 0; from < growers; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, growers); i++ {
				l, err := tx.Ledger(herdPhone(i), noon)
				if err != nil {
					return err
				}
				if err := consent(l); err != nil {
					return err
				}
				if _, err := l.AddPlot(aPlot(), aTool()); err != nil {
					return err
				}
				if i%2 == 0 {
					if err := l.LogPass(1, engine.Pass{On: day0 - 4, With: engine.ByTool,
						Left: engine.Few}); err != nil {
						return err
					}
				}
				if i%3 == 0 {
					if err := l.See(1, engine.Sighting{On: day0 - 1, Amount: engine.Some}); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
}

// herdPhone returns the i-th of more phones than there are numbers for examples: they are too long to
// be anybody's.
func herdPhone(i int) Phone { return Phone(fmt.Sprintf("+44%d%09d", 7700900, i)) }

// BenchmarkClaimSettle claims texts a hundred at a time and settles them.
func BenchmarkClaimSettle(b *testing.B) {
	s := open(b)
	for from := 0; from < b.N; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, b.N); i++ {
				if _, err := tx.Enqueue(text(fmt.Sprint(i), Phone(fmt.Sprintf("+44%d", 7700900000+i)),
					noon)); err != nil {
					return err
				}
			}
			return nil
		})
	}
	b.ResetTimer()
	for left := b.N; left > 0; {
		var list []Message
		write(b, s, func(tx *Tx) (err error) {
			claims, err := tx.Claim(noon, local(100))
			list = claims.Texts
			return err
		})
		write(b, s, func(tx *Tx) error {
			done := make([]Settlement, len(list))
			for i, m := range list {
				done[i] = m.Took(m.Key)
			}
			return tx.Settle(noon, done...)
		})
		if left -= len(list); len(list) == 0 {
			b.Fatalf("%d cannot be claimed", left)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}
