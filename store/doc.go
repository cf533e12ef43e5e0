// Package store keeps the records: growers, plots, passes and sightings, the
// dialogues in progress, what growers were told, and the outbox of texts.
//
// It never decides and never reads a clock: whoever calls hands in the
// instant, as Unix seconds. It does not know screens, networks or agronomy;
// it only borrows the engine's values.
//
// Writes go through [Store.InTx]. One goroutine owns the one writing
// connection and commits waiting writes as a group, so that a write is on
// disk when InTx returns and many writers share one sync:
//
//	err := s.InTx(ctx, func(tx *store.Tx) error {
//		l, err := tx.Ledger(phone, now)
//		if err != nil {
//			return err
//		}
//		return l.LogPass(1, pass)
//	})
//
// Reads that need no write go through [Store.View], on connections that
// cannot write.
package store
