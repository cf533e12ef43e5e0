package service

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

// LoadFunc reads the configuration with its networks and their secrets. Its error has all mistakes.
type LoadFunc func() (config.Config, []profile.Profile, *config.Secrets, error)

// refusal is a configuration that was not taken.
type refusal struct {
	at       time.Time
	mistakes int
}

// Reload reads the configuration anew. If it has mistakes, all of it is refused, the old one stays, and the error has
// the mistakes. Settings that need a restart keep their old values; Reload returns the names of those that differ.
func (s *Service) Reload(ctx context.Context) (restart []string, err error) {
	s.reloading.Lock()
	defer s.reloading.Unlock()
	if s.ctx != nil && s.ctx.Err() != nil {
		return nil, errors.New("the service is stopping")
	}
	defer s.countRefusals()
	restart, err = s.reload(ctx)
	if err != nil {
		n := 1
		var all config.Mistakes
		if errors.As(err, &all) {
			n = len(all)
		}
		s.refused.Store(&refusal{s.clock.Now(), n})
		s.log.Error().Strs("mistakes", strings.Split(err.Error(), "\n")).
			Msg("configuration: refused; the earlier one stays")
		return nil, err
	}
	s.refused.Store(nil)
	e := s.log.Info()
	if len(restart) > 0 {
		e = s.log.Warn().Strs("restart", restart)
	}
	e.Msg("configuration: read anew")
	return restart, nil
}

func (s *Service) reload(ctx context.Context) (restart []string, err error) {
	c, networks, secrets, err := s.load()
	if err != nil {
		return nil, err
	}
	old := s.parts.Load()
	if (len(c.Gateways) == 0) != (len(old.conf.Gateways) == 0) {
		return nil, errors.New("gateways: from the gateway local to [gateways], or back, goes by a restart")
	}
	restart = keepFixed(&c, old.conf)
	m, err := s.newMenu(c)
	if err != nil {
		return nil, err
	}
	if networks, _, err = s.withToken(ctx, networks); err != nil {
		return nil, err
	}
	p, err := s.newParts(c, networks, m)
	if err != nil {
		return nil, err
	}
	p.secrets = secrets
	// The routes of the texts that wait change with the places, before the new parts send.
	err = s.store.Reconfigure(ctx, push.RoutePrefixes(c.PushRoutes()), func(tx *store.Tx) error {
		return c.PutPlaces(tx, s.clock.Now().Unix())
	})
	if err != nil {
		p.close()
		return nil, err
	}
	s.replace(p)
	return restart, nil
}

// fixed lists the fields of config.Config that only Start reads. A change of one needs a restart.
var fixed = []string{"Listen", "Process", "DB", "LogLevel", "TLS", "Keep", "Backup"}

// keepFixed copies the settings that need a restart from the old configuration (before) to c, and returns the names of
// those that differed.
func keepFixed(c *config.Config, before config.Config) (differed []string) {
	now, was := reflect.ValueOf(c).Elem(), reflect.ValueOf(before)
	for _, name := range fixed {
		a, b := now.FieldByName(name), was.FieldByName(name)
		if !reflect.DeepEqual(a.Interface(), b.Interface()) {
			field, _ := now.Type().FieldByName(name)
			differed = append(differed, field.Tag.Get("toml"))
			a.Set(b)
		}
	}
	return differed
}

// replace replaces the parts by p. It cannot fail, and no call waits for it.
func (s *Service) replace(p *parts) {
	old := s.parts.Load()
	var names []string
	for _, n := range p.networks {
		names = append(names, n.Name)
	}
	s.meter.SetGateways(names)
	p.gateway.Continue(old.gateway)
	p.push.Continue(old.push)
	if p.desk != nil && old.desk != nil {
		p.desk.Continue(old.desk)
	}
	s.parts.Store(p)
	old.retire(s)
	if s.ctx != nil {
		p.run(s)
	}
}

// configurationCheckEvery is the time between two checks for changed secrets and for a request of rowbell reload.
const configurationCheckEvery = time.Second

