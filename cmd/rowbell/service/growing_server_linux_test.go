package service

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bench"
	"rowbell/store"
	"rowbell/store/manygrowers"
)

// envGrowing tells the program of the tests to be a server of BenchmarkGrowing, in a process of its own: so its memory
// and what it writes are counted without the callers.
const envGrowing = "ROWBELL_TEST_GROWING"

func TestMain(m *testing.M) {
	text := os.Getenv(envGrowing)
	if text == "" {
		os.Exit(m.Run())
	}
	if err := serveGrowing(text); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// growingRole is what another process of BenchmarkGrowing does.
type growingRole struct {
	Kind    string // "service", "command", or "chi" and "records" of package bench
	DB      string
	Day     engine.Day
	Command []string // the program and its arguments, of the kind "command"
}

const growingToken = "river-stone"

// serveGrowing prints the addresses of the server and of its controls, and serves until its input ends.
func serveGrowing(text string) error {
	var role growingRole
	if err := json.Unmarshal([]byte(text), &role); err != nil {
		return err
	}
	if role.Kind == "command" {
		return runGrowing(role.Command)
	}
	at := &growingClock{Clock: bench.NewClock(time.Unix(manygrowers.At(role.Day), 0).UTC())}
	var h http.Handler
	controls := http.NewServeMux()
	end := func() error { return nil }
	switch role.Kind {
	case "chi":
		h = bench.Chi()
	case "records":
		handler, stop, err := bench.Records(role.DB, 512, at.Clock)
		if err != nil {
			return err
		}
		h, end = handler, func() error { stop(); return nil }
	default:
		oneMoreAtOnce(os.Getenv)
		s, err := startGrowing(role, at)
		if err != nil {
			return err
		}
		h, end = s.Handler(), s.Close
		s.control(controls, at)
	}
	for _, h := range []http.Handler{h, controls} {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return err
		}
		server := gateway.NewServer("", h)
		// Connections are idle while others are measured; 0 would be ReadTimeout.
		server.IdleTimeout, server.WriteTimeout = time.Hour, 0
		go server.Serve(l)
		fmt.Print(l.Addr(), " ")
	}
	fmt.Println()
	_, err := io.Copy(io.Discard, os.Stdin)
	return errors.Join(err, end())
}

// growingClock runs, and can be moved on.
type growingClock struct {
	bench.Clock
	ahead atomic.Int64
	hurry atomic.Bool // a large count makes no pauses
}

func (c *growingClock) Now() time.Time { return c.Clock.Now().Add(time.Duration(c.ahead.Load())) }

// Every implements clock.Clock. Only the pauses of a large count come; the benchmark asks for all else.
func (c *growingClock) Every(d time.Duration) (ticks <-chan time.Time, stop func()) {
	switch {
	case d != reportPause:
	case c.hurry.Load():
		always := make(chan time.Time)
		close(always)
		return always, func() {}
	default:
		return SystemClock{}.Every(d)
	}
	return c.Clock.Every(d)
}

// startGrowing starts the service with the configuration of a new installation, but without limits for numbers: few
// growers of the benchmark call more often than people would. The bell and the sender run; the bell has no ticks.
func startGrowing(role growingRole, at *growingClock) (*growingService, error) {
	c, err := config.Parse([]byte("[limits]\ncalls_a_minute = 0\nopen_sessions = 0\n" +
		"number = { calls_a_minute = 0, open_sessions = 0 }\n"))
	if err != nil {
		return nil, err
	}
	c.DB = role.DB
	secrets := map[string]string{config.EnvToken: growingToken}
	networks, err := c.Networks(func(name string) string { return secrets[name] })
	if err != nil {
		return nil, err
	}
	s, err := Start(context.Background(), c, Options{Networks: networks, Clock: at,
		Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel)})
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	s.ctx = ctx
	s.parts.Load().run(s)
	s.closes = append(s.closes, func() error { cancel(); s.running.Wait(); return nil })
	return &growingService{s, ctx}, nil
}

type growingService struct {
	*Service
	ctx context.Context
}

// did is what a control did: how many texts it wrote, or rows it removed, or octets it copied.
type did struct {
	N    int64
	Text string // the secret of a link
	Err  string
}

// link answers with the secret of the link for the first operator.
func (s *growingService) link(w http.ResponseWriter, r *http.Request) {
	var out did
	if err := s.store.InTx(r.Context(), func(tx *store.Tx) (err error) {
		out.Text, err = tx.FirstLink(s.clock.Now().Unix())
		return err
	}); err != nil {
		out.Err = err.Error()
	}
	_ = json.NewEncoder(w).Encode(out)
}

