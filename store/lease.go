package store

import (
	"context"
	"errors"
	"math"
	"time"
)

// Lease is the right of one process to do a piece of work for a limited time. If the process dies, another one takes
// the lease after that time.
//
// It ends by the clock of the database server, because the clocks of the processes' machines differ. A process that was
// stopped for longer than its lease does not know that. So each write of the work checks the number of the lease, in
// its transaction: see Context.
type Lease struct {
	Name   string // of the work
	DoneAt int64  // when the work was last done, in Unix seconds of the service's clock; 0 if it never was
	number int64
}

// ErrLeaseLost means that another process has taken the lease, so this one must not write any more.
var ErrLeaseLost = errors.New("store: another process has taken over this work")

const (
	// A process that lost its connection, or was started again, takes its own lease without waiting.
	sqlTakeLease = `INSERT INTO lease (name, holder, number, until, done_at) VALUES ($1, $2, 1, $3, 0)
	ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, number = lease.number + 1, until = excluded.until
		WHERE lease.until <= $4 OR lease.holder = excluded.holder
	RETURNING number, done_at`
	sqlRenewLease = `UPDATE lease SET until = $1 WHERE name = $2 AND number = $3`
	sqlEndLease   = `UPDATE lease SET until = 0, done_at = CASE WHEN $1 > 0 THEN $1 ELSE done_at END
	WHERE name = $2 AND number = $3`
	sqlHoldsLease = `SELECT 1 FROM lease WHERE name = ` + asText + ` AND number = $2`
	sqlLeaseDone  = `SELECT done_at FROM lease WHERE name = ` + asText
)

// TakeLease takes the lease of a piece of work for this process (Options.Process), until it is renewed or ended. The
// result held is false if another process has it. In a file there is no other process, so the lease is always taken.
func (tx *Tx) TakeLease(name string, now int64, length time.Duration) (l Lease, held bool, err error) {
	free := int64(math.MaxInt64)
	if tx.pg != nil {
		if now, err = tx.clock(now); err != nil {
			return l, false, fail("lease", err)
		}
		free = now
	}
	l.Name = name
	held, err = tx.one(sqlTakeLease, args(name, tx.s.process, now+seconds(length), free), &l.number, &l.DoneAt)
	return l, held, fail("lease", err)
}

// RenewLease moves the end of the lease. It returns ErrLeaseLost if another process has the lease.
func (tx *Tx) RenewLease(l Lease, now int64, length time.Duration) error {
	now, err := tx.clock(now)
	if err != nil {
		return fail("lease", err)
	}
	n, err := tx.exec(sqlRenewLease, now+seconds(length), l.Name, l.number)
	if err == nil && n == 0 {
		err = ErrLeaseLost
	}
	return fail("lease", err)
}

// EndLease ends the lease, so that another process can take it at once. The instant doneAt is when the work was done; 0
// if it was not.
func (tx *Tx) EndLease(l Lease, doneAt int64) error {
	return fail("lease", tx.do(sqlEndLease, doneAt, l.Name, l.number))
}

// LeaseDone returns when a piece of work was last done, in Unix seconds; 0 if it never was.
func (tx *Tx) LeaseDone(name string) (at int64, err error) {
	_, err = tx.one(sqlLeaseDone, args(name), &at)
	return at, fail("lease", err)
}

// Context returns a context for the work. On a server, a write with this context fails with ErrLeaseLost after another
// process has taken the lease. In a file no other process can take it.
func (l Lease) Context(ctx context.Context) context.Context {
	return context.WithValue(ctx, leaseKey{}, l)
}

type leaseKey struct{}

// checkLease returns ErrLeaseLost if a write on a server has the context of a lost lease. It locks the row of the
// lease, so no other process can take it until the write has ended.
func (tx *Tx) checkLease() error {
	l, is := tx.ctx.Value(leaseKey{}).(Lease)
	if !is {
		return nil
	}
	holds, err := tx.one(sqlHoldsLease, args(l.Name, l.number), new(int64))
	if err == nil && !holds {
		err = ErrLeaseLost
	}
	return fail("lease", err)
}

const pgClock = `SELECT extract(epoch FROM clock_timestamp())::bigint`

// clock returns the time of the database server, in Unix seconds. A file has no clock: then it is now.
func (tx *Tx) clock(now int64) (int64, error) {
	if tx.pg == nil {
		return now, nil
	}
	_, err := tx.one(pgClock, nil, &now)
	return now, err
}

// seconds returns a length of time in whole seconds, rounded up.
func seconds(d time.Duration) int64 { return int64((d + time.Second - 1) / time.Second) }
