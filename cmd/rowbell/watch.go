package main

import (
	"context"
	"path/filepath"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// disks are the file systems whose room is watched.
func disks(c config.Config) []meter.Disk {
	list := []meter.Disk{{Name: "records", Path: filepath.Dir(c.DB)}}
	if c.Backup != nil {
		list = append(list, meter.Disk{Name: "backups", Path: c.Backup.Folder})
	}
	return list
}

// newMeter counts what happens on these networks.
func (s *service) newMeter(c config.Config, networks ...profile.Profile) *meter.Meter {
	o := meter.Options{Clock: s.clock, Store: s.store, Version: buildVersion(), DB: c.DB, Disks: disks(c)}
	o.Spend, o.OperatorHold = s.spent, s.held
	for _, n := range networks {
		o.Gateways = append(o.Gateways, n.Name)
	}
	return meter.New(o)
}

// health is what /readyz looks at.
func (s *service) health(c config.Config) gateway.Health {
	h := gateway.Health{Disks: disks(c), QuietHour: c.QuietHour, Notes: s.notes}
	if s.nightly != nil {
		h.Backup = s.nightly.state
	}
	return h
}

// spent is what the texts of each network have cost.
func (s *service) spent() (rows []meter.SpendRow, err error) {
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

// held reports that an operator holds all texts. Where the records cannot be
// read it is not known, and /readyz says so.
func (s *service) held() bool {
	_, held := s.hold()
	return held
}

func (s *service) hold() (h store.SendingHold, held bool) {
	_ = s.store.View(context.Background(), func(tx *store.Tx) (err error) {
		h, held, err = tx.SendingHeld()
		return err
	})
	return h, held
}

// notes are what an operator should know, and no reason to take calls away
// from this machine. Anybody may read them, so nothing that was typed is there.
func (s *service) notes() []string {
	var list []string
	if h, held := s.hold(); held {
		list = append(list, "an operator holds all texts since "+time.Unix(h.Since, 0).UTC().Format("2 Jan 15:04 UTC")+"; rowbell sending shows why, and rowbell sending go lets them out")
	}
	for _, l := range s.push.Limits(s.clock.Now()) {
		list = append(list, "texts wait for the limit "+l+"; rowbell sending shows how many")
	}
	for _, name := range s.meter.OpenBreakers() {
		list = append(list, "the network "+name+" fails, and is left alone for some minutes: its texts wait or go another way; the log says why")
	}
	if rest, err := s.codesRest(context.Background()); err == nil && rest {
		list = append(list, codesRestNote)
	}
	return list
}

const codesRestNote = "so many wrong codes were typed today that nobody can bring records to another phone with a code until midnight UTC; rowbell move does it"

func (s *service) codesRest(ctx context.Context) (rest bool, err error) {
	err = s.store.View(ctx, func(tx *store.Tx) error {
		rest, err = tx.CodesRest(s.clock.Now().Unix())
		return err
	})
	return rest, err
}

// watchCodes says once a day that codes are of no use any more: somebody may
// be guessing them.
func (s *service) watchCodes(ctx context.Context) error {
	today := engine.DayOf(s.clock.Now(), time.UTC)
	if today == s.codesSaid {
		return nil
	}
	rest, err := s.codesRest(ctx)
	if rest {
		s.codesSaid = today
		s.log.Warn().Msg("codes: " + codesRestNote + "; somebody may be guessing: look which network the wrong codes come from")
	}
	return err
}
