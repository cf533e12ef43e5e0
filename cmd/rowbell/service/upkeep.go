package service

import (
	"context"
	"errors"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// upkeepEvery is how often upkeep runs, and after how long it is tried again.
const upkeepEvery = time.Hour

// runUpkeep runs upkeep now and then hourly until ctx ends.
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

// upkeep removes what is past its retention, makes the nightly backup, has the
// places learn, and empties the write-ahead log, so that what was removed is not
// left in it. A part that fails does not keep the others from running; it is
// tried again by the next upkeep.
func (s *Service) upkeep(ctx context.Context) error {
	gone, err := s.store.Prune(ctx, s.clock.Now().Unix())
	if gone.Growers > 0 || gone.Seasons > 0 {
		s.log.Info().Int64("growers", gone.Growers).Int64("seasons", gone.Seasons).
			Msg("upkeep: records past their retention were erased; see [keep]")
	}
	s.backup(ctx)
	return errors.Join(err, s.learn(ctx), s.watchCodes(ctx), s.store.Checkpoint(ctx))
}

// learn adjusts, once a day (UTC), the weed growth rate of each place to what
// its growers saw. A day counts as done only when all places were committed.
func (s *Service) learn(ctx context.Context) error {
	now := s.clock.Now()
	today := engine.DayOf(now, time.UTC)
	if today == s.learned {
		return nil
	}
	err := s.store.InTx(ctx, func(tx *store.Tx) error {
		places, err := tx.Places()
		if err != nil {
			return err
		}
		for _, p := range places {
			changed, err := tx.LearnPlace(p.ID, now.Unix())
			if err != nil {
				return err
			}
			if changed {
				s.log.Info().Str("place", p.Name).
					Msg("learning: the weed growth rate of a place has changed; see rowbell place")
			}
		}
		return nil
	})
	if err == nil {
		s.learned = today
	}
	return err
}

// watchCodes logs, once a day, that so many wrong codes were typed that none is
// accepted any more: somebody may be guessing them.
func (s *Service) watchCodes(ctx context.Context) error {
	today := engine.DayOf(s.clock.Now(), time.UTC)
	if today == s.codesLogged {
		return nil
	}
	blocked, err := s.codesBlocked(ctx)
	if blocked {
		s.codesLogged = today
		s.log.Warn().Msg("codes: " + codesBlockedNote +
			"; somebody may be guessing: look which network the wrong codes come from")
	}
	return err
}
