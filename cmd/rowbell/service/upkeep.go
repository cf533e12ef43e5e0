package service

import (
	"context"
	"errors"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// upkeepEvery is the time between two runs of upkeep.
const upkeepEvery = time.Hour

// every calls do at regular intervals until ctx ends.
func (s *Service) every(ctx context.Context, interval time.Duration, do func(context.Context)) {
	ticks, stop := s.clock.Every(interval)
	defer stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticks:
			do(ctx)
		}
	}
}

// runUpkeep runs upkeep now and every hour until ctx ends. The ticks begin before the first run, so that an hour that
// passes meanwhile counts.
func (s *Service) runUpkeep(ctx context.Context) {
	ticks, stop := s.clock.Every(upkeepEvery)
	defer stop()
	for {
		if err := s.upkeep(ctx); err != nil && ctx.Err() == nil {
			s.log.Error().Err(err).Str("why", store.Advice(err)).
				Msg("upkeep: a part of it failed; it is tried again in an hour")
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

// upkeep removes records past their retention, makes the nightly backup, adjusts the weed rates of the places, counts
// the sums of the season report, and empties the write-ahead log of SQLite, which may contain removed records. Each
// part runs even if another part fails; the next upkeep repeats failed parts.
func (s *Service) upkeep(ctx context.Context) error {
	return errors.Join(
		s.withLease(ctx, "prune", s.hourly, s.prune),
		s.withLease(ctx, "backup", atEachUpkeep, func(ctx context.Context) (bool, error) {
			s.backup(ctx)
			return true, nil
		}),
		s.withLease(ctx, "learning", s.daily, s.learn),
		s.withLease(ctx, "codes", s.daily, s.watchCodes),
		s.withLease(ctx, "report", s.reportDue(ctx), s.countReport),
		s.store.Checkpoint(ctx), s.store.NoteGrowers(ctx))
}

// hourly reports whether work was last done about an hour ago, or earlier. In a file this service alone does it, each
// time that it is called.
func (s *Service) hourly(last time.Time) bool {
	return !s.process.shared || s.clock.Now().Sub(last).Abs() >= upkeepEvery-upkeepEvery/10
}

// daily reports whether work was last done on another day (UTC).
func (s *Service) daily(last time.Time) bool {
	return engine.DayOf(s.clock.Now(), time.UTC) != engine.DayOf(last, time.UTC)
}

// prune removes records past their retention.
func (s *Service) prune(ctx context.Context) (done bool, err error) {
	pruned, err := s.store.Prune(ctx, s.clock.Now().Unix())
	if pruned.Growers > 0 || pruned.Seasons > 0 {
		s.log.Info().Int64("growers", pruned.Growers).Int64("seasons", pruned.Seasons).
			Msg("upkeep: records past their retention were erased; see [keep]")
	}
	return true, err
}

// learn adjusts the weed rate of each place to the weeds that its growers saw.
func (s *Service) learn(ctx context.Context) (done bool, err error) {
	now := s.clock.Now()
	var places []store.Place
	err = s.store.View(ctx, func(tx *store.Tx) (err error) {
		places, err = tx.Places()
		return err
	})
	for _, p := range places {
		err = errors.Join(err, s.learnAt(ctx, p, now.Unix()))
	}
	return true, err
}

// learnAt reads and computes outside of the writer, so that callbacks do not wait for the computation.
func (s *Service) learnAt(ctx context.Context, p store.Place, now int64) error {
	l, learns, err := s.store.Learned(ctx, p.ID, now)
	if err != nil || !learns {
		return err
	}
	changed := false
	err = s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		changed, err = tx.KeepLearned(p.ID, l, now)
		return err
	})
	if changed && err == nil {
		s.log.Info().Str("place", p.Name).
			Msg("learning: what is known of the weeds of a place has changed; see rowbell place")
	}
	return err
}

// watchCodes writes a log line if growers have entered so many wrong codes for a move to a new
// phone number that the day's limit is reached: somebody may be guessing codes.
func (s *Service) watchCodes(ctx context.Context) (logged bool, err error) {
	blocked, err := s.codesBlocked(ctx)
	if blocked {
		s.log.Warn().Msg("codes: " + codesBlockedNote +
			"; somebody may be guessing: look which network the wrong codes come from")
	}
	return blocked, err
}

// hourlyReport is up to how many plots and texts the sums of the season report are counted each hour. Such a count
// takes seconds; a larger one is for the night.
const hourlyReport = 100_000

// reportDue returns a function that reports whether the sums of the season report are due: each hour if that is little
// work, otherwise once a day.
func (s *Service) reportDue(ctx context.Context) func(last time.Time) bool {
	var counted store.ReportCounted
	err := s.store.View(ctx, func(tx *store.Tx) (err error) {
		counted, _, err = tx.ReportCounted()
		return err
	})
	if err == nil && counted.Rows > hourlyReport {
		return s.daily
	}
	return s.hourly
}

// reportPause is from when to when a page of a large count begins. A page takes about 6 ms, so a count takes a third of
// a processor, and growers do not notice it.
const reportPause = 20 * time.Millisecond

// countReport counts the sums of the season report. A large count pauses between its pages, unless the clock stands
// still while it counts.
func (s *Service) countReport(ctx context.Context) (done bool, err error) {
	ticks, stop := s.clock.Every(reportPause)
	defer stop()
	counted, err := s.store.CountReport(ctx, s.clock.Now().Unix(), func(looked int64) {
		if looked > hourlyReport && !s.stands {
			select {
			case <-ctx.Done():
			case <-ticks:
			}
		}
	})
	if counted.Skipped > 0 {
		s.log.Warn().Int64("plots", counted.Skipped).
			Msg("report: the engine refuses what is stored of some plots; the season report leaves them out")
	}
	return true, err
}
