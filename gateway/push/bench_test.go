package push_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"path/filepath"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/push"
	"rowbell/store"
)

// BenchmarkOutbox measures sending on disk, from the claim of a text until its outcome is stored. The network needs
// 20 ms for each text. The number of texts sent at the same time is the largest that a profile can allow.
func BenchmarkOutbox(b *testing.B) {
	s := must(store.Open(b.Context(), filepath.Join(b.TempDir(), "rowbell.db"), store.Options{}))
	defer s.Close()
	now := noon.Unix()
	for from := 0; from < b.N; from += 5000 {
		err := s.InTx(b.Context(), func(tx *store.Tx) error {
			for i := from; i < min(from+5000, b.N); i++ {
				if _, err := tx.Enqueue(store.Message{
					Key: fmt.Sprint("k", i), To: number(i), Reminder: engine.KindOpen, Text: "Weed plot 1 now.",
					CreatedAt: now, DueAt: now, UsefulUntil: now + 86400,
				}); err != nil {
					return err
				}
			}
			return nil
		})
		ok(b, err)
	}
	slow := networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
		select {
		case <-time.After(20 * time.Millisecond):
			return "", nil
		case <-ctx.Done():
			return "", ctx.Err()
		}
	})
	sender := push.New(push.Options{Store: s, QuietHour: 20, Clock: clock.New(noon), Log: zerolog.Nop(),
		Gateways: []push.Gateway{{Name: "local", Network: slow, Concurrency: 256, Idempotent: true, SegmentPrice: 1}}})
	b.ResetTimer()
	n, err := sender.Send(b.Context())
	if err != nil || n != b.N {
		b.Fatalf("%d texts, %v", n, err)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}
