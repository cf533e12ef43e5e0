package store

import (
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// errNoStandby means that a transaction is on the disk of the primary, and that nobody knows whether the synchronous
// standby has it. The server does not call this an error: if somebody cancels the wait of a commit for the standby, the
// commit succeeds with a warning. But a failover would lose what the grower was told.
var errNoStandby = errors.New("the wait for the synchronous standby was canceled")

// canceledWait is the key under which a connection remembers such a warning until its commit has ended.
const canceledWait = "rowbell: the wait for the standby was canceled"

// onNotice is called for each message of a server that is no error. The name of the function in the server that sends
// the warning is the same in all languages (PostgreSQL source, src/backend/replication/syncrep.c).
func onNotice(c *pgconn.PgConn, n *pgconn.Notice) {
	if n.Routine == "SyncRepWaitForLSN" {
		c.CustomData()[canceledWait] = true
	}
}

// waitedForStandby returns an error if the wait of the commit that has just succeeded was canceled.
func waitedForStandby(c *pgx.Conn) error {
	data := c.PgConn().CustomData()
	if _, canceled := data[canceledWait]; !canceled {
		return nil
	}
	delete(data, canceledWait)
	return errNoStandby
}

const pgConfirm = `SELECT pg_logical_emit_message(true, 'rowbell', '')`

// confirm makes the commit of a transaction that only reads wait for the standby. It is for an answer that is told
// again: the commit that stored it may have ended without the standby, and is visible since then.
func (tx *Tx) confirm() error {
	if tx.pg == nil || !tx.pg.writes {
		return nil
	}
	return fail("confirm", tx.do(pgConfirm))
}
