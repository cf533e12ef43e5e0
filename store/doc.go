// Package store stores the records in a database: growers, plots, passes (weedings), sightings (what growers
// saw on their plots), dialogues in progress, the reminders that were sent, and the outbox of texts.
//
// The package makes no decisions about agronomy or dialogues, reads no clock and logs nothing. Callers pass the
// current instant as Unix seconds and receive errors. The package does not depend on screens or network
// protocols, and uses only value types of the package engine.
//
// All writes go through [Store.InTx]. One goroutine owns the only writing connection and commits all waiting writes
// together, as a group. A write is on disk when InTx returns, and writes of the same group share one sync of the disk:
//
//	err := s.InTx(ctx, func(tx *store.Tx) error {
//		l, err := tx.Ledger(phone, now)
//		if err != nil {
//			return err
//		}
//		return l.LogPass(1, pass)
//	})
//
// Callers that only read use [Store.View], which runs on connections that cannot write.
package store
