package store

import (
	"errors"
	"fmt"
	"testing"

	"rowbell/engine"
)

// herd fills a database with growers who have one plot each.
func herd(b *testing.B, s *Store, growers int) {
	b.Helper()
	for from := 0; from < growers; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, growers); i++ {
				l, err := tx.Ledger(herdPhone(i), noon)
				if err != nil {
					return err
				}
				err = errors.Join(consent(l), addPlot(l))
				if i%2 == 0 {
					pass := engine.Pass{On: day0 - 4, With: engine.ByTool, Left: engine.Few}
					err = errors.Join(err, l.LogPass(1, pass))
				}
				if i%3 == 0 {
					err = errors.Join(err, l.See(1, engine.Sighting{On: day0 - 1, Amount: engine.Some}))
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// herdPhone returns the i-th of many phone numbers. They have too many digits to be real, because too few numbers are
// reserved for examples.
func herdPhone(i int) Phone { return Phone(fmt.Sprintf("+44%d%09d", 7700900, i)) }

// BenchmarkClaimSettle claims texts in groups of a hundred, and settles them (stores the results of sending them).
func BenchmarkClaimSettle(b *testing.B) {
	s := open(b)
	for from := 0; from < b.N; from += 5000 {
		write(b, s, func(tx *Tx) (err error) {
			for i := from; i < min(from+5000, b.N); i++ {
				err = errors.Join(err, second(tx.Enqueue(text(fmt.Sprint(i), herdPhone(i), noon))))
			}
			return err
		})
	}
	b.ResetTimer()
	for left := b.N; left > 0; {
		_, list := handOver(b, s, noon, local(100))
		done := make([]Settlement, len(list))
		for i, m := range list {
			done[i] = m.Took(m.Key)
		}
		settle(b, s, noon, done...)
		left -= len(list)
		fatalIf(b, len(list) == 0, "%d cannot be claimed", left)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}
