package store

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
)

// BenchmarkWriteOnServer compares a step of a dialogue, as the store writes it, with the bare driver that does the same
// statements, in rounds that take turns. What it says is the median of the ratios:
//
//	.ci/postgres go test ./store -run xxx -bench WriteOnServer -benchtime 1x
func BenchmarkWriteOnServer(b *testing.B) {
	serverOnly(b)
	s := open(b)
	const phones, workers, rounds = 64, 8, 9
	for n := range phones {
		withPlot(b, s, phoneNo(n))
	}
	pool, err := pgxpool.New(ctx, addressOf(s))
	ok(b, err)
	defer pool.Close()
	ours := func(n int) error {
		return s.InTx(ctx, func(tx *Tx) error {
			phone := phoneNo(n % phones)
			start, err := tx.StartStep(ReplyKey{"local", fmt.Sprint(n), noon}, phone, "ussd", noon)
			if err != nil {
				return err
			}
			start.Session.State, start.Session.SavedAt, start.Session.ExpiresAt = []byte("state"), noon, noon+day
			if err := tx.SaveSession(start.Session); err != nil {
				return err
			}
			return tx.StoreReply("local", fmt.Sprint(n), phone, []byte("reply"), noon)
		})
	}
	var ratios []float64
	for b.Loop() {
		ratios = ratios[:0]
		for round := range rounds + 1 {
			bare := timed(b, workers, 100, func(n int) error { return bareWrite(pool, phoneNo(n%phones).E164(), n) })
			store := timed(b, workers, 100, ours)
			if round > 0 { // the first one prepares the statements
				ratios = append(ratios, bare.Seconds()/store.Seconds())
			}
		}
	}
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], "of-bare")
}

var timedCalls int

// timed returns how long some workers take for as many calls each.
func timed(b *testing.B, workers, calls int, call func(n int) error) time.Duration {
	b.Helper()
	first := timedCalls
	timedCalls += workers * calls
	begun := time.Now()
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for n := range calls {
				if err := call(first + w*calls + n); err != nil {
					b.Error(err)
				}
			}
		})
	}
	wg.Wait()
	return time.Since(begun)
}

// bareWrite does by the driver alone what the store does for a step.
func bareWrite(pool *pgxpool.Pool, phone string, n int) error {
	ctx := context.Background()
	tx, err := pool.Begin(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback(ctx) }() // after a commit it does nothing
	key := fmt.Sprint(n)
	for _, q := range []struct {
		text string
		args []any
	}{
		{pgLock, []any{phone}},
		{pgQuery(sqlStartStep, true), []any{phone, "local", key, noon, "ussd"}},
		{sqlSaveSession, []any{phone, "ussd", "", []byte("state"), noon, noon + day}},
		{sqlStoreReply, []any{phone, "local", key, []byte("reply"), noon}},
	} {
		rows, err := tx.Query(ctx, q.text, q.args...)
		if err != nil {
			return err
		}
		for rows.Next() {
			if _, err := rows.Values(); err != nil {
				return err
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	return tx.Commit(ctx)
}
