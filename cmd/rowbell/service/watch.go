package service

import (
	"context"
	"path/filepath"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// disks returns the folders whose free space is watched.
func disks(c config.Config) []meter.Disk {
	var list []meter.Disk
	if !store.OnServer(c.DB) {
		list = append(list, meter.Disk{Name: "records", Path: filepath.Dir(c.DB)})
	}
	if c.Backup != nil {
		list = append(list, meter.Disk{Name: "backups", Path: c.Backup.Folder})
	}
	return list
}

func (s *Service) newMeter(c config.Config, more Options, networks []profile.Profile) *meter.Meter {
	o := meter.Options{Clock: s.clock, Store: s.store, Version: more.Version, Disks: disks(c), Spend: s.spent,
		OperatorHold: func() bool { _, on := s.operatorHold(); return on }}
	if !store.OnServer(c.DB) {
		o.DB = c.DB
	}
	if s.nightly != nil {
		o.BackupShrunken = func() bool { _, ok := s.shrunken(); return ok }
	}
	if s.process.shared {
		o.Process = more.Process
	}
	for _, n := range networks {
		o.Gateways = append(o.Gateways, n.Name)
	}
	return meter.New(o)
}

func (s *Service) health(c config.Config) gateway.Health {
	h := gateway.Health{Disks: disks(c), QuietHour: c.QuietHour, Notes: s.notes}
	if s.nightly != nil {
		h.Backup = s.nightly.state
	}
	return h
}

// spent returns the cost of the texts of each network, today and this month.
func (s *Service) spent() (rows []meter.SpendRow, err error) {
	err = s.store.View(context.Background(), func(tx *store.Tx) error {
		list, err := tx.Spends(s.clock.Now().Unix())
		for _, p := range list {
			if name, ok := strings.CutPrefix(p.Scope, "gateway/"); ok {
				rows = append(rows, meter.SpendRow{Gateway: name, Today: p.Micros, Month: p.MonthMicros})
			}
		}
		return err
	})
	return rows, err
}

// operatorHold returns the operator hold; on is false without one. It ignores an error of the records, because another
// check of /readyz reports such an error.
func (s *Service) operatorHold() (h store.SendingHold, on bool) {
	_ = s.store.View(context.Background(), func(tx *store.Tx) (err error) {
		h, on, err = tx.SendingHeld()
		return err
	})
	return h, on
}

// undecided returns the number of texts that wait for a decision of the operator. It ignores errors as operatorHold
// does.
func (s *Service) undecided() (n int64) {
	_ = s.store.View(context.Background(), func(tx *store.Tx) (err error) {
		n, err = tx.UndecidedCount(s.clock.Now().Unix())
		return err
	})
	return n
}

// notes returns the notes of /readyz: lines for the operator that do not make the service unready. Anybody may read
// them, so they contain no typed text.
func (s *Service) notes() []string {
	var list []string
	if h, on := s.operatorHold(); on {
		list = append(list, "an operator holds all texts since "+time.Unix(h.Since, 0).UTC().Format("2 Jan 15:04 UTC")+
			"; rowbell sending shows why, and rowbell sending go lets them out")
	}
	for _, l := range s.parts.Load().push.Limits(s.clock.Now()) {
		list = append(list, "texts are deferred by the limit "+l+"; rowbell sending shows how many")
	}
	for _, name := range s.meter.OpenBreakers() {
		list = append(list, "the network "+name+" fails or asked for a pause, and is left alone for some "+
			"time: its texts wait or go another way; the log says why")
	}
	list = append(list, s.configurationNotes()...)
	list = append(list, s.processNotes()...)
	if n := s.undecided(); n > 0 {
		list = append(list, undecidedNote(n))
	}
	if blocked, err := s.codesBlocked(context.Background()); err == nil && blocked {
		list = append(list, codesBlockedNote)
	}
	if since, ok := s.shrunken(); ok {
		list = append(list, "since "+since.String()+" the nightly backups have fewer than half of the growers "+
			"of the one before, and none is removed: "+ShrunkenAdvice)
	}
	return list
}

const codesBlockedNote = "so many wrong codes were typed today that nobody can bring records to another phone " +
	"with a code until midnight UTC; rowbell move does it"

// codesBlocked reports whether the daily limit of wrong codes is reached.
func (s *Service) codesBlocked(ctx context.Context) (blocked bool, err error) {
	err = s.store.View(ctx, func(tx *store.Tx) error {
		blocked, err = tx.CodesBlocked(s.clock.Now().Unix())
		return err
	})
	return blocked, err
}
