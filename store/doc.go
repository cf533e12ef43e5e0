// Package store keeps the records: growers, plots, passes and sightings, dialogues in progress, what
// growers were told, and the outbox of texts.
//
// It makes no decisions about agronomy or dialogues, reads no clock and logs nothing: callers pass the
// instant as Unix seconds and get errors back. It knows no screens and no network protocols, and of the
// engine it uses only the value types.
//
// Writes go through [Store.InTx]. One goroutine owns the only writing connection and commits waiting
// writes as a group: a write is on disk when InTx returns, and concurrent writers share one sync:
//
//	err := s.InTx(ctx, func(tx *store.Tx) error {
//		l, err := tx.Ledger(phone, now)
//		if err != nil {
//			return err
//		}
//		return l.LogPass(1, pass)
//	})
//
// Reads go through [Store.View], on connections that cannot write.
package store
