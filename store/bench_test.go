package store

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

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

const herdSize = 20_000

// BenchmarkStep is a USSD step: look for a stored reply, read session, grower and season, save session
// and reply; one in five also logs a pass.
func BenchmarkStep(b *testing.B) {
	s := open(b)
	herd(b, s, herdSize)
	var n atomic.Int64
	b.SetParallelism(32) // callers for each core
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			i := int(n.Add(1))
			if err := s.InTx(context.Background(), func(tx *Tx) error { return step(tx, i) }); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "steps/s")
}

var stateBlob = make([]byte, 120)

func step(tx *Tx, i int) error {
	phone, key := herdPhone(i%herdSize), fmt.Sprint("key-", i)
	if _, seen, err := tx.StoredReply("local", key, 0); seen || err != nil {
		return err
	}
	if _, _, err := tx.Session(phone, "ussd"); err != nil {
		return err
	}
	l, err := tx.Ledger(phone, noon)
	if err != nil {
		return err
	}
	if _, err := l.Season(1); err != nil {
		return err
	}
	if i%5 == 0 {
		if err := l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
			return err
		}
	}
	if err := tx.SaveSession(Session{Phone: phone, Channel: "ussd", Network: "n", State: stateBlob, SavedAt: noon,
		ExpiresAt: noon + 600}); err != nil {
		return err
	}
	return tx.StoreReply("local", key, phone, stateBlob, noon)
}

// BenchmarkInTx is one small write each, from many callers.
func BenchmarkInTx(b *testing.B) {
	s := open(b)
	var n atomic.Int64
	b.SetParallelism(32)
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := s.InTx(context.Background(), remember(fmt.Sprint(n.Add(1)))); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "writes/s")
}

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

// BenchmarkDue is the store's part of a bell over 100,000 due plots: read, tell, enqueue, prompt, next
// look.
func BenchmarkDue(b *testing.B) {
	const plots = 100_000
	s := open(b)
	herd(b, s, plots)
	b.ResetTimer()
	for round := range b.N {
		now := noon + int64(round)*86400
		var looked int
		var reading time.Duration
		for {
			var due []DueGrower
			write(b, s, func(tx *Tx) (err error) {
				began := b.Elapsed()
				due, err = tx.DueGrowers(now, 500)
				reading += b.Elapsed() - began
				if err != nil {
					return err
				}
				for _, g := range due {
					for _, p := range g.Plots {
						told := engine.Told{Kind: engine.KindOpen, Window: round + 1, On: day0 + engine.Day(round)}
						if _, err := tx.Tell(p.ID, told); err != nil {
							return err
						}
						m := text(fmt.Sprint("plot ", p.ID, " open ", round), g.Phone, now)
						m.GrowerID, m.PlotIDs, m.Reminder, m.Note = g.ID, []int64{p.ID}, engine.KindOpen, ""
						if _, err := tx.Enqueue(m); err != nil {
							return err
						}
						if err := tx.SavePrompt(Prompt{Phone: g.Phone, Body: stateBlob[:20], AskedAt: now,
							Until: now + 86400}); err != nil {
							return err
						}
						if err := tx.SetLook(p.ID, now+86400); err != nil {
							return err
						}
						looked++
					}
				}
				return nil
			})
			if len(due) == 0 {
				break
			}
		}
		if looked != plots {
			b.Fatalf("looked at %d plots", looked)
		}
		b.ReportMetric(reading.Seconds(), "reading-s/round")
	}
	b.ReportMetric(float64(b.N)*plots/b.Elapsed().Seconds(), "plots/s")
}
