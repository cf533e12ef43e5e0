package main

import (
	"cmp"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/service"
)

// serveCmd is rowbell serve: it runs the service.
type serveCmd struct {
	Listen   string `help:"Address to listen on (default ${default_listen})." placeholder:"ADDR"`
	DB       string `name:"db" help:"Database file (default ${default_db})." placeholder:"FILE"`
	Config   string `help:"Configuration (default ${default_config}, if there is one)." placeholder:"FILE"`
	New      bool   `help:"Begin without growers although there were records here."`
	LogLevel string `help:"debug, info, warn or error." placeholder:"LEVEL"`
}

// Run runs the service until the context ends. Flags replace settings of the file. With --test-clock, the clock stands
// still until POST /test/clock from this machine moves it.
func (c *serveCmd) Run(w *world) error {
	conf, err := config.LoadToServe(c.Config, w.env)
	if err != nil {
		return err
	}
	conf.Listen, conf.DB = cmp.Or(c.Listen, conf.Listen), cmp.Or(c.DB, conf.DB)
	conf.LogLevel = cmp.Or(c.LogLevel, conf.LogLevel)
	if err := conf.Validate(); err != nil {
		return err
	}
	level, err := zerolog.ParseLevel(conf.LogLevel)
	if err != nil {
		return err
	}
	return service.Serve(w.ctx, conf, service.ServeOptions{
		Env: w.env, Out: w.out, Log: w.log.Level(level), Version: buildVersion(), TestClock: w.testClock,
		New: c.New})
}
