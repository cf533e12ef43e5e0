package service

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	stdlog "log"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// ServeOptions are further arguments of Serve.
type ServeOptions struct {
	Env     func(string) string           // looks up an environment variable, for secrets
	Load    func() (config.Config, error) // reads the configuration with all that a start needs
	Hangups <-chan os.Signal              // each signal makes the service read its configuration anew; nil: none
	Out     io.Writer                     // gets the token of the gateway local, if Start makes one
	Log     zerolog.Logger
	Version string
	Replay  ReplayFunc
	New     bool // make new records even if something says that there were records

	// TestClock, if set, is the start of a clock that only POST /test/clock moves, for tests on a loopback address.
	// Bell, outbox and upkeep then run only when a test asks for it.
	TestClock time.Time

	Records func(*store.Options) // for tests, see Options
}

// stopWithin is how long a stop waits for calls that are being answered.
const stopWithin = 15 * time.Second

// EnvTwice names the environment variable that makes each write run twice, as PostgreSQL may ask for. Only tests set
// it, and it counts only with their clock.
const EnvTwice = "ROWBELL_TEST_TWICE"

// Serve runs the service on the address of the configuration until ctx ends. Then it answers the calls that have come
// in, ends the loops and closes the records.
func Serve(ctx context.Context, o ServeOptions) (err error) {
	log := o.Log
	o.setProgram()
	c, networks, secrets, err := o.load()
	if err != nil {
		return err
	}
	if len(c.Gateways) > 0 && o.Env(config.EnvToken)+o.Env(config.EnvPush) != "" {
		log.Warn().Msg(config.EnvToken + " and " + config.EnvPush + " belong to the gateway local, " +
			"which does not exist beside [gateways]: they are ignored")
	}
	clk, manual := o.clock()
	var cert *certificate
	if c.TLS.On() {
		if cert, err = newCertificate(c.TLS, log); err != nil {
			return err
		}
	}
	// The port is opened first, because nothing may fail after Start has made a token, which must be shown.
	listener, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("%w: give an address of this machine and a free port with --listen, such as %s",
			err, config.DefaultListen)
	}
	defer listener.Close()
	name := processName(c, listener.Addr())
	if store.OnServer(c.DB) {
		log = log.With().Str("process", name).Logger()
	}
	ctx, outdated := context.WithCancelCause(ctx)
	defer outdated(nil)
	s, err := Start(ctx, c, Options{Networks: networks, Clock: clk, Log: log, Version: o.Version, Process: name,
		Outdated: outdated, New: o.New, Load: o.load, Secrets: secrets, Replay: o.Replay, Records: o.Records,
		RunTwice: manual != nil && o.Env(EnvTwice) != ""})
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, s.Close()); err == nil {
			log.Info().Msg("stopped: everything that was answered is stored")
		}
	}()
	if s.token != "" {
		fmt.Fprintf(o.Out, "Token of the gateway %q, shown this once (%s sets another):\n%s\n",
			config.LocalGateway, config.EnvToken, s.token)
	}
	if err := s.printFirstLink(ctx, c, listener.Addr().String(), o.Out); err != nil {
		return err
	}
	handler := s.Handler()
	if manual != nil {
		handler = testClock(handler, manual, s)
	} else {
		s.Run(context.WithoutCancel(ctx))
	}
	defer s.reloadOn(ctx, o.Hangups)()
	toLog := !slices.ContainsFunc(networks, func(n profile.Profile) bool { return n.Push.URL != "" })
	log.Info().Str("version", o.Version).Str("listening", listener.Addr().String()).Bool("tls", cert != nil).
		Str("db", store.DisplayName(c.DB)).Bool("texts_to_log", toLog).Msg("rowbell is listening")
	return errors.Join(serveHTTP(ctx, listener, handler, s.EndStreams, cert, log), outdatedCause(ctx))
}

// setProgram sets what holds for the whole program.
func (o ServeOptions) setProgram() {
	stdlog.SetFlags(0)
	stdlog.SetOutput(&libraryLog{log: o.Log})
	oneMoreAtOnce(o.Env)
}

// outdatedCause returns why the service ended by itself; nil if it did not.
func outdatedCause(ctx context.Context) error {
	if cause := context.Cause(ctx); errors.Is(cause, store.ErrNewer) || errors.Is(cause, store.ErrMoved) {
		return cause
	}
	return nil
}

