package main

import (
	"cmp"
	"context"
	"io"
	"path/filepath"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
	"rowbell/store"
)

// inside is a service in the process of the test, which starts faster and whose records tests may have fail.
type inside struct {
	end   context.CancelFunc // has it stop
	ended chan error         // gets its error when it has stopped
}

// startInside starts the service in the process of the test. The function records changes how its records are opened.
// It returns false if the service does not start; the error is in ended.
func (p *process) startInside(at time.Time, records func(*store.Options)) (s inside, up bool) {
	p.t.Helper()
	file := p.configure(p.chosen())
	env := func(name string) string {
		return map[string]string{config.EnvToken: p.token, config.EnvPush: p.push.URL}[name]
	}
	load := func() (config.Config, error) {
		c, err := config.LoadToServe(file, env)
		c.Listen, c.DB = "127.0.0.1:0", filepath.Join(p.dir, cmp.Or(p.db, config.DefaultDB))
		return c, err
	}
	ctx, end := context.WithCancel(context.Background())
	s = inside{end: end, ended: make(chan error, 1)}
	out, log := io.Pipe()
	go func() {
		s.ended <- service.Serve(ctx, service.ServeOptions{Load: load, Env: env, Out: io.Discard, Log: zerolog.New(log),
			TestClock: at, Records: records})
		log.Close()
	}()
	return s, p.listens(out)
}

// stopped has the service stop, and returns its error.
func (s inside) stopped(p *process) error {
	s.end()
	err := <-s.ended
	<-p.drained
	return err
}
