package service

import (
	"context"
	"time"

	"rowbell/store"
)

// attentionEvery is how soon the list of the morning follows a change: about twice this time, because the bell marks
// first who changed.
const attentionEvery = time.Minute

// runAttention keeps the list of plots that need somebody, until ctx ends. Of several failures in a row it logs the
// first.
func (s *Service) runAttention(ctx context.Context) {
	ticks, stop := s.clock.Every(attentionEvery)
	defer stop()
	failing := false
	for {
		err := s.attend(ctx)
		if err != nil && ctx.Err() == nil && !failing {
			s.log.Error().Err(err).Str("why", store.Advice(err)).
				Msg("morning: the list of plots that need somebody is old; trying again every minute")
		}
		failing = err != nil
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}

// attend plans the plots of a place once a day, as soon as the day begins there, and those of growers who changed.
func (s *Service) attend(ctx context.Context) error {
	s.attending.Lock()
	defer s.attending.Unlock()
	now := s.clock.Now().Unix()
	due := false
	err := s.store.View(ctx, func(tx *store.Tx) (err error) {
		due, err = tx.AttentionDue(now)
		return err
	})
	if err != nil || !due {
		return err
	}
	return s.withLease(ctx, "attention", atEachUpkeep, func(ctx context.Context) (bool, error) {
		planned, refused, err := s.store.KeepAttention(ctx, now)
		if planned > 0 {
			s.DeskChanged()
		}
		if refused > 0 {
			s.log.Error().Int("plots", refused).Int("of", planned).
				Msg("morning: plots cannot be planned and are not in the list: " +
					"look at the figures and the weather of their places, with rowbell place")
		}
		return true, err
	})
}