// clock returns the clock of the service, and the same as manual if only tests move it; else nil.
func (o ServeOptions) clock() (clk clock.Clock, manual *clock.Manual) {
	if o.TestClock.IsZero() {
		return SystemClock{}, nil
	}
	manual = clock.New(o.TestClock)
	return manual, manual
}

// load reads the configuration, its networks and their secrets.
func (o ServeOptions) load() (config.Config, []profile.Profile, *config.Secrets, error) {
	c, err := o.Load()
	if err != nil {
		return c, nil, nil, err
	}
	secrets := config.NewSecrets(o.Env)
	networks, err := c.NetworksWith(secrets)
	if err != nil || o.TestClock.IsZero() {
		return c, networks, secrets, err
	}
	for i := range networks {
		networks[i].Push.Rate = 0
	}
	// The default limits of calls are off: while the test clock stands still, a limit a minute that is reached would
	// refuse all calls.
	if c.Limits == config.DefaultLimits() {
		c.Limits = config.Limits{Loop: c.Limits.Loop}
	}
	return c, networks, secrets, nil
}

// reloadOn reads the configuration anew at each signal, until the returned function is called.
func (s *Service) reloadOn(ctx context.Context, hangups <-chan os.Signal) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangups:
				_, _ = s.Reload(ctx) // Reload logs its errors
			}
		}
	}()
	return func() { cancel(); <-ended }
}

// serveHTTP answers calls until ctx ends or the server fails. When it stops, it calls stopping, which must end answers
// that would not end by themselves. Without cert, it speaks plain HTTP.
func serveHTTP(ctx context.Context, l net.Listener, handler http.Handler, stopping func(), cert *certificate,
	log zerolog.Logger) error {
	server := gateway.NewServer(l.Addr().String(), handler)
	server.RegisterOnShutdown(stopping)
	server.ErrorLog = stdlog.New(serverLog{log}, "", 0)
	failed := make(chan error, 1)
	if cert != nil {
		server.TLSConfig = cert.config()
		go func() { failed <- server.ServeTLS(l, "", "") }()
	} else {
		go func() { failed <- server.Serve(l) }()
	}
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	log.Info().Msg("stopping: no more calls are accepted")
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
	defer cancel()
	return server.Shutdown(ctx)
}

// testClock adds POST /test/clock. Its response is sent when bell and outbox have done all work of the new time, and
// upkeep if it is asked for: the loop that runs it each hour does not run with such a clock.
func testClock(next http.Handler, m *clock.Manual, s *Service) http.Handler {
	s.stands = true
	mux := http.NewServeMux()
	mux.Handle("/", next)
	mux.Handle("POST /test/clock", gateway.Loopback(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		var move struct {
			Set     time.Time `json:"set"`
			Advance string    `json:"advance"`
			Upkeep  bool      `json:"upkeep"`
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
		// The work of a morning or of upkeep may take longer than the answer to a call may.
		slow := http.NewResponseController(rw)
		if err := errors.Join(slow.SetReadDeadline(time.Time{}), slow.SetWriteDeadline(time.Time{})); err != nil {
			problem.New(http.StatusInternalServerError, err.Error()).Write(rw)
			return
		}
		if !move.Set.IsZero() {
			m.Set(move.Set)
		}
		m.Advance(d)
		s.checkConfiguration(r.Context())
		err = s.Settle(r.Context())
		if err == nil && move.Upkeep {
			err = s.upkeep(r.Context())
		}
		if err != nil {
			problem.New(http.StatusServiceUnavailable, err.Error()).Write(rw)
			return
		}
		rw.WriteHeader(http.StatusNoContent)
	})))
	return mux
}

// libraryLog is the output of Go's standard log, to which libraries write. It logs that they wrote, but not the text:
// net/http, for example, writes what a network sends after the end of its answer, and that may contain a phone number
// or a secret. After the first line it logs at debug level, because a network could otherwise fill the log.
type libraryLog struct {
	log  zerolog.Logger
	told atomic.Bool
}

func (l *libraryLog) Write(b []byte) (int, error) {
	level := zerolog.WarnLevel
	if l.told.Swap(true) {
		level = zerolog.DebugLevel
	}
	message := "a library wrote to the log; its words are not shown, because they may be personal data"
	if strings.HasPrefix(string(b), "Unsolicited response") {
		message = "push: a network sent more than its answer; what came after the end is dropped and not shown"
	}
	l.log.WithLevel(level).Int("octets", len(b)).Msg(message)
	return len(b), nil
}
