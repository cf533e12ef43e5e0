package service

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

const (
	// leaseLength is how long no other process does the work of a process that died. It is longer than a failover of
	// the database takes, so that a process that works keeps its lease.
	leaseLength     = 2 * time.Minute
	leaseRenewEvery = 20 * time.Second
	// processRenewEvery is how often a process records that it runs: three times in store.ProcessLength.
	processRenewEvery = 20 * time.Second
	// maxClockGap is by how much the clock of this machine may differ from that of the database server. Claims and
	// sessions are timed by the clocks of the processes; a few seconds do not matter to them.
	maxClockGap = 5 * time.Second
)

// process is this service as one of those that share the records on a server. In a file there is only this one.
type process struct {
	number    int64        // of its start
	shared    bool         // the records are on a server
	nameTaken atomic.Bool  // another process was started with this name
	clockGap  atomic.Int64 // time.Duration by which the clock is ahead of the server's, if that is too much; else 0
}

// processName returns the name of a process: the one of the configuration, or that of the machine with the port, which
// stays the same after a restart.
func processName(c config.Config, address net.Addr) string {
	if c.Process != "" {
		return c.Process
	}
	host, err := os.Hostname()
	if err != nil {
		host = "rowbell"
	}
	_, port, _ := net.SplitHostPort(address.String())
	return cmp.Or(host, "rowbell") + ":" + port
}

// startProcess records that this process runs, until it is closed.
func (s *Service) startProcess(ctx context.Context, version string) error {
	err := s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		s.process.number, err = tx.StartProcess(version, s.clock.Now().Unix())
		return err
	})
	if err != nil {
		return err
	}
	s.closes = append(s.closes, func() error {
		// An error does not matter: then the process counts as running until store.ProcessLength has passed.
		_ = s.store.InTx(context.WithoutCancel(ctx), func(tx *store.Tx) error {
			return tx.EndProcess(s.process.number)
		})
		return nil
	})
	return nil
}

// renewProcess records that this process still runs. It does not report other errors: /readyz says that the records
// cannot be written.
func (s *Service) renewProcess(ctx context.Context) {
	var serverTime int64
	err := s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		serverTime, err = tx.RenewProcess(s.process.number, s.clock.Now().Unix())
		return err
	})
	switch {
	case errors.Is(err, store.ErrNameTaken):
		if !s.process.nameTaken.Swap(true) {
			s.log.Error().Msg("process: " + nameTakenNote)
		}
	case errors.Is(err, store.ErrNewer):
		s.log.Error().Msg("process: a newer version has migrated the records, which this one cannot use any more: " +
			"it stops")
		s.outdated(err)
	case errors.Is(err, store.ErrMoved):
		s.log.Error().Msg("process: the records were moved to another database while this process was suspended: " +
			"it stops")
		s.outdated(err)
	case err == nil:
		s.compareClocks(s.clock.Now().Sub(time.Unix(serverTime, 0)))
	}
}

const nameTakenNote = "another process was started with the name of this one; give each its own: " +
	"process in rowbell.toml"

// compareClocks stores and logs by how much the clock is ahead of the server's, if that is more than maxClockGap.
func (s *Service) compareClocks(gap time.Duration) {
	if _, real := s.clock.(SystemClock); !real {
		return
	}
	if gap.Abs() <= maxClockGap {
		gap = 0
	}
	if was := s.process.clockGap.Swap(int64(gap)); was == 0 && gap != 0 {
		s.log.Warn().Msg("process: " + clockNote(gap))
	}
}

func clockNote(gap time.Duration) string {
	return fmt.Sprintf("the clocks of this machine and of the database server differ by %s: set them by a time server",
		gap.Abs().Round(time.Second))
}

// processNotes returns the notes of /readyz about this process.
func (s *Service) processNotes() (list []string) {
	if s.process.nameTaken.Load() {
		list = append(list, nameTakenNote)
	}
	if gap := time.Duration(s.process.clockGap.Load()); gap != 0 {
		list = append(list, clockNote(gap))
	}
	return list
}

// withLease does a piece of work, unless another process does it now. The function due reports whether the work is due;
// last is when it was last done. The function work reports whether the work is done for now; if it is not, or fails,
// this or another process tries again. If the lease is lost, the context of the work ends, and its writes are refused.
func (s *Service) withLease(ctx context.Context, name string, due func(last time.Time) bool,
	work func(ctx context.Context) (done bool, err error)) error {
	begun := s.clock.Now()
	var last int64
	if err := s.store.View(ctx, func(tx *store.Tx) (err error) {
		last, err = tx.LeaseDone(name)
		return err
	}); err != nil || !due(time.Unix(last, 0)) {
		return err
	}
	var lease store.Lease
	var held bool
	if err := s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		lease, held, err = tx.TakeLease(name, begun.Unix(), leaseLength)
		return err
	}); err != nil || !held {
		return err
	}
	doneAt := int64(0)
	if due(time.Unix(lease.DoneAt, 0)) { // another process may have done it since
		done, err := s.whileRenewed(ctx, lease, work)
		switch {
		case errors.Is(err, store.ErrLeaseLost):
			s.log.Warn().Str("work", name).Msg("upkeep: another process has taken over, because this one was stopped " +
				"or could not reach the database for too long")
			return nil
		case err != nil:
			return errors.Join(err, s.endLease(ctx, lease, 0))
		case done:
			doneAt = begun.Unix()
		}
	}
	return s.endLease(ctx, lease, doneAt)
}

func (s *Service) endLease(ctx context.Context, l store.Lease, doneAt int64) error {
	return s.store.InTx(context.WithoutCancel(ctx), func(tx *store.Tx) error { return tx.EndLease(l, doneAt) })
}

// whileRenewed does the work. On a server it renews the lease until the work has ended.
func (s *Service) whileRenewed(ctx context.Context, l store.Lease,
	work func(context.Context) (bool, error)) (done bool, err error) {
	if !s.process.shared {
		return work(ctx)
	}
	ctx, lost := context.WithCancelCause(l.Context(ctx))
	var renewing sync.WaitGroup
	renewing.Go(func() {
		s.every(ctx, leaseRenewEvery, func(ctx context.Context) {
			err := s.store.InTx(ctx, func(tx *store.Tx) error {
				return tx.RenewLease(l, s.clock.Now().Unix(), leaseLength)
			})
			if errors.Is(err, store.ErrLeaseLost) {
				lost(err)
			}
		})
	})
	done, err = work(ctx)
	if err != nil && context.Cause(ctx) != nil {
		err = errors.Join(err, context.Cause(ctx))
	}
	lost(nil)
	renewing.Wait()
	return done, err
}

// atEachUpkeep is the function due of work that itself finds out whether it is due.
func atEachUpkeep(time.Time) bool { return true }