// checkConfiguration does what a request of rowbell reload asks for, and takes secrets whose files have changed.
func (s *Service) checkConfiguration(ctx context.Context) {
	if s.load == nil {
		return
	}
	s.checking.Lock()
	defer s.checking.Unlock()
	s.checkSecretFiles()
	var asked string
	err := s.store.View(ctx, func(tx *store.Tx) (err error) {
		asked, err = tx.ReloadAsked()
		return err
	})
	if err != nil || asked == s.lastAsked { // /readyz tells of records that cannot be read
		return
	}
	s.lastAsked = asked
	done := store.ReloadDone{ID: asked}
	if done.Restart, err = s.Reload(ctx); err != nil {
		done.Wrong = err.Error()
	}
	err = s.store.InTx(ctx, func(tx *store.Tx) error { return tx.AnswerReload(s.process.number, done) })
	if err != nil {
		s.log.Warn().Str("why", store.Advice(err)).Msg("configuration: rowbell reload could not be answered")
	}
}

// answerEarlierReload answers the last request: the start itself has done what it asks for.
func (s *Service) answerEarlierReload(ctx context.Context) error {
	return s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		if s.lastAsked, err = tx.ReloadAsked(); err != nil {
			return err
		}
		return tx.AnswerReload(s.process.number, store.ReloadDone{ID: s.lastAsked})
	})
}

// checkSecretFiles takes the secrets whose files have changed, all at once.
func (s *Service) checkSecretFiles() {
	s.reloading.Lock()
	defer s.reloading.Unlock()
	old := s.parts.Load()
	if old.secrets == nil || s.ctx != nil && s.ctx.Err() != nil {
		return
	}
	secrets := old.secrets
	if next := secrets.Changed(); next != nil {
		if err := s.takeSecrets(old, next); err != nil {
			secrets.Reject(next, err)
		} else {
			secrets = next
			s.log.Info().Msg("secrets: read anew from their files")
		}
	}
	defer s.countRefusals()
	wrong := secrets.Wrong()
	if had := s.notTaken.Swap(&wrong); len(wrong) > 0 && (had == nil || !slices.Equal(*had, wrong)) {
		s.log.Error().Strs("secrets", wrong).Msg("secrets: files were not taken; the earlier secrets stay valid")
	}
}

// countRefusals tells the meter whether a configuration or a secret was refused.
func (s *Service) countRefusals() {
	wrong := s.notTaken.Load()
	s.meter.ConfigurationRefused(s.refused.Load() != nil || wrong != nil && len(*wrong) > 0)
}

// takeSecrets replaces the parts by parts whose networks have these secrets.
func (s *Service) takeSecrets(old *parts, secrets *config.Secrets) error {
	networks, err := old.conf.NetworksWith(secrets)
	if err != nil {
		return err
	}
	if networks, _, err = s.withToken(context.Background(), networks); err != nil {
		return err
	}
	for i := range networks {
		networks[i].Push.Rate = old.networks[i].Push.Rate // 0 with a test clock, see ServeOptions.load
	}
	p, err := s.newParts(old.conf, networks, old.menu)
	if err != nil {
		return err
	}
	p.secrets = secrets
	s.replace(p)
	return nil
}

// configurationNotes returns the notes of /readyz about a refused configuration and about files of secrets that were
// not taken. They quote nothing, because anybody may read them.
func (s *Service) configurationNotes() (list []string) {
	if r := s.refused.Load(); r != nil {
		list = append(list, fmt.Sprintf("the configuration was read anew at %s and refused, mistakes: %d; the one of "+
			"before stays; the log and rowbell doctor name them", r.at.Format("2 Jan 15:04 UTC"), r.mistakes))
	}
	if wrong := s.notTaken.Load(); wrong != nil && len(*wrong) > 0 {
		list = append(list, fmt.Sprintf("secrets whose files were not taken: %d; the earlier ones stay valid; "+
			"the log names them and says why", len(*wrong)))
	}
	return list
}