// ringAll rings until no plot is due. The bell of the service rings when it starts, and while two ring, one may end
// before all is done.
func (s *growingService) ringAll(ctx context.Context, at *growingClock) (texts int64, err error) {
	for due := int64(1); due > 0 && err == nil; {
		var n int
		if n, err = s.parts.Load().bell.Ring(ctx, at.Now()); err == nil {
			due, err = s.store.CountDuePlots(ctx, at.Now().Unix())
		}
		texts += int64(n)
	}
	return texts, err
}

// control serves what the loops of the service do, each at the request of the benchmark.
func (s *growingService) control(mux *http.ServeMux, at *growingClock) {
	handle := func(path string, do func(ctx context.Context, r *http.Request) (int64, error)) {
		mux.HandleFunc(path, func(w http.ResponseWriter, r *http.Request) {
			var out did
			var err error
			if out.N, err = do(s.ctx, r); err != nil {
				out.Err = err.Error()
			}
			_ = json.NewEncoder(w).Encode(out)
		})
	}
	handle("/attention", func(ctx context.Context, _ *http.Request) (int64, error) { return 0, s.attend(ctx) })
	mux.HandleFunc("/link", s.link)
	handle("/now", func(context.Context, *http.Request) (int64, error) { return at.Now().Unix(), nil })
	handle("/minute", func(context.Context, *http.Request) (int64, error) {
		at.ahead.Add(int64(time.Minute))
		return 0, nil
	})
	handle("/ring", func(ctx context.Context, _ *http.Request) (int64, error) { return s.ringAll(ctx, at) })
	handle("/learn", func(ctx context.Context, _ *http.Request) (int64, error) {
		_, err := s.learn(ctx)
		return 0, errors.Join(err, s.store.LookAtPlaces(ctx, at.Now().Unix()))
	})
	// What a place whose weather or rate has moved makes due; the bell would also look at it.
	handle("/spread", func(ctx context.Context, _ *http.Request) (int64, error) {
		return 0, s.store.LookAtPlaces(ctx, at.Now().Unix())
	})
	handle("/report", func(ctx context.Context, r *http.Request) (int64, error) {
		at.hurry.Store(r.FormValue("hurry") != "")
		if _, err := s.countReport(ctx); err != nil {
			return 0, err
		}
		var counted store.ReportCounted
		err := s.store.View(ctx, func(tx *store.Tx) (err error) {
			counted, _, err = tx.ReportCounted()
			return err
		})
		return counted.Rows, err
	})
	handle("/upkeep", func(ctx context.Context, _ *http.Request) (int64, error) { return 0, s.upkeep(ctx) })
	// A year without upkeep is pruned, for so many seconds.
	handle("/prune", func(ctx context.Context, r *http.Request) (int64, error) {
		seconds, err := strconv.Atoi(r.FormValue("seconds"))
		if err != nil {
			return 0, err
		}
		ctx, cancel := context.WithTimeout(ctx, time.Duration(seconds)*time.Second)
		defer cancel()
		p, err := s.store.Prune(ctx, at.Now().AddDate(1, 0, 0).Unix())
		if ctx.Err() != nil {
			err = nil
		}
		return p.Callbacks + p.Sessions + p.Messages + p.Seasons + p.Growers, err
	})
	handle("/backup", func(ctx context.Context, r *http.Request) (int64, error) {
		ticks := time.NewTicker(store.SyncEvery)
		defer ticks.Stop()
		made, err := store.Backup(ctx, s.parts.Load().conf.DB, r.FormValue("to"), store.BackupOptions{Ticks: ticks.C})
		return made.Size, err
	})
}

// growingProcess is a server in a process of its own, seen by the benchmark.
type growingProcess struct {
	*bench.Target
	b       testing.TB
	db      string
	cmd     *exec.Cmd
	input   io.Closer
	service string // base URL
	control string // base URL
	started time.Duration

	mu     sync.Mutex
	failed []error // calls that were not answered well
}

// failures returns how many calls were not answered well since it was last called, and the first error.
func (p *growingProcess) failures() (n int, first error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if n = len(p.failed); n > 0 {
		first = p.failed[0]
	}
	p.failed = nil
	return n, first
}

