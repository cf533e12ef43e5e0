package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	stdlog "log"
	"net"
	"net/http"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
)

// serveCmd is rowbell serve.
type serveCmd struct {
	Listen    string    `help:"Address to listen on (default ${default_listen})." placeholder:"ADDR"`
	DB        string    `name:"db" help:"Database file (default ${default_db})." placeholder:"FILE"`
	Config    string    `help:"Configuration (default ${default_config}, if there is one)." placeholder:"FILE"`
	LogLevel  string    `help:"debug, info, warn or error." placeholder:"LEVEL"`
	TestClock time.Time `hidden:"" help:"Stand still at this instant and be moved by POST /test/clock: for tests, on loopback only."`
}

// stopWithin bounds a graceful stop.
const stopWithin = 15 * time.Second

// Run serves until the context ends.
func (c *serveCmd) Run(w *world) (err error) {
	conf, err := config.Load(c.Config)
	if err != nil {
		return err
	}
	conf.Listen = cmp.Or(c.Listen, conf.Listen)
	conf.DB = cmp.Or(c.DB, conf.DB)
	conf.LogLevel = cmp.Or(c.LogLevel, conf.LogLevel)
	if err := conf.Validate(); err != nil {
		return err
	}
	level, err := zerolog.ParseLevel(conf.LogLevel)
	if err != nil {
		return err
	}
	log := w.log.Level(level)
	networks, err := conf.Networks(w.env)
	if err != nil {
		return err
	}
	if len(conf.Gateways) > 0 && w.env(config.EnvToken)+w.env(config.EnvPush) != "" {
		log.Warn().Msg(config.EnvToken + " and " + config.EnvPush + " are for the gateway that there is without [gateways]: they are not looked at")
	}
	var clk clock.Clock = systemClock{}
	var manual *clock.Manual
	if !c.TestClock.IsZero() {
		manual = clock.New(c.TestClock)
		clk = manual
		for i := range networks {
			networks[i].Push.Rate = 0
		}
		if conf.Limits == config.DefaultLimits() { // a minute of this clock may have no end
			conf.Limits = config.Limits{}
		}
	}
	var cert *certificate
	if conf.TLS.On() {
		if cert, err = newCertificate(conf.TLS, log); err != nil {
			return err
		}
	}
	// Before the records: a new token that nobody gets to see would be lost.
	listener, err := net.Listen("tcp", conf.Listen)
	if err != nil {
		return fmt.Errorf("%w: give an address of this machine and a free port with --listen, such as %s", err, config.DefaultListen)
	}
	defer listener.Close()
	s, err := startService(w.ctx, conf, networks, clk, log)
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, s.close()); err == nil {
			log.Info().Msg("stopped: all that was answered is kept")
		}
	}()
	if s.token != "" {
		fmt.Fprintf(w.out, "Token of the gateway %q, shown this once (%s sets another):\n%s\n", config.LocalGateway, config.EnvToken, s.token)
	}
	handler := s.handler
	if manual != nil {
		handler = testClock(handler, manual, s)
	} else {
		s.loops(context.WithoutCancel(w.ctx))
	}
	server := gateway.NewServer(conf.Listen, handler)
	server.ErrorLog = stdlog.New(serverLog{log}, "", 0)
	failed := make(chan error, 1)
	if cert != nil {
		server.TLSConfig = cert.config()
		go func() { failed <- server.ServeTLS(listener, "", "") }()
	} else {
		go func() { failed <- server.Serve(listener) }()
	}
	log.Info().Str("version", buildVersion()).Str("listening", listener.Addr().String()).Bool("tls", cert != nil).Str("db", conf.DB).Bool("texts_to_log", !slices.ContainsFunc(networks, func(n profile.Profile) bool { return n.Push.URL != "" })).Msg("rowbell serves")
	select {
	case err := <-failed:
		return err
	case <-w.ctx.Done():
	}
	log.Info().Msg("stopping: no more calls are taken")
	ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	return server.Shutdown(ctx)
}

// testClock lets a test move the clock over HTTP. Bell and outbox have done
// their work when it answers.
func testClock(next http.Handler, m *clock.Manual, s *service) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("/", next)
	mux.Handle("POST /test/clock", gateway.Loopback(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		var move struct {
			Set     time.Time `json:"set"`
			Advance string    `json:"advance"`
		}
		if err := json.NewDecoder(r.Body).Decode(&move); err != nil {
			problem.New(http.StatusBadRequest, err.Error()).Write(rw)
			return
		}
		d, err := time.ParseDuration(cmp.Or(move.Advance, "0s"))
		if err != nil {
			problem.New(http.StatusBadRequest, "This must be a time span such as 24h.").At("/advance").Write(rw)
			return
		}
		if !move.Set.IsZero() {
			m.Set(move.Set)
		}
		m.Advance(d)
		if err := s.settle(r.Context()); err != nil {
			problem.New(http.StatusServiceUnavailable, err.Error()).Write(rw)
			return
		}
		rw.WriteHeader(http.StatusNoContent)
	})))
	return mux
}
