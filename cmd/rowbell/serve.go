package main

import (
	"cmp"
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/doctor"
	"rowbell/cmd/rowbell/service"
)

// serveCmd is rowbell serve: it runs the service.
type serveCmd struct {
	Listen   string `help:"Address to listen on (default ${default_listen})." placeholder:"ADDR"`
	DB       string `name:"db" help:"Database file or address (default ${default_db})." placeholder:"DB"`
	Config   string `help:"Configuration (default ${default_config}, if there is one)." placeholder:"FILE"`
	New      bool   `help:"Begin without growers although there were records here."`
	LogLevel string `help:"debug, info, warn or error." placeholder:"LEVEL"`
}

// Run runs the service until the context ends. Flags replace settings of the file. With --test-clock, the clock stands
// still until POST /test/clock from this machine moves it.
func (c *serveCmd) Run(w *world) error {
	// Without a handler, a SIGHUP would end the program.
	hangups := make(chan os.Signal, 1)
	signal.Notify(hangups, syscall.SIGHUP)
	defer signal.Stop(hangups)
	conf, err := c.load(w.env)
	if err != nil {
		return err
	}
	level, err := zerolog.ParseLevel(conf.LogLevel)
	if err != nil {
		return err
	}
	return service.Serve(w.ctx, service.ServeOptions{Load: func() (config.Config, error) { return c.load(w.env) },
		Hangups: hangups, Env: w.env, Out: w.out, Log: w.log.Level(level), Version: buildVersion(),
		TestClock: w.testClock, New: c.New, Replay: w.replay})
}

// replay is doctor --sample for the desk.
func (w *world) replay(ctx context.Context, out io.Writer, c config.Config, network, from string,
	recorded []byte) error {
	return doctor.Replay(ctx, out, c, w.env,
		doctor.Recording{Network: network, Recorded: recorded, From: from, Now: w.now()})
}

// load reads the configuration, in which the flags replace settings.
func (c *serveCmd) load(env func(string) string) (config.Config, error) {
	conf, err := config.LoadToServe(c.Config, env)
	if err != nil {
		return conf, err
	}
	conf.Listen, conf.DB = cmp.Or(c.Listen, conf.Listen), cmp.Or(c.DB, conf.DB)
	conf.LogLevel = cmp.Or(c.LogLevel, conf.LogLevel)
	return conf, conf.Validate()
}