// serveOwn starts a server in a process of its own, with a copy of the records at from ("": none) in the folder.
func serveOwn(b testing.TB, kind, folder, from string, growers int, day engine.Day) *growingProcess {
	b.Helper()
	role := growingRole{Kind: kind, Day: day}
	if from != "" {
		role.DB = filepath.Join(folder, fmt.Sprintf("%s-%d.db", kind, growers))
		removeRecords(b, role.DB)
		ok(b, manygrowers.CopyFile(from, role.DB))
		if server := os.Getenv(envServer); server != "" && kind == "service" {
			_, err := store.Copy(context.Background(),
				store.CopyOptions{From: role.DB, To: server, Now: manygrowers.At(day)})
			if !errors.Is(err, store.ErrOtherRecords) { // those of the last run
				ok(b, err)
			}
			removeRecords(b, role.DB)
			role.DB = server
		}
	}
	text, err := json.Marshal(role)
	ok(b, err)
	p := &growingProcess{b: b, db: role.DB, cmd: exec.Command(os.Args[0])}
	// Tests collect garbage more rarely than the service.
	p.cmd.Env = append(os.Environ(), envGrowing+"="+string(text), "GOGC=100")
	p.cmd.Stderr = os.Stderr
	p.input, err = p.cmd.StdinPipe()
	ok(b, err)
	out, err := p.cmd.StdoutPipe()
	ok(b, err)
	began := time.Now()
	ok(b, p.cmd.Start())
	b.Cleanup(p.end)
	var service, control string
	if _, err := fmt.Fscan(out, &service, &control); err != nil {
		b.Fatalf("%s over %d growers does not start: %v", kind, growers, err)
	}
	p.started = time.Since(began)
	p.service, p.control = "http://"+service, "http://"+control
	p.Target = bench.At(b, service, bench.Growers{N: growers, Token: growingToken})
	p.Failed = func(err error) {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.failed = append(p.failed, err)
	}
	return p
}

// end stops the server and removes its records.
func (p *growingProcess) end() {
	if p.cmd == nil {
		return
	}
	p.input.Close()
	if err := p.cmd.Wait(); err != nil {
		p.b.Errorf("%s: %v", p.db, err)
	}
	p.cmd = nil
	if p.db != "" {
		removeRecords(p.b, p.db)
	}
}

// do asks for a control.
func (p *growingProcess) do(path string, values url.Values) (int64, error) {
	out, err := p.ask(path, values)
	return out.N, err
}

// say asks for a control that answers in words.
func (p *growingProcess) say(path string, values url.Values) (string, error) {
	out, err := p.ask(path, values)
	return out.Text, err
}

func (p *growingProcess) ask(path string, values url.Values) (out did, err error) {
	resp, err := http.PostForm(p.control+path, values)
	if err != nil {
		return out, err
	}
	defer resp.Body.Close()
	err = json.NewDecoder(resp.Body).Decode(&out)
	if err == nil && out.Err != "" {
		err = fmt.Errorf("%s: %s", path, out.Err)
	}
	return out, err
}

// forgetPeak makes peakMB begin anew (proc(5), clear_refs).
func (p *growingProcess) forgetPeak() {
	ok(p.b, os.WriteFile(fmt.Sprintf("/proc/%d/clear_refs", p.cmd.Process.Pid), []byte("5"), 0))
}

// peakMB returns the most memory that the server had (VmHWM).
func (p *growingProcess) peakMB() float64 {
	return procField(p.b, p.cmd.Process.Pid, "status", "VmHWM:") / 1000
}

// written returns how many octets the server has had written to a disk.
func (p *growingProcess) written() float64 {
	return procField(p.b, p.cmd.Process.Pid, "io", "write_bytes:")
}

// processor returns how much processor time the server has had, in seconds (proc(5), stat: a tick is 10 ms). Other load
// on the machine does not change it much.
func (p *growingProcess) processor() float64 {
	p.b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	ok(p.b, err)
	_, rest, _ := strings.Cut(string(text), ") ")
	fields := strings.Fields(rest) // from the third on
	user, err := strconv.Atoi(fields[14-3])
	ok(p.b, err)
	system, err := strconv.Atoi(fields[15-3])
	ok(p.b, err)
	return float64(user+system) / 100
}

func procField(b testing.TB, pid int, file, field string) (v float64) {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pid, file))
	ok(b, err)
	_, rest, _ := strings.Cut(string(text), field)
	if _, err := fmt.Sscan(rest, &v); err != nil {
		b.Fatal(err)
	}
	return v
}

func removeRecords(b testing.TB, path string) {
	b.Helper()
	names, err := filepath.Glob(path + "*")
	ok(b, err)
	for _, name := range names {
		ok(b, os.Remove(name))
	}
}
