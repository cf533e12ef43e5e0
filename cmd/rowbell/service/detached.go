package service

import (
	"context"
	"path/filepath"
	"time"

	"rowbell/store"
)

// fileCheckEvery is how often the database file is compared with the open one while no call comes. Each write compares
// them too.
const fileCheckEvery = 10 * time.Second

// checkFile finds out whether the database file was removed or replaced, also while no call comes.
func (s *Service) checkFile(ctx context.Context) {
	_ = s.store.Recheck(ctx) // the store calls logDetached
}

// logDetached logs that the database file was removed or replaced, and where the records are. With nil, it logs that
// the file is back.
func (s *Service) logDetached(e *store.DetachedError) {
	switch {
	case e == nil:
		s.log.Warn().Msg("records: the files that were removed are back at their paths; calls are answered again")
	case e.Overwritten:
		s.log.Error().Str("file", e.Path).Msg("records: " + e.What + " was overwritten; calls are refused; what was " +
			"in it is lost: stop the service, and put back a backup with rowbell restore")
	case e.Whole:
		s.log.Error().Str("file", filepath.Base(e.Path)).Msg("records: " + e.What + " was removed or replaced; " +
			"calls are refused; all that was answered is in the database file: start the service again")
	case e.Err != nil:
		s.log.Error().Err(e.Err).Str("file", e.Path).Msg("records: " + e.What + " was removed or replaced; " +
			"calls are refused, and what was answered could not be copied: make room and make the folder of the " +
			"records again, and leave the service running; it is tried again")
	default:
		s.log.Error().Str("file", e.Path).Str("rescued", e.Rescued).Msg("records: " + e.What + " was removed or " +
			"replaced; calls are refused; all that was answered is in the rescued file: stop the service, and put " +
			"that file back with rowbell restore")
	}
}
